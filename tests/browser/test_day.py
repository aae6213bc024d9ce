"""A day's record on a phone: what contradicts the record is asked once, and a day is written down in one go."""

from __future__ import annotations

import re
from contextlib import closing

import pytest

import scheduler
from scheduler.ledger.day_events import NoteKept, TrenchInspected
from scheduler.ledger.events import Finished, Started
from tests.browser.test_live import (
    SMALL,
    be,
    best_plan,
    clean,
    entries,
    journal,
    keep_despite,
    opened,
    press,
    worked_until,
)

__all__ = ["journal"]
THUMB_PX = 44


def too_small(dashboard) -> list[str]:
    """Return the buttons and boxes of the page itself that are lower than a thumb."""
    found: list[str] = (
        dashboard.page.get_by_test_id("stMain")
        .locator(".stButton button, .stFormSubmitButton button, .stPopover button, .stCheckbox label")
        .evaluate_all(
            "all => all.filter(b => b.offsetParent && b.getBoundingClientRect().height < %s)"
            ".map(b => b.innerText + ' ' + b.getBoundingClientRect().height)" % (THUMB_PX - 0.5)
        )
    )
    return found


@pytest.mark.parametrize(("kind", "tap", "words"), [
    ("test", "Finished", "is not on record as finished by then."),
    ("shade", "Started", "was not released by then"),
])  # fmt: skip
def test_what_contradicts_the_record_is_asked_once_and_marked(visit, journal, kind, tap, words):
    plan = best_plan()
    gates = {g for h in scheduler.load(SMALL).network.holds for g in h.gates}
    activity = min(
        (a for a in plan.activities if a.kind == kind and (kind == "test" or a.id in gates)), key=lambda a: a.start
    )
    with closing(opened(journal)) as record:  # the practice clock stands at the last entry
        record.append(NoteKept(words="Fair weather.", when=activity.start), at=activity.start, by="Ruth Amsel")
    phone = visit(width=390)
    phone.open("Record").planned()
    be(phone, "Ruth Amsel")
    phone.pick("Whose work", next(t.name for t in scheduler.load(SMALL).site.trades if t.id == activity.trade))
    card = phone.page.locator("[class*=st-key-work-]", has_text=activity.name).first
    card.get_by_role("button", name=tap).click()
    phone.page.get_by_role("dialog").wait_for()
    phone.photograph(f"asked-once-{kind}-390")
    keep_despite(phone, words, "The foreman says so.")
    phone.reads("Kept although it contradicts the record")
    clean(phone)
    event = entries(journal)[-1].event
    assert isinstance(event, Started | Finished)
    assert (event.activity, event.despite) == (activity.id, "The foreman says so.")


def test_a_day_is_written_in_one_go_and_the_trench_inspected(visit, journal):
    plan = best_plan()
    worked_until(journal, plan, 2, 16)
    now = plan.data_date.replace(day=4, hour=16)
    with closing(opened(journal)) as record:
        record.append(NoteKept(words="Fair weather.", when=now), at=now, by="Ruth Amsel")
    before = len(entries(journal))
    phone = visit(width=390)
    phone.open("Record").planned()
    be(phone, "Daniel Okoro")
    clean(phone)
    assert too_small(phone) == []
    phone.page.get_by_text("All as planned until now, except").click()
    phone.reads("Still to be said")
    phone.settled()
    phone.photograph("as-planned-390")
    assert too_small(phone) == []
    clean(phone)
    phone.page.get_by_role("button", name=re.compile(r"Write \d+ entries down")).click()
    phone.reads("Written down in one go")
    written = entries(journal)[before:]
    assert len(written) > 2
    phone.pick("What happened?", "The open trench was inspected")
    press(phone, "Write it down")
    phone.reads("Open trench inspected")
    phone.photograph("trench-inspected-390")
    clean(phone)
    last = entries(journal)[-1].event
    assert isinstance(last, TrenchInspected)
    assert (last.who, last.safe) == ("d-okoro", True)
