"""Limits on what stands open, and locate tickets with their renewals."""

from __future__ import annotations

from itertools import pairwise, takewhile, zip_longest

from scheduler.network.model import Ticket
from scheduler.solve.formulation.variables import Search, only_if


def add_open_limits(search: Search) -> None:
    """At most `capacity` feet, or stretches, open at any moment."""
    network, model = search.frame.network, search.model
    for limit in network.open_limits:
        amounts = dict(limit.amounts)
        if sum(amounts.values()) <= limit.capacity:
            continue
        guard = search.guard(limit.id, limit.because)
        counted = [o for o in network.openings if o.id in amounts]
        ends = [(search.placed[o.opens], search.placed[o.closes]) for o in counted]
        if search.frame.is_part and all(opens.fixed and closes.fixed for opens, closes in ends):
            continue
        intervals = []
        for opening, (opens, closes) in zip(counted, ends, strict=True):
            name = f"{limit.id} {opening.id}"
            size = model.new_int_var(0, len(search.frame.axis), name)
            intervals.append(model.new_interval_var(opens.start, size, closes.end, name))
        only_if(model.add_cumulative(intervals, [amounts[o.id] for o in counted], limit.capacity), guard)


def add_tickets(search: Search) -> None:
    """Digs finish by the expiry of the ticket, or of the renewals used."""
    for ticket in search.frame.network.tickets:
        _add_ticket(search, ticket)


def _add_ticket(search: Search, ticket: Ticket) -> None:
    axis, guard = search.frame.axis, search.guard(ticket.id, ticket.because)
    usable = list(takewhile(lambda r: r.call_by >= search.frame.network.data_date, ticket.renewals))
    used = [search.model.new_bool_var(r.id) for r in usable]
    for earlier, later in pairwise(used):
        search.model.add_implication(later, earlier)
    search.renewals.update((r.id, literal) for r, literal in zip(usable, used, strict=True))
    expiries = [ticket.expiry, *(r.expiry for r in usable)]
    for dig in ticket.digs:
        last = len(axis) if search.guarded else search.frame.edge_ticks(dig, "finish")[-1]
        for expiry, renewed in zip_longest(expiries, used):
            limit = axis.last_end(expiry)
            if limit < last:
                unless = [] if renewed is None else [renewed.negated()]
                only_if(search.model.add(search.placed[dig].end <= limit), [*unless, *guard])
