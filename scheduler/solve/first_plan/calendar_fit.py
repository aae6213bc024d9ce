"""Where activities fit in their calendars, and who waits for whom: what all partial schedules of a network share."""

from __future__ import annotations

from dataclasses import dataclass, replace

from scheduler.network.dates import Precedence, Propagation, first_start
from scheduler.network.lowering import lower
from scheduler.network.model import Activity, Network
from scheduler.schedule import Span
from scheduler.worktime.calendar import Calendar, union


@dataclass(frozen=True, slots=True)
class Waits:
    """The neighbours of an activity: those it simply follows or leads, and the links to others that say more."""

    plain: tuple[str, ...]
    precedences: tuple[Precedence, ...]


def _waits(precedences: list[tuple[str, Precedence]]) -> Waits:
    plain = tuple(dict.fromkeys(other for other, p in precedences if p.link.is_plain))
    return Waits(plain, tuple(p for _, p in precedences if not p.link.is_plain))


class CalendarFit:
    """What all partial schedules of a network share: where activities fit in their calendars, worked out once each."""

    def __init__(self, network: Network) -> None:
        self._network = network
        self._first: dict[tuple[str, int, bool], Span | None] = {}
        self._neighbours: list[tuple[dict[str, Waits], dict[str, Waits]]] = []
        self.hours = _hours_of(network)
        """For each capacity that work uses alone, by id, the hours in which any such work may be done."""
        self.whole = {a.id: replace(a, one_window=True) for a in network.activities if self._may_waste(a)}
        """Activities that may keep a party waiting from one of their windows to the next, and need not."""

    def _may_waste(self, activity: Activity) -> bool:
        own = self._network.calendars[activity.calendar].windows
        held = lower(self._network).held_by.get(activity.id, ())
        others = any(self.hours[c.id].windows != own for c, _ in held)
        return others and not activity.one_window and 0 < activity.work <= max((b - a for a, b in own), default=0)

    def first(self, activity: Activity, tick: int) -> Span | None:
        """Return the first span at or after `tick` that the activity's calendar allows."""
        key = activity.id, tick, activity.one_window
        if key not in self._first:
            start = first_start(self._network, activity, tick)
            self._first[key] = None if start is None else self.at(activity, start)
        return self._first[key]

    def neighbours(self, propagation: Propagation) -> tuple[dict[str, Waits], dict[str, Waits]]:
        """Return what each activity waits for, and what waits for it."""
        if not self._neighbours:
            before = {
                a: _waits([(p.predecessor, p) for p in precedences]) for a, precedences in propagation.into.items()
            }
            after = {
                a: _waits([(p.successor, p) for p in precedences]) for a, precedences in propagation.out_of.items()
            }
            self._neighbours.append((before, after))
        return self._neighbours[0]

    def at(self, activity: Activity, start: int) -> Span:
        """Return the span from an allowed start."""
        finish = self._network.calendars[activity.calendar].advance(start, activity.work)
        assert finish is not None, f"{activity.id} was placed past the end of its calendar"
        return start, finish


def _hours_of(network: Network) -> dict[str, Calendar]:
    """Return, for each capacity that work uses alone, the hours in which any such work may be done."""
    hours: dict[str, Calendar] = {}
    for c in lower(network).capacities:
        used = {network.by_id[use.first].calendar for use in c.uses if use.is_work}
        if not c.is_room:
            hours[c.id] = union(network.calendars[calendar] for calendar in sorted(used))
    return hours
