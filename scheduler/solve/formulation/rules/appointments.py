"""Rules against the clock, and appointments that may move."""

from __future__ import annotations

from ortools.sat.python import cp_model

from scheduler.network.dates import date_rules
from scheduler.network.model import Booking
from scheduler.solve.formulation.variables import Search, domain_of, only_if


def add_date_rules(search: Search) -> None:
    """Switch each rule against the clock by its literal; unguarded, the frame has applied them."""
    if not search.guarded:
        return
    frame = search.frame
    for rule in date_rules(frame.network):
        guard = search.guard(rule.id, rule.because)
        anywhere = frame.axis.spans(frame.network.calendars[frame.network.by_id[rule.activity].calendar], 0)
        ticks = frame.within(rule, anywhere).starts
        domain = domain_of(ticks) if len(ticks) else cp_model.Domain(-2, -1)
        edge = search.placed[rule.activity].edge(rule.edge)
        only_if(search.model.add_linear_expression_in_domain(edge, domain), guard)


def add_bookings(search: Search) -> None:
    """Let each soft appointment be kept, or moved at its cost."""
    for booking in search.frame.network.bookings:
        if not booking.firm:
            moved = search.model.new_bool_var(f"{booking.id} moved")
            search.moved[booking.id] = moved
            for activity in booking.activities:
                _keep(search, booking, activity, moved)


def _keep(search: Search, booking: Booking, activity: str, moved: cp_model.IntVar) -> None:
    starts = search.frame.edge_ticks(activity, "start")
    clock = search.frame.edge_clock(activity, "start")[starts]
    kept = starts[(clock >= booking.at) & (clock < booking.until)]
    if len(kept):
        start = search.placed[activity].start
        search.model.add_linear_expression_in_domain(start, domain_of(kept)).only_enforce_if(moved.negated())
    else:
        search.model.add(moved == 1)
