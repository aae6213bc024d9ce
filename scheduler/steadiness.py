"""How steadily crews and machines work in a plan: who takes which piece, and moves between stretches.

A party of several crews, all alike, holds as many pieces at once as it has crews. Which crew takes which piece
decides no date, so it is settled afterwards: each piece, in order of its start, goes to a free crew that is in
that stretch already, else to the one that has been free longest.
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise

from scheduler.network.model import Network, Resource, ResourceKind
from scheduler.schedule import Span


def moves_between_stretches(network: Network, dates: Mapping[str, Span]) -> int:
    """Return how often crews, members of those that split, and machines change their stretch on such dates [ticks]."""
    moving = (ResourceKind.CREW, ResourceKind.MEMBER, ResourceKind.MACHINE)
    parties = (r for r in network.resources if r.kind in moving)
    return sum(_moves_of(network, party, dates) for party in parties)


def who_takes(network: Network, resource: Resource, dates: Mapping[str, Span]) -> dict[str, tuple[int, ...]]:
    """Return, by activity, which units of a party take it: crew 0, 1 and so on, the same units to its end."""
    held = ((a, dict(a.needs).get(resource.id, 0)) for a in network.activities if a.work > 0)
    work = [(a, units) for a, units in held if units > 0]
    free_from, last_at = [0] * resource.capacity, [""] * resource.capacity
    taken: dict[str, tuple[int, ...]] = {}
    for activity, units in sorted(work, key=lambda pair: (dates[pair[0].id], pair[0].id)):
        start, finish = dates[activity.id]
        free = [k for k in range(resource.capacity) if free_from[k] <= start]
        free.sort(key=lambda k: (last_at[k] != activity.reach, free_from[k], k))
        chosen = tuple(sorted(free[:units]))
        for k in chosen:
            free_from[k], last_at[k] = finish, activity.reach or last_at[k]
        taken[activity.id] = chosen
    return taken


def _moves_of(network: Network, resource: Resource, dates: Mapping[str, Span]) -> int:
    at: dict[int, list[str]] = {}
    for activity, units in who_takes(network, resource, dates).items():
        reach = network.by_id[activity].reach
        for unit in units if reach else ():
            at.setdefault(unit, []).append(reach)
    return sum(a != b for stops in at.values() for a, b in pairwise(stops))
