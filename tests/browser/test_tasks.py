"""What people come to do, done in the browser by a hand whose acts are counted: each tap, field and choice is one."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from scheduler.case import bundled_sites
from scheduler.ledger import write_down
from scheduler.ledger.day_events import NoteKept
from scheduler.ledger.events import Delayed, Finished, HoldReleased, InspectionFailed, PlanAccepted, Started
from scheduler.situation import calls_of, phone_calls
from tests.browser.dashboard import Dashboard
from tests.browser.hand import Hand
from tests.browser.test_first_screen import _clear
from tests.browser.test_first_screen import busy as busy
from tests.browser.test_live import HOLD, best_plan, entries, opened, type_time, worked_until
from tests.browser.test_live import journal as journal
from tests.happenings import as_planned
from tests.journals import photo
from tests.site_week import SiteWeek

TO_CALL, TO_RECORD, TO_RELEASE, TO_ACCEPT, TO_THE_RULE, TO_TONIGHT = 2, 10, 4, 8, 2, 0
"""The most acts a task may take."""
A_DAY = 12
"""Pieces of a day's work."""


def phone_of(visit) -> Dashboard:
    return visit(width=390)


def keep_note(week: SiteWeek, when) -> None:
    """Keep a note at a moment: the practice clock stands at the last entry."""
    with closing(week.place.open()) as journal:
        journal.append(NoteKept(words="Still fair.", when=when), at=when, by="Ruth Amsel")


def test_whom_to_call_is_found_and_dialled(visit, busy) -> None:
    week, _ = busy
    _, planned = week.known()
    now = next(
        on
        for k in range(200)
        if (on := week.known()[0][-1].at.astimezone(planned.plan.data_date.tzinfo) + timedelta(days=k))
        and any(c.on <= on.date() and c.due[0].phone for c in phone_calls(calls_of(week.situation(on)), on.date()))
    )
    keep_note(week, now)
    phone = phone_of(visit)
    phone.open(site=week.path.stem).planned()
    hand = Hand(phone)
    hand.tap(hand.main.get_by_role("button", name="Call today"))
    dial = phone.page.get_by_role("link", name="Dial").first
    assert re.fullmatch(r"tel:[+0-9]{7,}", dial.get_attribute("href"))
    dial.focus()
    hand.acts.append("tap the number, which dials it")
    assert len(hand) <= TO_CALL, hand.acts


@pytest.fixture
def full_day(journals: Path) -> Iterator[tuple[SiteWeek, datetime]]:
    """Return the street, its record kept as planned until the morning of a full day, and the evening of that day."""
    week = SiteWeek(bundled_sites()["lantern-street"], str(journals))
    file = journals / f"{week.case.site.site.job_id}.journal.db"
    _clear(file)
    tasks = Counter(a.start.date() for a in week.first_plan if a.work_minutes and not a.kind.is_look)
    on = max(sorted(tasks), key=lambda day: tasks[day])  # what waits for looks is not assumed
    morning = next(a.start for a in week.first_plan if a.start.date() == on).replace(hour=6, minute=0)
    evening, (_, planned) = morning.replace(hour=19), week.known()
    with closing(week.place.open()) as record:
        for at, event in as_planned(week.case, planned.plan, morning):
            write_down(record, week.case.site, week.case.network, event, at=at, by="Ruth Amsel")
        record.append(NoteKept(words="Fair weather.", when=evening), at=evening, by="Ruth Amsel")
    yield week, evening
    _clear(file)


def test_a_day_of_work_with_one_failure_is_recorded(visit, full_day) -> None:
    week, evening = full_day
    look = next(a for a in week.first_plan if a.kind.is_look and a.start.date() == evening.date())
    before = len(week.known()[0])
    phone = phone_of(visit)
    phone.open("Record", site=week.path.stem).planned()
    hand = Hand(phone)
    hand.choose("I am", next(p.name for p in week.case.site.people if p.role == "general_contractor"))
    hand.tap(phone.page.get_by_text("All as planned until now, except"))
    pieces = phone.page.locator("[class*=st-key-as-planned-] label").count()
    assert pieces >= A_DAY
    hand.tap(phone.page.get_by_role("button", name=re.compile(r"Write \d+ (entry|entries) down")))
    phone.reads(re.compile("Written down"))
    phone.settled()
    written = week.known()[0][before:]
    assert {type(e.event) for e in written} <= {Started, Finished}
    assert len({e.event.activity for e in written}) >= A_DAY
    card = phone.page.locator(f".st-key-work-{re.sub('[^A-Za-z0-9_-]', '-', look.id)}")
    hand.tap(card.get_by_role("button", name="Inspected"))
    form = phone.page.get_by_test_id("stPopoverBody")
    hand.tap(form.get_by_text("Failed", exact=True))
    hand.acts.append("fill what was found")
    form.get_by_label("Conditions, faults or notes").fill("A joint leaks.")
    hand.acts.append("fill the hours to fix it")
    form.get_by_label("Working hours to fix faults").fill("2")
    hand.tap(form.get_by_role("button", name="Write it down"))
    phone.reads(re.compile("Written down"))
    failed = [e.event for e in week.known()[0][before:] if isinstance(e.event, InspectionFailed)]
    assert [e.looks for e in failed] == [(look.id,)]
    assert len(hand) <= TO_RECORD, hand.acts


