"""Where activities fit in their calendars, and who waits for whom: what all boards of a network share."""

from __future__ import annotations

from dataclasses import dataclass, replace

from scheduler.network.dates import Pull, Reckoning, first_start
from scheduler.network.model import Activity, Link, LinkType, Network
from scheduler.schedule import Span
from scheduler.worktime.calendar import Calendar


@dataclass(frozen=True, slots=True)
class Waits:
    """The neighbours of an activity: those it simply follows or leads, and the pulls that say more."""

    plain: tuple[str, ...]
    pulls: tuple[Pull, ...]


def _waits(pulls: list[tuple[str, Pull]]) -> Waits:
    def is_plain(link: Link) -> bool:
        return link.type is LinkType.FS and link.lag == 0 and not link.at_most

    plain = tuple(dict.fromkeys(other for other, p in pulls if is_plain(p.link)))
    return Waits(plain, tuple(p for _, p in pulls if not is_plain(p.link)))


class Fits:
    """What all boards of a network share: where activities fit in their calendars, worked out once each."""

    def __init__(self, network: Network) -> None:
        self._network = network
        self._first: dict[tuple[str, int, bool], Span | None] = {}
        self._neighbours: list[tuple[dict[str, Waits], dict[str, Waits]]] = []
        self.hours = _hours_of(network)
        """For each resource, the hours in which any activity that needs it may work."""
        self.whole = {a.id: replace(a, one_window=True) for a in network.activities if self._may_waste(a)}
        """Activities that may keep a party waiting from one of their windows to the next, and need not."""

    def _may_waste(self, activity: Activity) -> bool:
        own = self._network.calendars[activity.calendar].windows
        others = any(n > 0 and self.hours[r].windows != own for r, n in activity.needs)
        return others and not activity.one_window and 0 < activity.work <= max((b - a for a, b in own), default=0)

    def first(self, activity: Activity, tick: int) -> Span | None:
        """Return the first span at or after `tick` that the activity's calendar allows."""
        key = activity.id, tick, activity.one_window
        if key not in self._first:
            start = first_start(self._network, activity, tick)
            self._first[key] = None if start is None else self.at(activity, start)
        return self._first[key]

    def neighbours(self, reckoning: Reckoning) -> tuple[dict[str, Waits], dict[str, Waits]]:
        """Return what each activity waits for, and what waits for it."""
        if not self._neighbours:
            before = {a: _waits([(p.by, p) for p in pulls]) for a, pulls in reckoning.into.items()}
            after = {a: _waits([(p.of, p) for p in pulls]) for a, pulls in reckoning.out_of.items()}
            self._neighbours.append((before, after))
        return self._neighbours[0]

    def at(self, activity: Activity, start: int) -> Span:
        """Return the span from an allowed start."""
        finish = self._network.calendars[activity.calendar].advance(start, activity.work)
        assert finish is not None, f"{activity.id} was put past the end of its calendar"
        return start, finish


def _hours_of(network: Network) -> dict[str, Calendar]:
    """Return, for each resource, the hours in which any activity that needs it may work."""
    used: dict[str, set[str]] = {r.id: set() for r in network.resources}
    for a in network.activities:
        for resource, _ in a.needs:
            used[resource].add(a.calendar)
    return {
        r.id: Calendar(r.id, r.name, tuple(w for c in sorted(used[r.id]) for w in network.calendars[c].windows))
        for r in network.resources
    }
