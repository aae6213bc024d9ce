"""The live job at the dashboard: the day's record on a phone, hold points released and refused, may I cover here."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from functools import cache
from pathlib import Path

import pytest

import scenarios
import scheduler
from app.words import day, moment
from scheduler.ledger.attachments import media_of
from scheduler.ledger.day_events import NoteKept
from scheduler.ledger.events import Delayed, Finished, HoldReleased, InspectionPassed, PlanAccepted, Refused, Started
from scheduler.ledger.place import place_of
from scheduler.ledger.store import Journal
from scheduler.ledger.verify import verify
from scheduler.ledger.writing import write_down
from scheduler.plan import plan_read
from tests.browser.dashboard import Dashboard
from tests.journals import photo
from tests.kept_plans import kept_plan

SMALL = Path(scenarios.__file__).with_name("orchard-lane.yaml")
JOB = scheduler.load(SMALL).site.site.job_id
HOLD = "hold/conduit-look/pole-hedge/L0"
PNG = photo("PNG")


@pytest.fixture
def journal(journals: Path) -> Iterator[Path]:
    """Return where the small site's journal will lie; there is none before the test, and none after it."""
    path = journals / f"{JOB}.journal.db"
    _clear(path)
    yield path
    _clear(path)


def _clear(path: Path) -> None:
    for file in path.parent.glob(f"{path.name}*"):
        file.unlink()


def opened(path: Path) -> Journal:
    """Open the small site's journal as the program does."""
    return place_of(scheduler.load(SMALL).site, SMALL, str(path)).open()


def entries(path: Path):
    journal = opened(path)
    try:
        assert verify(journal) == []
        return journal.entries()
    finally:
        journal.close()


def as_work_begins(path: Path) -> None:
    """Keep a note at the moment of the first planned work: the practice clock stands at the last entry."""
    first = min(a.start for a in best_plan().activities if a.work_minutes)
    with closing(opened(path)) as record:
        record.append(NoteKept(words="Fair weather.", when=first), at=first, by="Ruth Amsel")


def be(dashboard: Dashboard, name: str) -> None:
    """Say who stands before the dashboard."""
    dashboard.pick("I am", name)


def press(dashboard: Dashboard, name: str, *, within: str = "stMain") -> None:
    dashboard.page.get_by_test_id(within).get_by_role("button", name=name).first.click()
    dashboard.settled()


def keep_despite(dashboard: Dashboard, words: str, why: str) -> None:
    """Keep what contradicts the record, after it is asked about with these words."""
    asked = dashboard.page.get_by_role("dialog")
    asked.get_by_text(words).first.wait_for()
    asked.get_by_label("Keep it all the same, because").fill(why)
    asked.get_by_role("button", name="Write it down all the same").click()
    asked.wait_for(state="detached")
    dashboard.settled()


def clean(dashboard: Dashboard) -> None:
    assert dashboard.exceptions() == 0
    assert dashboard.overflow_px() == 0
    assert not dashboard.faults


def test_work_is_reported_as_started_and_finished_in_two_taps_on_a_phone(visit, journal):
    as_work_begins(journal)
    phone = visit(width=390)
    phone.open("Record").planned()
    assert phone.page.get_by_role("button", name="Started").count() == 0
    phone.reads("Choose who you are to write")
    be(phone, "Ruth Amsel")
    first = phone.page.locator("[class*=st-key-work-]").first
    name = first.locator("strong").first.inner_text()
    first.get_by_role("button", name="Started").click()
    phone.reads("Written down")
    phone.reads("Going on (1)")
    phone.shown()
    phone.page.locator("[class*=st-key-work-]").first.get_by_role("button", name="Finished").click()
    phone.reads("Done today (1)")
    phone.shown()
    clean(phone)
    phone.photograph("record-390-light")
    _, one, two = entries(journal)
    activity = next(a for a in scheduler.load(SMALL).network.activities if a.name == name)
    assert isinstance(one.event, Started)
    assert isinstance(two.event, Finished)
    assert one.event.activity == two.event.activity == activity.id
    assert {one.by, two.by} == {"Ruth Amsel"}
    assert f"Finished {moment(two.event.when)}: {name}." in phone.text().replace("\u2060", "")


