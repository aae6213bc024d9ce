"""Groups of looks, as inspectors' visits: all looks in one of the authority's windows share a visit, up to its caps."""

from __future__ import annotations

import numpy as np

from scheduler.network.lowering import lower
from scheduler.network.normal import LookGroup
from scheduler.solve.formulation.variables import Expr, Search, domain_of, only_if
from scheduler.worktime.axis import Ticks

FEET = 10
"""Feet are counted in tenths."""


def add_look_groups(search: Search) -> None:
    """Cap what one visit sees, where all looks together are more than that."""
    for group in lower(search.frame.network).look_groups:
        # A look that fits into none of the authority's windows is in no visit: only the hours themselves are at fault.
        looks = [look for look in group.looks if len(search.frame.edge_ticks(look, "start"))]
        feet = {look: round(FEET * group.ft.get(look, 0.0)) for look in looks}
        caps = []
        if group.most_looks is not None and len(looks) > group.most_looks:
            caps.append((dict.fromkeys(looks, 1), group.most_looks))
        if group.most_ft is not None and sum(feet.values()) > FEET * group.most_ft:
            caps.append((feet, int(FEET * group.most_ft)))
        if not caps or (search.frame.is_part and all(search.placed[look].fixed for look in looks)):
            continue
        guard = search.guard(group.record, group.because)
        marks = [window_mark(search, group, look) for look in looks]
        intervals = [search.model.new_fixed_size_interval_var(mark, 1, f"{group.record} window") for mark in marks]
        for amounts, cap in caps:
            only_if(search.model.add_cumulative(intervals, list(amounts.values()), cap), guard)


def windows_of(search: Search, group: LookGroup) -> tuple[Ticks, Ticks]:
    """Return the first and the last work tick of each of the authority's windows."""
    at = search.frame.axis.open_ticks(search.frame.network.calendars[group.calendar])
    if not len(at):
        return at, at
    breaks = np.flatnonzero(np.diff(search.frame.axis.ticks[at]) > 1)
    return at[np.concatenate(([0], breaks + 1))], at[np.concatenate((breaks, [len(at) - 1]))]


def window_mark(search: Search, group: LookGroup, look: str) -> Expr:
    """Return the first work tick of the window that a look is in.

    The start of a look tells its window by the distance alone, as long as no window reaches
    into the next one's looks; otherwise one literal a window tells.
    """
    starts = search.frame.edge_ticks(look, "start")
    firsts, _ = windows_of(search, group)
    mark_of = firsts[np.maximum(np.searchsorted(firsts, starts, side="right") - 1, 0)]
    placed = search.placed[look]
    if placed.fixed:
        return int(mark_of[0])
    marks = np.unique(mark_of)
    mark = search.model.new_int_var_from_domain(domain_of(marks), f"{look} window")
    reach = int((starts - mark_of).max())
    first_look = starts[np.searchsorted(mark_of, marks)]
    if (marks[:-1] + reach < first_look[1:]).all() and not search.guarded:
        search.model.add_linear_constraint(placed.start - mark, 0, reach)
        return mark
    chosen = []
    for m in marks:
        literal = search.model.new_bool_var(f"{look} window {m}")
        inside = domain_of(starts[mark_of == m])
        search.model.add_linear_expression_in_domain(placed.start, inside).only_enforce_if(literal)
        search.model.add(mark == int(m)).only_enforce_if(literal)
        chosen.append(literal)
    if search.guarded:
        chosen.append(search.model.new_bool_var(f"{look} outside"))
    search.model.add_exactly_one(chosen)
    return mark
