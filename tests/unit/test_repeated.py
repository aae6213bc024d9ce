"""What counts as the same thing said twice, and what may be said again: no act is taken for a second press."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

import scheduler
from scheduler import BadInput, bundled_sites
from scheduler.ledger.day_events import NoteKept
from scheduler.ledger.events import Delayed, Event, VisitBooked, VisitCancelled, VisitConfirmed
from scheduler.ledger.repeated import said_already
from scheduler.ledger.store import Entry, Journal
from scheduler.ledger.writing import TRIES, write_once
from tests.journals import POSTGRES, new_journal

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


KINDS = ["sqlite", pytest.param("postgresql", marks=pytest.mark.skipif(not POSTGRES, reason="no PostgreSQL named"))]


class TwoServers:
    """Two programs that write into one record; the second writes while the first has judged and not yet written."""

    def __init__(self, kind: str, folder: Path) -> None:
        self.case = scheduler.load(bundled_sites()["orchard-lane"])
        self.here = new_journal(kind, folder)
        self.there = Journal.open(POSTGRES if kind == "postgresql" else folder / "site.journal.db", site=self.here.site)
        self.begin = self.case.network.clock.when(0)
        self.judged: list[int] = []
        self.allowed: list[object] = []

    def meanwhile(self, *happened: Event) -> None:
        """Have the other one write these, one after each of the first times that this one has read the record."""
        waiting, plain = list(happened), self.here.entries

        def read_then_other(**how: object) -> tuple[Entry, ...]:
            found = plain(**how)  # type: ignore[arg-type]
            self.judged.append(len(found))
            if waiting:
                self.there.append(waiting.pop(0), at=self.begin, by="Ruth Amsel")
            return found

        self.here.entries = read_then_other  # type: ignore[method-assign]
        self.here.allow = self.allowed.append

    def write(self, happened: Event) -> tuple[Entry, bool]:
        return write_once(self.here, self.case.site, self.case.network, happened, at=self.begin, by="Ruth Amsel")


@pytest.fixture(params=KINDS)
def two(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[TwoServers]:
    both = TwoServers(request.param, tmp_path)
    with both.here, both.there:
        yield both


def test_the_same_press_that_comes_to_two_servers_at_once_is_written_once(two: TwoServers) -> None:
    note = NoteKept(when=two.begin, words="Seen.")
    two.meanwhile(note)
    entry, before = two.write(note)
    assert (entry.number, before) == (1, True)
    assert len(two.there.entries()) == 1
    assert not two.allowed


def test_what_was_judged_without_a_stop_is_judged_again_before_it_is_written(two: TwoServers) -> None:
    two.meanwhile(NoteKept(when=two.begin, words="One."), NoteKept(when=two.begin, words="Two."))
    entry, before = two.write(NoteKept(when=two.begin, words="Three."))
    assert (entry.number, before) == (3, False)
    assert two.judged == [0, 1, 2], "each time by all that stood there"
    assert len(two.allowed) == 1, "a code that was typed is used up by what is written, not by a try"


def test_whoever_never_gets_a_turn_is_told_that_nothing_was_written(two: TwoServers) -> None:
    others = [NoteKept(when=two.begin, words=f"No. {n}") for n in range(TRIES)]
    two.meanwhile(*others)
    with pytest.raises(BadInput, match="later entries by now"):
        two.write(NoteKept(when=two.begin, words="Mine."))
    assert [e.event for e in two.there.entries()] == others