def test_a_slip_is_taken_back_and_stays_on_record(visit, journal):
    as_work_begins(journal)
    phone = visit(width=390)
    phone.open("Record").planned()
    be(phone, "Daniel Okoro")
    press(phone, "Started")
    phone.reads("Written down")
    press(phone, "Take it back")
    phone.reads("Entry 2 taken back.")
    phone.reads("(taken back)")
    assert [e.event.name for e in entries(journal)] == ["note_kept", "started", "corrected"]


def test_other_reports_say_what_is_missing_and_write_nothing(visit, journal):
    phone = visit(width=390)
    phone.open("Record").planned()
    be(phone, "Ruth Amsel")
    phone.pick("What happened?", "A stretch was covered")
    press(phone, "Write it down")
    phone.reads("Nothing was written down.")
    assert "Alignment: is not chosen." in phone.text()
    assert "From station: cannot be read" in phone.text()
    assert "To station: cannot be read" in phone.text()
    clean(phone)
    assert not journal.exists()


def test_cover_before_release_is_flagged_on_every_page_until_it_is_taken_back(visit, journal):
    phone = visit(width=390)
    phone.open("Record").planned()
    be(phone, "Ruth Amsel")
    phone.pick("What happened?", "A stretch was covered")
    phone.pick("Alignment", "Pole branch")
    phone.page.get_by_label("From station").fill("0+00")
    phone.page.get_by_label("To station").fill("0+28")
    press(phone, "Write it down")
    keep_despite(phone, "not released yet", "It is filled.")
    phone.reads("Covered before its release.")
    phone.photograph("covered-390-light")
    for page in ("Today", "Schedule", "Trench"):
        phone.go(page)
        phone.reads("Covered before its release.")
        clean(phone)
    phone.go("Record")
    press(phone, "Take it back")
    phone.page.get_by_text("Covered before its release.").first.wait_for(state="detached")
    phone.go("Today")
    assert "Covered before its release." not in phone.text()


def test_the_liaison_releases_a_hold_and_another_role_is_refused(visit, journal, tmp_path):
    file = tmp_path / "trench.png"
    file.write_bytes(PNG)
    case = scheduler.load(SMALL)
    at = case.network.clock.when(96 + 40)
    look = next(h.look for h in case.network.holds if h.id == HOLD)
    with closing(opened(journal)) as record:
        seen = InspectionPassed(looks=(look,), inspector="c-dunn", when=at)
        write_down(record, case.site, case.network, seen, at=at, by="Carol Dunn")
    desk = visit()
    desk.open("Visits and holds", hold=HOLD).planned()
    be(desk, "Ruth Amsel")
    desk.reads("may not release this hold point")
    desk.page.get_by_label("What was seen").fill("Looks fine to me.")
    press(desk, "Release this hold point")
    desk.reads("Refused, and the refusal is on record")
    desk.reads("only Carol Dunn (Sorrel County Trades Inspection), or Ben Ito may")
    desk.reads("1 refusal on record")
    desk.photograph("refused-1440-light")
    be(desk, "Carol Dunn")
    desk.page.get_by_label("What was seen").fill("30 in of cover, joints dry.")
    desk.page.get_by_test_id("stMain").locator("input[type=file]").set_input_files(file)
    desk.page.get_by_text("trench.png").first.wait_for()
    press(desk, "Release this hold point")
    desk.reads("Written down (entry 3).")
    desk.reads("Released (1)")
    desk.shown()
    clean(desk)
    desk.page.get_by_text("Kept with the release").first.wait_for()
    desk.photograph("released-1440-light")
    _, refused, released = entries(journal)
    assert isinstance(refused.event, Refused)
    assert (refused.event.who, refused.event.about) == ("r-amsel", HOLD)
    assert isinstance(released.event, HoldReleased)
    assert (released.event.person, released.event.role) == ("c-dunn", "inspector")
    kept = opened(journal).attachment(released.event.attachment)
    assert kept.content == PNG
    assert kept.media == media_of(PNG) == "image/png"


