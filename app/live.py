"""The live job at the dashboard: the journal of the open site, who stands before it, and the moment it is about.

A real job is looked at now, or as it was known at an earlier moment. A site marked as invented is practised
on: its clock stands where it was set, and entries are written down as of then.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Hashable, Sequence
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

import streamlit as st

from app.once import once
from app.reading import forgetting_when_written, read
from app.served.served_roles import EVERYBODYS, may, own_names
from app.served.visitors import guarded, served, visitor
from scheduler import BadInput, Case, Finding, Severity
from scheduler.ledger import (
    Entry,
    Event,
    HoldPoint,
    JournalPlace,
    State,
    contradicted,
    covered_unreleased,
    fold,
    head_of,
    hold_points,
    place_of,
    said_already,
    state_at,
    write_all,
    write_once,
)
from scheduler.site import Person
from scheduler.units import tell_in

FIRST_HOUR = timedelta(hours=7)
"""When the clock of an invented job starts on its first day."""


SHARED_S = 10.0
"""How long what is worked out of a record that did not change is true enough: pages turn grey after as long."""


@dataclass(frozen=True)
class Worked:
    """What follows from the entries of a record at a moment.

    Its fields take no part in comparing: `_worked` looks it up by which record it is of, how far that went, and when.
    """

    case: Case = field(compare=False)
    entries: tuple[Entry, ...] = field(compare=False)
    moment: datetime = field(compare=False)
    """Local to the site."""
    back: bool = field(compare=False)

    @cached_property
    def known(self) -> State:
        """What was written down by the moment."""
        return state_at(self.entries, self.moment) if self.back else fold(self.entries, self.moment)

    @cached_property
    def covered(self) -> list[Finding]:
        """What lies covered over a hold point that was not released."""
        if not self.entries:
            return []
        return covered_unreleased(self.case.site, self.case.network, self.known, self.moment)

    @cached_property
    def holds(self) -> tuple[HoldPoint, ...]:
        """Every hold and witness point as it stands at the moment."""
        return hold_points(self.case.site, self.case.network, self.known, self.moment)


@once(1)
def _worked(case: Case, record: Hashable, new: Worked) -> Worked:  # noqa: ARG001 - parts of the key
    return new


@dataclass(frozen=True)
class Live:
    """What is written down for a site, as it is known at a moment, and who looks at it."""

    case: Case
    place: JournalPlace
    entries: tuple[Entry, ...]
    moment: datetime
    """Local to the site."""
    person: Person | None
    fault: BadInput | None = None
    """Why the journal cannot be used, if it cannot."""
    back: bool = False
    """The moment was chosen: only what was written down by then is known. Else everything is, whatever clocks said."""
    read_at: datetime = field(default_factory=lambda: datetime.now(UTC))

    @property
    def worked(self) -> Worked:
        """What is worked out of the record, shared by all pages that look at the same of it within some seconds."""
        fixed = self.moment if self.back or self.case.site.site.invented else None
        seconds = int(self.read_at.timestamp() // SHARED_S)
        record = self.place.record, str(self.case.path), self.standing, self.back, fixed, seconds
        return _worked(self.case, record, Worked(self.case, self.entries, self.moment, self.back))

    @property
    def known(self) -> State:
        """What was written down by the moment."""
        return self.worked.known

    @cached_property
    def head(self) -> str:
        """The last entry written down by the moment, with its short code; empty when there is none."""
        return str(head_of([e for e in self.entries if e.at <= self.moment] if self.back else self.entries) or "")

    @property
    def covered(self) -> list[Finding]:
        """What lies covered over a hold point that was not released."""
        return self.worked.covered

    @property
    def holds(self) -> tuple[HoldPoint, ...]:
        """Every hold and witness point as it stands at the moment."""
        return self.worked.holds

    @property
    def looking_back(self) -> bool:
        """Whether entries were written down after the moment; then nothing may be added at it."""
        return self.back and bool(self.entries) and self.entries[-1].at > self.moment

    @property
    def written(self) -> tuple[Entry, ...]:
        """The entries known at the moment, taken back or not."""
        return tuple(e for e in self.entries if e.at <= self.moment) if self.back else self.entries

    @property
    def standing(self) -> tuple[int, str, str]:
        """How far the record goes: number and hash of its last entry, and why it cannot be read, if it cannot."""
        number, digest = (self.entries[-1].number, self.entries[-1].hash) if self.entries else (0, "")
        return number, digest, str(self.fault) if self.fault else ""

    @property
    def writes_at(self) -> datetime | None:
        """Under which time entries are written down: on an invented site its own clock's; None: now."""
        return self.moment if self.case.site.site.invented else None

    @property
    def looked_up(self) -> datetime:
        """The moment at which the record was looked up, local to the site, whatever moment is asked about."""
        return self.read_at.astimezone(self.moment.tzinfo)

    def may(self, act: str, *, activity: str = "") -> bool:
        """Tell whether who is here may do something by their role; on the dashboard of one machine nobody is asked."""
        if served() is None:
            return True
        return self.person is not None and may(self.case, self.person, act, activity=activity)

    def concerns(self, *names: str) -> bool:
        """Tell whether what is for somebody of these names, or ids, is for who is here to see."""
        if self.may(EVERYBODYS):
            return True
        return self.person is not None and not own_names(self.case, self.person).isdisjoint(names)

    def local(self, when: datetime) -> datetime:
        """Return a moment in the site's own time."""
        return when.astimezone(self.moment.tzinfo)


