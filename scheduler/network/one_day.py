"""What it takes at the least to dig and fill a stretch inside the hours of one day, and how it could be made to fit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from graphlib import TopologicalSorter
from math import ceil

from scheduler.network.kind import Kind
from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.network.open_records import KeptShut
from scheduler.spoken import working
from scheduler.units import format_station, near_station

LASTS = (Kind.INSPECT, Kind.TEST, Kind.SET, Kind.JOIN)
"""Work that takes as long in a shorter stretch."""
SHORTEST_FT = 4.0
"""Pieces shorter than this are not advised."""


@dataclass(frozen=True, slots=True)
class LeastTime:
    """The longest chain of work and waits from what opens a stretch to what closes it [ticks]."""

    lasting: int = 0
    """What takes as long in a shorter stretch: looks, tests, structures, waits."""
    works: tuple[int, ...] = ()
    """Each piece of work that a shorter stretch has less of."""

    @property
    def ticks(self) -> int:
        """All of it."""
        return self.in_one_of(1)

    def in_one_of(self, pieces: int) -> int:
        """Return what it takes in one of so many equal pieces; no work is less than a tick."""
        return self.lasting + sum(ceil(work / pieces) for work in self.works)

    def then(self, lag: int, work: int, kind: Kind) -> LeastTime:
        """Return the chain with a wait and one more activity."""
        if kind in LASTS:
            return LeastTime(self.lasting + lag + work, self.works)
        return LeastTime(self.lasting + lag, (*self.works, work))


def least_time(network: Network, opens: str, closes: str) -> LeastTime:
    """Return the least time from the start of `opens` to the finish of `closes`, by the order of the work alone.

    Raises graphlib.CycleError when activities wait for one another in a circle.
    """
    before: dict[str, list[tuple[str, int]]] = {a.id: [] for a in network.activities}
    for link in lower(network).links:
        if link.keeps_apart and link.lag_calendar is None:
            before[link.after].append((link.before, link.lag))
    order = TopologicalSorter({a: [b for b, _ in waits] for a, waits in before.items()}).static_order()
    longest: dict[str, LeastTime] = {}
    for id_ in order:
        activity = network.by_id[id_]
        waits = [(longest[b], lag) for b, lag in before[id_] if b in longest]
        if id_ == opens:
            longest[id_] = LeastTime().then(0, activity.work, activity.kind)
        elif waits:
            last, lag = max(waits, key=lambda w: w[0].ticks + w[1])
            longest[id_] = last.then(lag, activity.work, activity.kind)
    return longest.get(closes, LeastTime())


def not_in_one_day(network: Network, shut: KeptShut) -> Iterator[str]:
    """Say how much longer a stretch takes than the hours of a day in its way, and what would make it fit."""
    longest = max((b - a for a, b in network.calendar_of(shut.opens).windows), default=0)
    takes = least_time(network, shut.opens, shut.closes)
    if takes.ticks <= longest:
        return
    minutes = network.clock.tick_minutes
    yield (
        f"By the order of the work alone it takes {working(takes.ticks * minutes)} from the dig to the last lift; "
        f"its longest day has {working(longest * minutes)}."
    )
    piece = network.by_id[shut.closes]
    length = piece.to_ft - piece.from_ft
    most = int(length / SHORTEST_FT)
    parts = next((n for n in range(2, most + 1) if takes.in_one_of(n) <= longest), None)
    if parts is None:
        yield "No shorter piece would fit either: agree longer hours, or plates or a fence for the nights."
    else:
        cuts = [format_station(near_station(piece.from_ft + length * n / parts)) for n in range(1, parts)]
        yield f"Each of {parts} pieces would take a day: split the reach at {' and '.join(cuts)}."