def test_a_hold_is_released_with_a_photo_from_its_tag(visit, journal, tmp_path: Path) -> None:
    worked_until(journal, best_plan(), 2, 7)
    file = tmp_path / "trench.png"
    file.write_bytes(photo("PNG"))
    phone = phone_of(visit)
    phone.open("Visits and holds", stake=HOLD).shown()
    phone.reads("Looked up at")
    hand = Hand(phone)
    hand.choose("I am", "Carol Dunn")
    hand.fill("What was seen", "30 in of cover, joints dry.")
    hand.acts.append("give the photo")
    hand.main.locator("input[type=file]").set_input_files(file)
    phone.page.get_by_text("trench.png").first.wait_for()
    hand.press("Release this hold point")
    phone.reads("Released")
    released = entries(journal)[-1].event
    assert isinstance(released, HoldReleased)
    assert (released.hold, released.person) == (HOLD, "c-dunn")
    assert opened(journal).attachment(released.attachment).content == photo("PNG")
    assert len(hand) <= TO_RELEASE, hand.acts


@pytest.mark.benchmark  # test_live accepts a plan after a delay in every run
def test_what_a_delay_moves_is_seen_and_accepted(visit, journal) -> None:
    worked_until(journal, best_plan(), 2, 12)
    phone = phone_of(visit)
    phone.open("Delays").planned()
    hand = Hand(phone)
    hand.choose("I am", "Peter Strand")
    hand.choose("Who cannot come?", "Plumber")
    hand.acts.append("fill from when")
    type_time(phone, "They cannot come before", "202703040700")
    hand.acts.append("fill why")
    hand.main.get_by_label("Why, in their words").fill("Two days late.")
    write = hand.main.get_by_role("button", name="Write it down and see what can be done", exact=True)
    hand.acts.append("tap it twice, as some do with everything")
    write.dblclick()
    phone.settled()
    phone.page.get_by_text("Shown below").first.wait_for(timeout=240_000)
    phone.shown()
    assert "What moves" in phone.text()
    assert len([e for e in entries(journal) if isinstance(e.event, Delayed)]) == 1
    hand.fill("Why this one, for the record", "It holds.")
    hand.press("Work by this plan")
    phone.reads("It holds.")
    assert isinstance(entries(journal)[-1].event, PlanAccepted)
    assert len(hand) <= TO_ACCEPT, hand.acts


def test_the_rule_that_governs_a_section_is_found(visit) -> None:
    board = visit()
    board.open().planned()
    hand = Hand(board)
    hand.tap(board.page.get_by_test_id("stHeader").get_by_role("link", name="Trench", exact=True))
    board.page.get_by_role("heading", name="Trench", exact=True).wait_for()
    board.shown()
    hand.choose("Reach", "Pole branch 0+00-0+28")
    said = board.text()
    assert re.search(r"Width [\d.]+ in: .{10,}", said)
    assert re.search(r"Depth [\d.]+ in: .{10,}", said)
    assert len(hand) <= TO_THE_RULE, hand.acts


def test_what_stands_open_tonight_is_seen_at_once(visit, busy) -> None:
    week, _ = busy
    phone = phone_of(visit)
    phone.open(site=week.path.stem).planned()
    hand = Hand(phone)
    tile = phone.page.locator(".st-key-tiles button").filter(has_text=re.compile("Open (now|tonight)"))
    when = week.known()[0][-1].at
    feet = week.situation(when).open_tonight_ft
    assert f"{feet:.0f} ft" in tile.inner_text()
    assert tile.bounding_box()["y"] < 844
    assert len(hand) == TO_TONIGHT