def live_of(case: Case) -> Live:
    """Read the journal of a site as this session looks at it; a fault is kept in it, never raised."""
    tell_in(case.site.site.units)
    place, fault = JournalPlace("", None), None
    entries: tuple[Entry, ...] = ()
    try:
        place = forgetting_when_written(guarded(place_of(case.site, case.path), case))
        entries = read(place)
    except (BadInput, OSError) as error:
        fault = _understood(error)
    people = {p.id: p for p in case.site.people}
    person = people.get(st.session_state.get("person", ""))
    if served() is not None:  # nobody chooses who they are
        found = visitor()
        person = people.get(found[1].id) if found else None
    back = bool(st.session_state.get(_moment_key(case)))
    return Live(case, place, entries, _moment(case, entries), person, fault, back)


_turns: dict[str, threading.Lock] = {}
"""By journal: of two presses of one button, in whatever pages, the second finds what the first has written."""


def write(live: Live, happened: Event, *, tell: Callable[[str], None] | None = None) -> tuple[Entry, bool]:
    """Write an event down in the name of the person; a release that is not theirs to give becomes its refusal.

    Returns its entry, and whether that was on record already: the same said again by the same person is not written.
    `tell` is told when it is not known yet whether it was written. Raises BadInput when the journal refuses it.
    """
    if live.person is None:
        raise ValueError("somebody must be chosen before anything is written down")
    site, network = live.case.site, live.case.network
    try:
        with _turns.setdefault(live.place.record, threading.Lock()), closing(live.place.open(tell=tell)) as journal:
            return write_once(journal, site, network, happened, at=live.writes_at, by=live.person.name)
    except OSError as error:
        raise _understood(error) from error


def repeats(live: Live, happened: Event) -> bool:
    """Tell whether the person has said just that already, by the record as it was read."""
    at, by = live.writes_at or live.moment, live.person.name if live.person else ""
    return said_already(live.entries, happened, at=at, by=by) is not None


def contradicts(live: Live, happened: Event) -> tuple[str, ...]:
    """Return what an event would contradict on record; raises BadInput when it cannot be true at all."""
    at, by = live.writes_at or live.moment, live.person.name if live.person else ""
    return contradicted(live.case.site, live.case.network, live.entries, happened, at=at, by=by)


def write_in_one_go(live: Live, happened: Sequence[Event]) -> tuple[Entry, ...]:
    """Write reports of work down together, all or none, and only while the record is as it was read."""
    if live.person is None:
        raise ValueError("somebody must be chosen before anything is written down")
    site, network, after = live.case.site, live.case.network, len(live.entries)
    try:
        with closing(live.place.open()) as journal:
            return write_all(journal, site, network, happened, at=live.writes_at, by=live.person.name, after=after)
    except OSError as error:
        raise _understood(error) from error


def attach(live: Live, content: bytes) -> str:
    """Keep a photo or PDF as evidence and return its hash; raises BadInput for anything else."""
    with closing(live.place.open()) as journal:
        return journal.attach(content)


def look_from(case: Case, when: datetime | None) -> None:
    """Look at a job as of another moment from now on; None: as of now, or of the last entry in practice."""
    st.session_state[_moment_key(case)] = when.isoformat() if when else None


def _moment_key(case: Case) -> str:
    return f"moment of {case.path}"


def _moment(case: Case, entries: tuple[Entry, ...]) -> datetime:
    zone = ZoneInfo(case.site.site.time_zone)
    chosen = st.session_state.get(_moment_key(case))
    if chosen:
        return datetime.fromisoformat(chosen).astimezone(zone)
    if not case.site.site.invented:
        return datetime.now(UTC).astimezone(zone)
    clock = case.network.clock
    start = clock.when(clock.tick(clock.when(case.network.data_date) + FIRST_HOUR))
    return max([start, *(e.at for e in entries[-1:])]).astimezone(zone)


def _understood(error: Exception) -> BadInput:
    if isinstance(error, BadInput):
        return error
    words = getattr(error, "strerror", None) or str(error)
    return BadInput([Finding("journal/reach", Severity.STOP, "The journal", f"cannot be used: {words}.")])
