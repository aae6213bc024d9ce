"""Dates that a network's links and calendars alone allow: the forward and the backward pass.

Two kinds of rule are looked at here. A date bound, with the calendar, says which starts one
activity may have. A link says that an edge of one activity stands no earlier than a rising
function of an edge of another. Such rules have one earliest and one latest answer, found by
raising (or lowering) starts until nothing moves: constraint propagation. Who uses which crew,
machine or room when is not decided here; an order already decided can be given as extra links.

Source: forward and backward pass, e.g. US Navy training manual NAVEDTRA 14045; link types
and lags as in precedence-diagram texts.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

from scheduler.network.lowering import lower
from scheduler.network.model import Activity, Link, LinkType, Network
from scheduler.network.normal import DateBound
from scheduler.schedule import Span
from scheduler.worktime.calendar import Calendar

FINISH_OF_BEFORE = (LinkType.FS, LinkType.FF)
START_OF_AFTER = (LinkType.FS, LinkType.SS)


@dataclass(frozen=True, slots=True)
class Precedence:
    """A link as it holds back one activity: the successor waits until the predecessor has got so far.

    For an at-most link the earlier activity waits for the later one, ahead of which it must not run too far.
    """

    link: Link
    predecessor: str
    successor: str


class _Agenda:
    """Activities whose neighbours have yet to be looked at, lowest rank first, each listed once."""

    def __init__(self, rank: Mapping[str, int], first: Iterable[str]) -> None:
        self._rank, self._waiting = rank, set(first)
        self._heap = sorted((rank[a], a) for a in self._waiting)

    def next(self) -> str | None:
        if not self._heap:
            return None
        _, activity = heapq.heappop(self._heap)
        self._waiting.remove(activity)
        return activity

    def add(self, activity: str) -> None:
        if activity not in self._waiting:
            self._waiting.add(activity)
            heapq.heappush(self._heap, (self._rank[activity], activity))


@dataclass
class Propagation:
    """A network's links and date bounds, with any extra ones, ready for passes both ways."""

    network: Network
    extra_links: tuple[Link, ...] = ()
    extra_bounds: tuple[DateBound, ...] = ()
    renewals: frozenset[str] | None = None
    """Later limits in use, by id; None: all that there are."""
    bounds: tuple[DateBound, ...] | None = None
    """The bounds to be kept in place of the network's firm ones."""
    _low: dict[str, int] = field(init=False, repr=False)
    _high: dict[str, int] = field(init=False, repr=False)

    def __post_init__(self) -> None:
        self._low = {a.id: self.network.data_date for a in self.network.activities}
        self._high = {a.id: self.network.horizon for a in self.network.activities}
        bounds = lower(self.network).firm if self.bounds is None else self.bounds
        for bound in (*bounds, *self.extra_bounds):
            floor, ceiling = self.range_of(bound)
            self._low[bound.activity] = max(self._low[bound.activity], floor)
            self._high[bound.activity] = min(self._high[bound.activity], ceiling)

    @cached_property
    def precedences(self) -> tuple[Precedence, ...]:
        """Every link and extra link, as one activity held back by another."""
        links = (*lower(self.network).links, *self.extra_links)
        return tuple(Precedence(k, k.after, k.before) if k.at_most else Precedence(k, k.before, k.after) for k in links)

    @cached_property
    def into(self) -> dict[str, list[Precedence]]:
        """The precedences that hold each activity back."""
        table: dict[str, list[Precedence]] = {a.id: [] for a in self.network.activities}
        for precedence in self.precedences:
            table[precedence.successor].append(precedence)
        return table

    @cached_property
    def out_of(self) -> dict[str, list[Precedence]]:
        """The precedences by which each activity holds others back."""
        table: dict[str, list[Precedence]] = {a.id: [] for a in self.network.activities}
        for precedence in self.precedences:
            table[precedence.predecessor].append(precedence)
        return table

    @cached_property
    def rank(self) -> dict[str, int]:
        """A place in a topological order for each activity; those in circles, as by at-most links, come last."""
        open_into = {a: sum(not p.link.at_most for p in precedences) for a, precedences in self.into.items()}
        ready = [a for a, n in open_into.items() if n == 0]
        for activity in ready:
            for precedence in self.out_of[activity]:
                if not precedence.link.at_most:
                    open_into[precedence.successor] -= 1
                    if open_into[precedence.successor] == 0:
                        ready.append(precedence.successor)
        rest = [a for a, n in open_into.items() if n > 0]
        return {a: i for i, a in enumerate((*ready, *rest))}

    def span(self, activity_id: str, start: int) -> Span | None:
        """Return (start, finish) of an activity put at an allowed start; None past its calendar."""
        work = self.network.by_id[activity_id].work
        finish = self.network.calendar_of(activity_id).advance(start, work)
        return None if finish is None else (start, finish)

    def range_of(self, bound: DateBound) -> Span:
        """Return the first and last start that a date bound alone leaves, whatever the calendar."""
        floor, ceiling = 0, self.network.horizon
        at = bound.at_with(self.renewals) if bound.later else bound.at
        if bound.sense in ("min", "fixed"):
            floor = at if bound.edge == "start" else self._start_reaching(bound.activity, at)
        if bound.sense in ("max", "fixed"):
            ceiling = at if bound.edge == "start" else self._start_leaving_by(bound.activity, at)
        return floor, ceiling

    def allowed_from(self, activity_id: str, tick: int) -> int | None:
        """Return the first start at or after `tick` that calendar and date bounds allow."""
        start = first_start(self.network, self.network.by_id[activity_id], max(tick, self._low[activity_id]))
        return start if start is not None and start <= self._high[activity_id] else None

    def allowed_to(self, activity_id: str, tick: int) -> int | None:
        """Return the last start at or before `tick` that calendar and date bounds allow."""
        start = last_start(self.network, self.network.by_id[activity_id], min(tick, self._high[activity_id]))
        return start if start is not None and start >= self._low[activity_id] else None

    def floor(self, precedence: Precedence, predecessor: Span) -> int | None:
        """Return the tick before which the successor cannot start with the predecessor at some dates.

        None when the link's own calendar ends first, so that it cannot be kept at all.
        """
        link = precedence.link
        if link.type is LinkType.FS and link.lag == 0 and not link.at_most:
            return predecessor[1]
        calendar = self._lag_calendar(link)
        if link.at_most:
            edge = predecessor[0] if link.type in START_OF_AFTER else predecessor[1]
            least = _lag_start_reaching(calendar, link.lag, edge)
            return least if link.type not in FINISH_OF_BEFORE else self._start_reaching(precedence.successor, least)
        edge = predecessor[1] if link.type in FINISH_OF_BEFORE else predecessor[0]
        reached = _lag_end(calendar, link.lag, edge)
        if reached is None or link.type in START_OF_AFTER:
            return reached
        return self._start_reaching(precedence.successor, reached)

    def ceiling(self, precedence: Precedence, successor: Span) -> int | None:
        """Return the last tick at which the predecessor may start with the successor at some dates.

        None when nothing bounds it.
        """
        link, calendar = precedence.link, self._lag_calendar(precedence.link)
        if link.at_most:
            most = _lag_end(calendar, link.lag, successor[1] if link.type in FINISH_OF_BEFORE else successor[0])
            if most is None or link.type in START_OF_AFTER:
                return most
            return self._start_leaving_by(precedence.predecessor, most)
        most = _lag_start_leaving_by(calendar, link.lag, successor[0] if link.type in START_OF_AFTER else successor[1])
        return most if link.type not in FINISH_OF_BEFORE else self._start_leaving_by(precedence.predecessor, most)

    @cached_property
    def earliest(self) -> dict[str, Span] | None:
        """Every activity at its earliest; None if impossible."""
        return self.forward()

    def forward(self, floors: Mapping[str, int] | None = None) -> dict[str, Span] | None:
        """Return every activity at its earliest; None if impossible.

        `floors` holds some activities back further than their rules do.
        """
        return self.raised({}, {a.id: (floors or {}).get(a.id, 0) for a in self.network.activities})

    def raised(self, earliest: Mapping[str, Span], floors: Mapping[str, int]) -> dict[str, Span] | None:
        """Return earliest dates with some activities held back further, and what waits for them; None if impossible."""
        dates = dict(earliest)
        for activity, floor in floors.items():
            if (span := self._from(activity, floor)) is None:
                return None
            dates[activity] = span
        agenda = _Agenda(self.rank, floors)
        while (predecessor := agenda.next()) is not None:
            for precedence in self.out_of[predecessor]:
                successor = precedence.successor
                least = self.floor(precedence, dates[predecessor])
                if least is not None and least <= dates[successor][0]:
                    continue
                if least is None or (span := self._from(successor, least)) is None:
                    return None
                dates[successor] = span
                agenda.add(successor)
        return dates

    def backward(self, finish: int) -> dict[str, Span] | None:
        """Return every activity at its latest with all finished by `finish`; None if impossible."""
        dates: dict[str, Span] = {}
        for a in self.network.activities:
            start = self.last_start_by(a.id, finish)
            if start is None or (span := self.span(a.id, start)) is None:
                return None
            dates[a.id] = span
        agenda = _Agenda({a: -rank for a, rank in self.rank.items()}, self.rank)
        while (successor := agenda.next()) is not None:
            for precedence in self.into[successor]:
                predecessor = precedence.predecessor
                ceiling = self.ceiling(precedence, dates[successor])
                if ceiling is None or ceiling >= dates[predecessor][0]:
                    continue
                start = self.allowed_to(predecessor, ceiling)
                if start is None or (span := self.span(predecessor, start)) is None:
                    return None
                dates[predecessor] = span
                agenda.add(predecessor)
        return dates

    def last_start_by(self, activity_id: str, finish: int) -> int | None:
        """Return the last allowed start that leaves an activity finished by `finish`."""
        return self.allowed_to(activity_id, self._start_leaving_by(activity_id, finish))

    def _from(self, activity_id: str, tick: int) -> Span | None:
        """Return an activity at its first allowed start from a tick on; None when there is none."""
        start = self.allowed_from(activity_id, tick)
        return None if start is None else self.span(activity_id, start)

    def _lag_calendar(self, link: Link) -> Calendar | None:
        return None if link.lag_calendar is None else self.network.calendars[link.lag_calendar]

    def _start_reaching(self, activity_id: str, finish: int) -> int:
        """Return the first tick from which an activity finishes at or after `finish`."""
        return _lag_start_reaching(self.network.calendar_of(activity_id), self.network.by_id[activity_id].work, finish)

    def _start_leaving_by(self, activity_id: str, finish: int) -> int:
        """Return the last tick from which an activity finishes by `finish`; -1 when there is none."""
        return _lag_start_leaving_by(
            self.network.calendar_of(activity_id), self.network.by_id[activity_id].work, finish
        )


