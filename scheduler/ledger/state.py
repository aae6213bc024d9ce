"""What is known at a moment: a fold over the entries written down by then."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import cached_property
from typing import TypeVar

from scheduler.ledger.call_events import Called
from scheduler.ledger.corrections import contested_by, superseded
from scheduler.ledger.day_events import NotDone, TestFailed
from scheduler.ledger.events import (
    Delayed,
    Event,
    Finished,
    HoldReleased,
    Inspected,
    InspectionFailed,
    InspectionPassed,
    InspectionPassedWithConditions,
    PlanAccepted,
    Refused,
    RemainingReported,
    Started,
    TicketAnswered,
    VisitBooked,
    VisitCancelled,
    VisitConfirmed,
)
from scheduler.ledger.evidence import Evidence, Work
from scheduler.ledger.ground_events import CoverReported, Rained, UncoverReported
from scheduler.ledger.store import Entry
from scheduler.ledger.timed import CLOCK_SLACK, TimedEntry, ordered
from scheduler.ledger.trade_events import TakenOver

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Actual:
    """What is known of one activity; None where nothing was said."""

    start: datetime | None = None
    finish: datetime | None = None
    remaining_hours: float | None = None
    remaining_at: datetime | None = None
    """The moment of the estimate of what remains."""
    failed: TestFailed | None = None
    """The test's last failure, while it is not reported finished since."""
    not_done: NotDone | None = None
    """The last word that it was not done, and why, while nothing else was said since."""


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
    words: tuple[Delayed | Called | TakenOver, ...] = ()
    """What was said of when somebody can come: word of delays, calls with their answers, firms that take over."""
    tickets: Mapping[str, tuple[TicketAnswered, ...]] = field(default_factory=dict)
    rain: tuple[Rained, ...] = ()
    covers: tuple[CoverReported, ...] = ()
    uncovers: tuple[UncoverReported, ...] = ()
    plans: tuple[PlanAccepted, ...] = ()
    refusals: tuple[Refused, ...] = ()
    superseded: frozenset[int] = frozenset()
    """Numbers of entries that no longer count."""
    counting: tuple[TimedEntry, ...] = ()
    """Every entry that counts, in order."""
    clock_ahead: tuple[int, ...] = ()
    """Numbers of entries written under a clock that stood ahead, as later entries show."""
    last: TimedEntry | None = None
    """The last entry, taken back or not."""

    @cached_property
    def evidence(self) -> Evidence:
        """Everything that speaks for or against covering, found by place."""
        return Evidence(self.counting)

    @cached_property
    def delays(self) -> tuple[Delayed, ...]:
        """Every word that somebody cannot come before a moment; a no on the telephone is one."""
        found = [delay_of(w) if isinstance(w, Called) else w for w in self.words if not isinstance(w, TakenOver)]
        return tuple(w for w in found if w is not None)

    @cached_property
    def begun(self) -> frozenset[str]:
        """The activities that are on record as started or finished."""
        return frozenset(a for a, known in self.actuals.items() if known.start is not None or known.finish is not None)

    @cached_property
    def taken_over(self) -> dict[str, TakenOver]:
        """By trade that left: the firm that does its open work now."""
        return {w.trade: w for w in self.words if isinstance(w, TakenOver)}

    @property
    def plan(self) -> PlanAccepted | None:
        """The plan to work by: the last one accepted."""
        return self.plans[-1] if self.plans else None

    def actual(self, activity: str) -> Actual:
        """Return what is known of an activity, which may be nothing."""
        return self.actuals.get(activity, Actual())


def delay_of(call: Called) -> Delayed | None:
    """Return a no on the telephone as word of a delay; None for another answer."""
    if call.not_before is None:
        return None
    return Delayed(who=call.of, not_before=call.not_before, about=call.activities, why=call.words)


def state_at(entries: Iterable[Entry], moment: datetime) -> State:
    """Return what was known at an aware moment: the fold of the entries written down by then."""
    rows = ordered(entries)
    return _fold([n for n in rows if n.by_then <= moment])


def fold(entries: Iterable[Entry], now: datetime | None = None) -> State:
    """Return the state that entries, taken in their order, amount to: all of them, whatever their clocks said.

    `now` is what the clock says where this is asked; an entry that claims to be later was written by then.
    """
    return _fold(ordered(entries, now))


def _fold(rows: Sequence[TimedEntry]) -> State:
    entries = [n.entry for n in rows]
    gone, contested = superseded(entries), contested_by(entries)
    building = _Building()
    counting = []
    for noted in rows:
        if noted.number in gone:
            continue
        if noted.number in contested:
            noted = replace(noted, contested_by=contested[noted.number])
        counting.append(noted)
        building.add(noted.entry.event)
    jumps = tuple(n.number for n in rows if n.entry.at - n.by_then > CLOCK_SLACK)
    return replace(building.state(gone), counting=tuple(counting), clock_ahead=jumps, last=rows[-1] if rows else None)


class _Building:
    """A state while entries are added to it."""

    def __init__(self) -> None:
        self.actuals: dict[str, Actual] = {}
        self.looks: dict[str, list[Inspected]] = {}
        self.releases: dict[str, list[HoldReleased]] = {}
        self.visits: dict[str, VisitState] = {}
        self.tickets: dict[str, list[TicketAnswered]] = {}
        self.words: list[Delayed | Called | TakenOver] = []
        self.rest: dict[type, list[Event]] = {}

    def add(self, happened: Event) -> None:
        """Add one event that counts."""
        match happened:
            case Started() | Finished() | RemainingReported() | TestFailed() | NotDone():
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
            case Delayed() | Called() | TakenOver():
                self.words.append(happened)
            case _:
                self.rest.setdefault(type(happened), []).append(happened)

    def _work(self, happened: Work) -> None:
        known, when = self.actuals.get(happened.activity, Actual()), happened.when
        before_failure = known.failed is not None and when < known.failed.when
        undoes = known.finish is None or known.finish <= when
        match happened:
            case Started() if not before_failure:
                known = replace(known, start=when, not_done=None)
            case Finished() if not before_failure:
                known = replace(known, finish=when, failed=None, not_done=None)
            case RemainingReported() if not before_failure:
                known = replace(known, remaining_hours=happened.hours, remaining_at=when)
            case TestFailed() if undoes:  # all of the test is to be made again
                known = Actual(failed=happened)
            case NotDone() if undoes:
                known = replace(known, finish=None, not_done=happened)
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
            words=tuple(self.words),
            rain=self._all(Rained),
            covers=self._all(CoverReported),
            uncovers=self._all(UncoverReported),
            plans=self._all(PlanAccepted),
            refusals=self._all(Refused),
            superseded=gone,
        )

    def _all(self, kind: type[T]) -> tuple[T, ...]:
        return tuple(e for e in self.rest.get(kind, ()) if isinstance(e, kind))
