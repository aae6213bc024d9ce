"""What is known at a moment: a fold over the entries written down by then."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TypeVar

from scheduler.ledger.events import (
    Corrected,
    CoverReported,
    Delayed,
    Event,
    Finished,
    HoldReleased,
    Inspected,
    InspectionFailed,
    InspectionPassed,
    InspectionPassedWithConditions,
    PlanAccepted,
    Rained,
    Refused,
    RemainingReported,
    Started,
    TicketAnswered,
    UncoverReported,
    VisitBooked,
    VisitCancelled,
    VisitConfirmed,
)
from scheduler.ledger.store import Entry

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Actual:
    """What is known of one activity; None where nothing was said."""

    start: datetime | None = None
    finish: datetime | None = None
    remaining_hours: float | None = None
    remaining_at: datetime | None = None
    """The moment of the estimate of what remains."""


@dataclass(frozen=True, slots=True)
class VisitState:
    """An appointment as it stands."""

    booked: VisitBooked
    confirmed: bool = False
    cancelled: bool = False


@dataclass(frozen=True)
class State:
    """Everything known; the lists are in the order of the entries. Superseded entries do not count."""

    actuals: Mapping[str, Actual] = field(default_factory=dict)
    """By activity."""
    looks: Mapping[str, tuple[Inspected, ...]] = field(default_factory=dict)
    """Results by inspection activity."""
    releases: Mapping[str, tuple[HoldReleased, ...]] = field(default_factory=dict)
    """By hold point, whoever wrote them: `holds` decides which of them count."""
    visits: Mapping[str, VisitState] = field(default_factory=dict)
    delays: tuple[Delayed, ...] = ()
    tickets: Mapping[str, tuple[TicketAnswered, ...]] = field(default_factory=dict)
    rain: tuple[Rained, ...] = ()
    covers: tuple[CoverReported, ...] = ()
    uncovers: tuple[UncoverReported, ...] = ()
    plans: tuple[PlanAccepted, ...] = ()
    refusals: tuple[Refused, ...] = ()
    superseded: frozenset[int] = frozenset()
    """Numbers of entries that no longer count."""

    @property
    def plan(self) -> PlanAccepted | None:
        """The plan to work by: the last one accepted."""
        return self.plans[-1] if self.plans else None

    def actual(self, activity: str) -> Actual:
        """Return what is known of an activity, which may be nothing."""
        return self.actuals.get(activity, Actual())


def state_at(entries: Iterable[Entry], moment: datetime) -> State:
    """Return what was known at an aware moment: the fold of the entries written down by then."""
    return fold(e for e in entries if e.at <= moment)


def fold(entries: Iterable[Entry]) -> State:
    """Return the state that entries, taken in their order, amount to."""
    rows = sorted(entries, key=lambda e: e.number)
    gone = superseded(rows)
    building = _Building()
    for entry in rows:
        if entry.number not in gone:
            building.add(entry.event)
    return building.state(gone)


def superseded(entries: Iterable[Entry]) -> frozenset[int]:
    """Return the numbers of entries that a correction still in force has taken back.

    A correction can itself be corrected; what it took back then counts again.
    """
    gone: set[int] = set()
    for entry in sorted(entries, key=lambda e: e.number, reverse=True):
        if isinstance(entry.event, Corrected) and entry.number not in gone and entry.event.supersedes < entry.number:
            gone.add(entry.event.supersedes)
    return frozenset(gone)


class _Building:
    """A state while entries are added to it."""

    def __init__(self) -> None:
        self.actuals: dict[str, Actual] = {}
        self.looks: dict[str, list[Inspected]] = {}
        self.releases: dict[str, list[HoldReleased]] = {}
        self.visits: dict[str, VisitState] = {}
        self.tickets: dict[str, list[TicketAnswered]] = {}
        self.rest: dict[type, list[Event]] = {}

    def add(self, happened: Event) -> None:
        """Add one event that counts."""
        match happened:
            case Started() | Finished() | RemainingReported():
                self._work(happened)
            case InspectionPassed() | InspectionPassedWithConditions() | InspectionFailed():
                for look in happened.looks:
                    self.looks.setdefault(look, []).append(happened)
            case HoldReleased():
                self.releases.setdefault(happened.hold, []).append(happened)
            case VisitBooked() | VisitConfirmed() | VisitCancelled():
                self._visit(happened)
            case TicketAnswered():
                self.tickets.setdefault(happened.ticket, []).append(happened)
            case _:
                self.rest.setdefault(type(happened), []).append(happened)

    def _work(self, happened: Started | Finished | RemainingReported) -> None:
        known = self.actuals.get(happened.activity, Actual())
        match happened:
            case Started():
                known = replace(known, start=happened.when)
            case Finished():
                known = replace(known, finish=happened.when)
            case RemainingReported():
                known = replace(known, remaining_hours=happened.hours, remaining_at=happened.when)
        self.actuals[happened.activity] = known

    def _visit(self, happened: VisitBooked | VisitConfirmed | VisitCancelled) -> None:
        if isinstance(happened, VisitBooked):
            self.visits[happened.visit] = VisitState(happened)
        elif (known := self.visits.get(happened.visit)) is not None:
            confirmed = known.confirmed or isinstance(happened, VisitConfirmed)
            cancelled = known.cancelled or isinstance(happened, VisitCancelled)
            self.visits[happened.visit] = replace(known, confirmed=confirmed, cancelled=cancelled)

    def state(self, gone: frozenset[int]) -> State:
        """Return what was added, frozen."""
        return State(
            actuals=self.actuals,
            looks={k: tuple(v) for k, v in self.looks.items()},
            releases={k: tuple(v) for k, v in self.releases.items()},
            visits=self.visits,
            tickets={k: tuple(v) for k, v in self.tickets.items()},
            delays=self._all(Delayed),
            rain=self._all(Rained),
            covers=self._all(CoverReported),
            uncovers=self._all(UncoverReported),
            plans=self._all(PlanAccepted),
            refusals=self._all(Refused),
            superseded=gone,
        )

    def _all(self, kind: type[T]) -> tuple[T, ...]:
        return tuple(e for e in self.rest.get(kind, ()) if isinstance(e, kind))
