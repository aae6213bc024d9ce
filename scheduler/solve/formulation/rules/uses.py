"""Uses of capacities: crews and machines in limited number, open trench, and room that groups may not share."""

from __future__ import annotations

from ortools.sat.python import cp_model

from scheduler.network.lowering import lower
from scheduler.network.normal import Capacity, Use
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.variables import Search, only_if


def add_uses(search: Search, order: PrecedenceOrder) -> None:
    """Keep every capacity at every moment."""
    for capacity in lower(search.frame.network).capacities:
        if capacity.is_room:
            _keep_apart(search, order, capacity)
        else:
            _keep_within(search, capacity)


def _keep_within(search: Search, capacity: Capacity) -> None:
    """At most so many units in use at any moment."""
    uses = _contending(search, capacity)
    demands = [use.units for use in uses]
    if sum(demands) <= capacity.units:
        return
    guard = search.guard(capacity.record, capacity.because)
    intervals = [_interval(search, capacity, use) for use in uses]
    if capacity.is_party and 2 * min(demands) > capacity.units >= max(demands):
        only_if(search.model.add_no_overlap(intervals), guard)
    else:
        only_if(search.model.add_cumulative(intervals, demands, capacity.units), guard)


def _contending(search: Search, capacity: Capacity) -> list[Use]:
    """Return the uses that may get in each other's way; none when all are fixed in a plan that keeps every rule."""
    if capacity.is_party:
        contending = set(search.contending(use.first for use in capacity.uses))
        return [use for use in capacity.uses if use.first in contending]
    fixed = all(search.placed[use.first].fixed and search.placed[use.last].fixed for use in capacity.uses)
    return [] if search.frame.is_part and fixed else list(capacity.uses)


def _interval(search: Search, capacity: Capacity, use: Use) -> cp_model.IntervalVar:
    """Return the interval of a use: of its activity, or from the start of one to the end of another."""
    if use.is_work:
        return search.interval(use.first)
    name = f"{capacity.record} {use.name}"
    size = search.model.new_int_var(0, len(search.frame.axis), name)
    return search.model.new_interval_var(search.placed[use.first].start, size, search.placed[use.last].end, name)


def _keep_apart(search: Search, order: PrecedenceOrder, capacity: Capacity) -> None:
    """Those who do not share the one unit never overlap."""
    apart, pairs = order.apart_in(capacity)
    guard = search.guard(capacity.record, capacity.because)
    contending = search.contending(apart)
    if len(contending) > 1:
        only_if(search.model.add_no_overlap([search.interval(a) for a in contending]), guard)
    for pair in pairs:
        if search.contending(pair):
            only_if(search.model.add_no_overlap([search.interval(a) for a in pair]), guard)
