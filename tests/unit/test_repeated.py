"""What counts as the same thing said twice, and what may be said again: no act is taken for a second press."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from scheduler.ledger.events import Delayed, Event, VisitBooked, VisitCancelled, VisitConfirmed
from scheduler.ledger.repeated import said_already
from scheduler.ledger.store import Entry

BEGIN = datetime(2027, 3, 1, 8, tzinfo=UTC)
BOOKED = VisitBooked(visit="v", of="trench-look", start=BEGIN + timedelta(days=2))
LATER = VisitBooked(visit="v", of="trench-look", start=BEGIN + timedelta(days=3))
OTHER = VisitBooked(visit="w", of="cover-look", start=BEGIN + timedelta(days=2))
LATE, LESS_LATE = (Delayed(who="plumber", not_before=BEGIN + timedelta(days=days)) for days in (4, 2))


def said(*before: tuple[str, Event], again: Event) -> bool:
    entries = [Entry(n, BEGIN + timedelta(minutes=n), by, e, "", "") for n, (by, e) in enumerate(before, 1)]
    return said_already(entries, again, at=BEGIN + timedelta(minutes=9), by="Ruth Amsel") is not None


@pytest.mark.parametrize(
    ("between", "again"),
    [
        (("Ruth Amsel", VisitCancelled(visit="v")), BOOKED),
        (("Peter Strand", VisitCancelled(visit="v")), BOOKED),
        (("Peter Strand", LATER), BOOKED),
        (("Peter Strand", LATER), VisitConfirmed(visit="v")),
        (("Peter Strand", LESS_LATE), LATE),
    ],
)
def test_what_others_changed_meanwhile_may_be_said_again(between: tuple[str, Event], again: Event) -> None:
    assert said(("Ruth Amsel", again), again=again), "pressed twice"
    assert not said(("Ruth Amsel", again), between, again=again)


def test_what_was_said_of_something_else_meanwhile_makes_no_difference() -> None:
    assert said(("Ruth Amsel", BOOKED), ("Peter Strand", OTHER), again=BOOKED)
    assert not said(("Peter Strand", BOOKED), again=BOOKED), "another person says it too"