def test_a_file_that_is_no_photo_is_refused_and_nothing_is_released(visit, journal, tmp_path):
    trick = tmp_path / "photo.png"
    trick.write_bytes(b"<script>alert(1)</script>")
    desk = visit()
    desk.open("Visits and holds", hold=HOLD).planned()
    be(desk, "Carol Dunn")
    desk.page.get_by_label("What was seen").fill("30 in of cover.")
    desk.page.get_by_test_id("stMain").locator("input[type=file]").set_input_files(trick)
    desk.page.get_by_text("photo.png").first.wait_for()
    press(desk, "Release this hold point")
    desk.reads("Nothing was written down.")
    desk.reads("a photo (JPEG, PNG, WebP, HEIC) or a PDF")
    assert entries(journal) == ()


def test_may_i_cover_says_no_with_reasons_and_yes_once_they_are_cleared(visit, journal):
    case = scheduler.load(SMALL)
    phone = visit(width=390)
    phone.open("Visits and holds", **{"cover-at": "pole-hedge"}).planned()
    phone.reads("No.")
    said = phone.text().replace("\u2060", "")
    hold = next(h for h in case.network.holds if h.id == HOLD)
    assert f"{hold.name}: not released yet." in said
    assert "Cleared by Carol Dunn (Sorrel County Trades Inspection), or Ben Ito, at the earliest" in said
    clean(phone)
    phone.photograph("may-i-cover-no-390-light")
    clear_for_cover(journal, case)
    phone.page.reload()
    phone.shown()
    phone.reads("Yes. Nothing on record stands against covering Pole branch 0+00 to 0+28")
    clean(phone)
    phone.photograph("may-i-cover-yes-390-light")


def clear_for_cover(path: Path, case) -> None:
    """Report all work under the cover of one reach as done, every hold point of it as passed and released."""
    at = case.network.clock.when(96 * 3)
    people = {p.id: p for p in case.site.people}
    under = [a for a in case.network.activities if a.reach == "pole-hedge" or a.id.startswith("line/service/prove")]
    done = [
        Finished(activity=a.id, when=at) for a in under if a.kind.takes_time and not (a.kind.is_look or a.kind.hides)
    ]
    with closing(opened(path)) as journal:
        for event in done:
            write_down(journal, case.site, case.network, event, at=at, by="Ruth Amsel")
        for hold in case.network.holds:
            if "pole-hedge" not in hold.reaches:
                continue
            person = people[hold.released_by]
            passed = InspectionPassed(looks=(hold.look,), inspector=person.id, when=at)
            release = HoldReleased(hold=hold.id, person=person.id, role=person.role, evidence="Seen.", when=at)
            for event in (passed, release):
                write_down(journal, case.site, case.network, event, at=at, by=person.name)


def clean_in_light_and_dark(dashboard: Dashboard, picture: str) -> None:
    for scheme in dashboard.in_light_and_dark():
        clean(dashboard)
        dashboard.photograph(f"{picture}-{scheme}")


@cache
def best_plan():
    return kept_plan(scheduler.load(SMALL)).plan


def worked_until(path: Path, plan, day: int, hour: int) -> None:
    """Report all that a plan holds up to an hour of a day of its first month."""
    now = plan.data_date.replace(day=day, hour=hour)
    journal = opened(path)
    for activity in plan.activities:
        if activity.start < now and activity.kind != "inspect":
            journal.append(Started(activity=activity.id, when=activity.start), at=now, by="Ruth Amsel")
            if activity.finish <= now:
                journal.append(Finished(activity=activity.id, when=activity.finish), at=now, by="Ruth Amsel")
    people = {p.id: p for p in scheduler.load(SMALL).site.people}
    looks = {h.id: h.look for h in scheduler.load(SMALL).network.holds}
    for hold in plan.holds:
        if (when := hold.planned_release) <= now:
            person = people[hold.released_by]
            passed = InspectionPassed(looks=(looks[hold.id],), inspector=person.id, when=when)
            release = HoldReleased(hold=hold.id, person=person.id, role=person.role, evidence="Seen.", when=when)
            journal.append(passed, at=now, by="Ruth Amsel")
            journal.append(release, at=now, by=person.name)
    journal.close()


def look_ahead(dashboard: Dashboard, since: str) -> str:
    """Return what the first page says of the days from one on."""
    dashboard.open("Today", **{"from": since})
    for folded in ("who is where", "The next two weeks"):
        dashboard.unfold(folded)
    return dashboard.text().replace("\u2060", "")


