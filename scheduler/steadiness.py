"""How steadily each crew and machine works in a plan: who takes which piece, moves between stretches, short pieces.

A party of several crews, all alike, holds as many pieces at once as it has crews. Which crew takes which piece
decides no date, so it is settled afterwards: each piece, in order of its start, goes to a free crew that is in
that stretch already, else to the one that has been free longest.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise

from scheduler.measures import days_on_site, worked
from scheduler.network.model import Activity, Network, Resource, ResourceKind
from scheduler.schedule import Span

SHORT_MINUTES = 30
"""A piece of work of no more than this is a short one."""


@dataclass(frozen=True, slots=True)
class Steadiness:
    """What the days of one party amount to; a piece is what is done of an activity without closed hours in it."""

    resource: str
    name: str
    pieces: int
    short: int
    """Pieces of no more than `SHORT_MINUTES`."""
    moves: int
    """How often a crew, or a machine, goes from one stretch to another."""
    places: int
    """Stretches worked in, counted anew each day."""
    days: int


def steadiness(network: Network, dates: Mapping[str, Span]) -> tuple[Steadiness, ...]:
    """Return how steadily each crew and each machine with work would work on such dates [ticks]."""
    parties = (r for r in network.resources if r.kind in (ResourceKind.CREW, ResourceKind.MACHINE))
    return tuple(_of(network, r, dates) for r in parties if _work_of(network, r))


def who_takes(network: Network, resource: Resource, dates: Mapping[str, Span]) -> dict[str, tuple[int, ...]]:
    """Return, by activity, which units of a party take it: crew 0, 1 and so on, the same units to its end."""
    free_from, last_at = [0] * resource.capacity, [""] * resource.capacity
    taken: dict[str, tuple[int, ...]] = {}
    for activity, units in sorted(_work_of(network, resource), key=lambda pair: (dates[pair[0].id], pair[0].id)):
        start, finish = dates[activity.id]
        free = [k for k in range(resource.capacity) if free_from[k] <= start]
        free.sort(key=lambda k: (last_at[k] != activity.reach, free_from[k], k))
        chosen = tuple(sorted(free[:units]))
        for k in chosen:
            free_from[k], last_at[k] = finish, activity.reach or last_at[k]
        taken[activity.id] = chosen
    return taken


def moves_of(network: Network, resource: Resource, dates: Mapping[str, Span]) -> int:
    """Return how often the units of a party go from one stretch to another."""
    at: dict[int, list[str]] = {}
    for activity, units in who_takes(network, resource, dates).items():
        reach = network.by_id[activity].reach
        for unit in units if reach else ():
            at.setdefault(unit, []).append(reach)
    return sum(a != b for stops in at.values() for a, b in pairwise(stops))


def _of(network: Network, resource: Resource, dates: Mapping[str, Span]) -> Steadiness:
    places: set[tuple[str, int]] = set()
    lengths: list[int] = []
    for activity, _ in _work_of(network, resource):
        reach = activity.reach
        for start, finish in worked(network, activity.id, dates[activity.id]):
            lengths.append(finish - start)
            places.add((reach, days_on_site(network, (start, finish))[0]))
    short = sum(n * network.clock.tick_minutes <= SHORT_MINUTES for n in lengths)
    moves = moves_of(network, resource, dates)
    days = len({day for _, day in places})
    stretches = len({place for place in places if place[0]})
    return Steadiness(resource.id, resource.name, len(lengths), short, moves, stretches, days)


def _work_of(network: Network, resource: Resource) -> list[tuple[Activity, int]]:
    """Return the work of a party, and how many of its units each takes."""
    every = ((a, dict(a.needs).get(resource.id, 0)) for a in network.activities if a.work > 0)
    return [(a, units) for a, units in every if units > 0]