def reached(starts: Iterable[str], onward: Callable[[str], Iterable[str]]) -> set[str]:
    """Return the activities that steps onward lead to from some, these included."""
    found = set(starts)
    waiting = list(found)
    while waiting:
        fresh = set(onward(waiting.pop())) - found
        found |= fresh
        waiting.extend(fresh)
    return found


def first_start(network: Network, activity: Activity, tick: int) -> int | None:
    """Return the first tick at or after `tick` at which the calendar lets an activity start."""
    if activity.work <= 0:
        return tick if tick <= network.horizon else None
    calendar = network.calendars[activity.calendar]
    if activity.one_window:
        for a, b in calendar.windows_from(tick):
            if max(a, tick) + activity.work <= b:
                return max(a, tick) if max(a, tick) + activity.work <= network.horizon else None
        return None
    least = min(activity.least_start, activity.work)
    for a, b in calendar.windows_from(tick):
        start = max(a, tick)
        if start + least <= b:
            finish = calendar.advance(start, activity.work)
            return start if finish is not None and finish <= network.horizon else None
    return None


def last_start(network: Network, activity: Activity, tick: int) -> int | None:
    """Return the last tick at or before `tick` at which the calendar lets an activity start."""
    if activity.work <= 0:
        return min(tick, network.horizon) if tick >= 0 else None
    calendar = network.calendars[activity.calendar]
    if activity.one_window:
        for a, b in calendar.windows_to(tick + 1):
            start = min(b, network.horizon) - activity.work
            if start >= a:
                return min(start, tick)
        return None
    last = calendar.retreat(network.horizon, activity.work)
    if last is None:
        return None
    tick, least = min(tick, last), max(1, min(activity.least_start, activity.work))
    for a, b in calendar.windows_to(tick + 1):
        if a + least <= b:
            return min(tick, b - least)
    return None


def _lag_end(calendar: Calendar | None, lag: int, tick: int) -> int | None:
    return tick + lag if calendar is None else calendar.advance(tick, lag)


def _lag_start_leaving_by(calendar: Calendar | None, lag: int, tick: int) -> int:
    """Return the last tick from which a lag ends by `tick`; -1 when there is none."""
    if calendar is None:
        return tick - lag
    start = calendar.retreat(tick, lag)
    return -1 if start is None else start


def _lag_start_reaching(calendar: Calendar | None, lag: int, tick: int) -> int:
    """Return the first tick from which a lag ends at or after `tick`."""
    if calendar is None:
        return tick - lag
    return tick if lag <= 0 else _lag_start_leaving_by(calendar, lag, tick - 1) + 1