def type_time(dashboard: Dashboard, label: str, digits: str) -> None:
    """Type a date and time, year first, into its field."""
    dashboard.page.get_by_role("group", name=label).get_by_role("spinbutton").first.click()
    dashboard.page.keyboard.type(digits)
    dashboard.page.keyboard.press("Tab")
    dashboard.settled()


def test_a_delay_is_reported_on_a_phone_alternatives_compared_and_one_accepted(visit, journal):
    worked_until(journal, best_plan(), 2, 12)
    phone = visit(width=390)
    phone.open().planned()
    assert "Plumber: Lay" in look_ahead(phone, "2027-03-03").split("Monday 8 March")[0]
    phone.open("Delays")
    be(phone, "Peter Strand")
    phone.pick("Who cannot come?", "Plumber")
    type_time(phone, "They cannot come before", "202703080700")
    phone.page.get_by_label("Why, in their words").fill("Their pipe is late.")
    press(phone, "Write it down and see what can be done")
    phone.reads("Working out the alternatives")
    phone.photograph("delay-busy-390-light")
    phone.reads("Shown below")
    phone.shown()
    said = phone.text()
    assert "Plumber cannot come before Mon 8 Mar 07:00 for anything of theirs. Their pipe is late." in said
    for words in ("Finish: ", "Calls to make", "Before and now", "What moves", "Least cost"):
        assert words.casefold() in said.casefold(), words
    clean(phone)
    phone.photograph("delay-390-light")
    others = phone.page.get_by_role("button", name="Look at this")
    if others.count():
        others.first.click()
        phone.settled()
        clean(phone)
    phone.page.get_by_label("Why this one, for the record").fill("Cheapest that holds.")
    press(phone, "Work by this plan")
    phone.reads("The plan accepted as of Tue 2 Mar 12:00. Cheapest that holds.")
    clean(phone)
    accepted = entries(journal)[-1]
    assert isinstance(accepted.event, PlanAccepted)
    assert accepted.by == "Peter Strand"
    plan = plan_read(opened(journal).attachment(accepted.event.plan).content)
    plumber = [a for a in plan.activities if a.trade == "plumber" and a.start > plan.data_date]
    assert min(a.start for a in plumber) >= plan.data_date.replace(day=8, hour=7)
    phone.go("Today")
    phone.reads(f"Will finish {day(plan.finish)}, {plan.finish:%H:%M}")
    phone.shown()
    clean(phone)
    phone.photograph("today-after-acceptance-390-light")
    first = min(plumber, key=lambda a: a.start)
    assert first.name in look_ahead(phone, "2027-03-08")
    assert "Plumber: Lay" not in look_ahead(phone, "2027-03-03").split("Monday 8 March")[0]
    for page in ("Schedule", "Critical path", "Visits and holds", "Trench", "Record"):
        phone.go(page)
        phone.reads(moment(plan.finish))
        clean(phone)
    desk = visit()
    desk.open("Today")
    desk.reads(f"Will finish {day(plan.finish)}, {plan.finish:%H:%M}")


@pytest.mark.parametrize("width", [pytest.param(1440, marks=pytest.mark.benchmark), 390])
def test_pages_of_a_job_under_way_fit_their_screens(visit, journal, width):
    worked_until(journal, best_plan(), 8, 10)
    late = Delayed(
        who="Electrician", not_before=best_plan().data_date.replace(day=11, hour=7), why="Another job runs on."
    )
    opened(journal).append(late, at=best_plan().data_date.replace(day=8, hour=10), by="Ruth Amsel")
    board = visit(width=width)
    board.open("Record").planned()
    be(board, "Ruth Amsel")
    clean_in_light_and_dark(board, f"record-under-way-{width}")
    board.go("Visits and holds")
    clean_in_light_and_dark(board, f"may-i-cover-{width}")
    board.page.get_by_role("radio", name="Hold points").click()
    board.reads("Trench open for it")
    board.shown()
    clean_in_light_and_dark(board, f"hold-points-{width}")
    board.go("Delays")
    press(board, "See what can be done")
    board.reads("Shown below")
    board.shown()
    clean_in_light_and_dark(board, f"delays-{width}")
    assert "Electrician cannot come before Thu 11 Mar 07:00 for anything of theirs." in board.text()
