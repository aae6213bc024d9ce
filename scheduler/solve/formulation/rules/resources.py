"""Crews, machines and inspectors in limited number, and room that groups may not share."""

from __future__ import annotations

from scheduler.network.model import Network
from scheduler.solve.formulation.precedence import Order
from scheduler.solve.formulation.variables import Search, only_if


def add_resources(search: Search) -> None:
    """At most `capacity` units of each resource in use at any moment."""
    network = search.frame.network
    users = users_of(network)
    for resource in network.resources:
        needs = users.get(resource.id, {})
        contending = search.contending(needs)
        demands = [needs[a] for a in contending]
        if sum(demands) <= resource.capacity:
            continue
        guard = search.guard(resource.id, resource.because or f"{resource.name}: {resource.capacity} at once")
        intervals = [search.interval(a) for a in contending]
        if 2 * min(demands) > resource.capacity >= max(demands):
            only_if(search.model.add_no_overlap(intervals), guard)
        else:
            only_if(search.model.add_cumulative(intervals, demands, resource.capacity), guard)


def users_of(network: Network) -> dict[str, dict[str, int]]:
    """Return, by resource, the activities that need it and how many units each holds."""
    users: dict[str, dict[str, int]] = {}
    for activity in network.activities:
        for resource, units in activity.needs:
            if units > 0:
                held = users.setdefault(resource, {})
                held[activity.id] = held.get(activity.id, 0) + units
    return users


def add_spaces(search: Search, order: Order) -> None:
    """Two activities of different groups never share a space."""
    for space in search.frame.network.spaces:
        apart, pairs = order.apart_in(space)
        guard = search.guard(space.id, space.because)
        contending = search.contending(apart)
        if len(contending) > 1:
            only_if(search.model.add_no_overlap([search.interval(a) for a in contending]), guard)
        for pair in pairs:
            if search.contending(pair):
                only_if(search.model.add_no_overlap([search.interval(a) for a in pair]), guard)
