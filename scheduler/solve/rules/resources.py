"""Crews, machines and inspectors in limited number, and room that groups may not share."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import combinations

from scheduler.network.model import Network, Space
from scheduler.solve.order import Order
from scheduler.solve.variables import Search, only_if


def add_resources(search: Search) -> None:
    """At most `capacity` units of each resource in use at any moment."""
    network = search.frame.network
    users = users_of(network)
    for resource in network.resources:
        needs = users.get(resource.id, [])
        if sum(units for _, units in needs) <= resource.capacity or _all_fixed(search, needs):
            continue
        guard = search.guard(resource.id, resource.because or f"{resource.name}: {resource.capacity} at once")
        intervals = [search.placed[a].interval for a, _ in needs]
        if all(2 * units > resource.capacity for _, units in needs) and resource.capacity >= max(u for _, u in needs):
            only_if(search.model.add_no_overlap(intervals), guard)
        else:
            demands = [units for _, units in needs]
            only_if(search.model.add_cumulative(intervals, demands, resource.capacity), guard)


def users_of(network: Network) -> dict[str, list[tuple[str, int]]]:
    """Return, by resource, the activities that need it and how many units each holds."""
    users: dict[str, list[tuple[str, int]]] = {}
    for activity in network.activities:
        for resource, units in activity.needs:
            if units > 0:
                users.setdefault(resource, []).append((activity.id, units))
    return users


def add_spaces(search: Search, order: Order) -> None:
    """Two activities of different groups never share a space."""
    network = search.frame.network
    for space in network.spaces:
        occupants = [(a, g) for a, g in space.occupants if network.by_id[a].work > 0]
        if _all_fixed(search, occupants) or len({g for _, g in occupants}) < 2:
            continue
        guard = search.guard(space.id, space.because)
        apart, pairs = split_space(network, space, order)
        if len(apart) > 1:
            only_if(search.model.add_no_overlap([search.placed[a].interval for a in apart]), guard)
        for a, b in pairs:
            if not (search.placed[a].fixed and search.placed[b].fixed):
                both = [search.placed[a].interval, search.placed[b].interval]
                only_if(search.model.add_no_overlap(both), guard)


def split_space(network: Network, space: Space, order: Order) -> tuple[list[str], list[tuple[str, str]]]:
    """Return occupants of which no two can overlap, and the remaining pairs that may not.

    Whole groups join the first set while their own members can't overlap anyway, because
    they share a single crew or links order them; one member of each other group joins too.
    Pairs that links order are left out.
    """
    groups: dict[str, list[str]] = {}
    for a, g in space.occupants:
        if network.by_id[a].work > 0:
            groups.setdefault(g, []).append(a)
    apart: list[str] = []
    for members in groups.values():
        single = all(_never_together(network, order, a, b) for a, b in combinations(members, 2))
        apart += members if single else members[:1]
    held = set(apart)
    pairs = [
        (a, b)
        for one, other in combinations(groups.values(), 2)
        for a in one
        for b in other
        if not (a in held and b in held) and not order.known(a, b)
    ]
    return apart, pairs


def _never_together(network: Network, order: Order, a: str, b: str) -> bool:
    held = dict(network.by_id[a].needs)
    shared = [(r, units + held[r]) for r, units in network.by_id[b].needs if units and held.get(r)]
    return order.known(a, b) or any(total > network.resource_by_id[r].capacity for r, total in shared)


def _all_fixed(search: Search, items: Iterable[tuple[str, object]]) -> bool:
    return all(search.placed[a].fixed for a, _ in items)
