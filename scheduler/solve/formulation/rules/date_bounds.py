"""Bounds against the clock: those that hold, later limits that can be bought, and those with a price."""

from __future__ import annotations

from itertools import pairwise, zip_longest

import numpy as np
from numpy.typing import NDArray
from ortools.sat.python import cp_model

from scheduler.network.lowering import lower
from scheduler.network.normal import DateBound
from scheduler.solve.formulation.variables import Search, domain_of, only_if
from scheduler.worktime.axis import Ticks


def add_guarded_bounds(search: Search) -> None:
    """Switch each firm bound by its literal; unguarded, the frame has applied them."""
    if not search.guarded:
        return
    frame = search.frame
    for bound in lower(frame.network).firm:
        guard = search.guard(bound.record, bound.because)
        anywhere = frame.axis.spans(frame.network.calendars[frame.network.by_id[bound.activity].calendar], 0)
        ticks = frame.within(bound, anywhere).starts
        domain = domain_of(ticks) if len(ticks) else cp_model.Domain(-2, -1)
        edge = search.placed[bound.activity].edge(bound.edge)
        only_if(search.model.add_linear_expression_in_domain(edge, domain), guard)


def add_later_limits(search: Search) -> None:
    """Let no later limit be bought without those before it, and each bound hold by the last one bought."""
    for record, bounds in lower(search.frame.network).renewable.items():
        later, guard = bounds[0].later, search.guard(record, bounds[0].because)
        bought = [search.model.new_bool_var(limit.id) for limit in later]
        for earlier, next_ in pairwise(bought):
            search.model.add_implication(next_, earlier)
        search.renewals.update((limit.id, literal) for limit, literal in zip(later, bought, strict=True))
        limits = [*zip_longest([bounds[0].at, *(limit.at for limit in later)], bought)]
        for bound in bounds:
            _limit(search, bound, limits, guard)


def _limit(
    search: Search, bound: DateBound, limits: list[tuple[int, cp_model.IntVar]], guard: list[cp_model.IntVar]
) -> None:
    """Keep an activity within its latest moment.

    `limits` are (moment, whether the next later moment is paid for), the earliest first; the last has no later one.
    """
    frame, edge = search.frame, search.placed[bound.activity].edge(bound.edge)
    clock = frame.edge_clock(bound.activity, bound.edge)
    last = len(frame.axis) if search.guarded else frame.edge_ticks(bound.activity, bound.edge)[-1]
    for at, next_bought in limits:
        limit = int(np.searchsorted(clock, at, side="right")) - 1
        if limit < last:
            unless = [] if next_bought is None else [next_bought.negated()]
            only_if(search.model.add(edge <= limit), [*unless, *guard])


def add_priced_bounds(search: Search) -> None:
    """Let the bounds of each record with a price be kept, or broken all together."""
    for record, bounds in lower(search.frame.network).priced.items():
        broken = search.model.new_bool_var(f"{record} moved")
        search.moved[record] = broken
        together: dict[tuple[str, str], list[DateBound]] = {}
        for bound in bounds:
            together.setdefault((bound.activity, bound.edge), []).append(bound)
        for (activity, edge), own in together.items():
            ticks = search.frame.edge_ticks(activity, edge)
            clock = search.frame.edge_clock(activity, edge)[ticks]
            kept = ticks[np.all([_admits(b, clock) for b in own], axis=0)]
            if len(kept):
                at = search.placed[activity].edge(edge)
                search.model.add_linear_expression_in_domain(at, domain_of(kept)).only_enforce_if(broken.negated())
            else:
                search.model.add(broken == 1)


def _admits(bound: DateBound, clock: Ticks) -> NDArray[np.bool_]:
    """Return which clock ticks keep a bound as the edge that it bounds."""
    early, late = clock < bound.at, clock > bound.at
    return ~((early & (bound.sense != "max")) | (late & (bound.sense != "min")))
