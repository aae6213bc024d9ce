"""Money in a search: visits, mobilisations, moved bookings, ticket renewals, plates and fences over nights."""

from __future__ import annotations

from bisect import bisect_left, bisect_right

import numpy as np
from ortools.sat.python import cp_model

from scheduler.measures import midnights, priced_nights
from scheduler.network.lowering import lower
from scheduler.network.model import Mobilisation, Network
from scheduler.network.normal import LookGroup
from scheduler.solve.formulation.nights import Nights, night_ticks, nights_times
from scheduler.solve.formulation.rules.visit_caps import windows_of
from scheduler.solve.formulation.variables import Expr, Search

CENTS = 100


def in_cents(network: Network) -> list[tuple[str, str, int]]:
    """Return each pair of activities, and what a night between the start of one and the finish of the other costs."""
    return [(p.opens, p.closes, round(CENTS * p.price)) for p in priced_nights(network)]


def money_of(search: Search, nights: Nights) -> Expr:
    """Return the money as an expression [cents], with the literals it needs."""
    network = search.frame.network
    terms: list[Expr] = [0]
    normal = lower(network)
    for group in normal.look_groups:
        if group.price > 0:
            terms.append(round(CENTS * group.price) * _visits(search, nights, group))
    for party in network.mobilisations:
        if party.cost > 0:
            terms.append(round(CENTS * party.cost) * _runs(search, nights, party))
    for record, bounds in normal.priced.items():
        if price := bounds[0].price:
            terms.append(round(CENTS * price) * search.moved[record])
    for bounds in normal.renewable.values():
        for limit in bounds[0].later:
            if limit.price > 0:
                terms.append(round(CENTS * limit.price) * search.renewals[limit.id])
    terms.append(nights_times(search, nights, in_cents(network)))
    return cp_model.LinearExpr.sum(terms)


def comings_of(search: Search, nights: Nights) -> Expr:
    """Return how many visits are made and how often parties come, as an expression."""
    visits = [_visits(search, nights, group) for group in lower(search.frame.network).look_groups]
    trips = [_runs(search, nights, party) for party in search.frame.network.mobilisations]
    return cp_model.LinearExpr.sum([0, *visits, *trips])


def _visits(search: Search, nights: Nights, group: LookGroup) -> Expr:
    """Return how many of the authority's windows have a look in them."""
    firsts, _ = windows_of(search, group)
    looks_in: dict[int, list[list[Expr]]] = {}
    for look in group.looks:
        starts = search.frame.edge_ticks(look, "start")
        at = np.unique(np.searchsorted(firsts, starts, side="right") - 1)
        for k in at.tolist():
            since = nights.at_or_after(look, "start", int(firsts[k]))
            after = nights.at_or_after(look, "start", int(firsts[k + 1])) if k + 1 < len(firsts) else False
            looks_in.setdefault(k, []).append([1 * since, -1 * after])
    used: list[Expr] = []
    for k, looks in sorted(looks_in.items()):
        visited = search.model.new_bool_var(f"{group.record} visit {k}")
        for inside in looks:
            search.model.add(visited >= cp_model.LinearExpr.sum(inside))
        used.append(visited)
    fewest = 1 if group.most_looks is None else -(-len(group.looks) // group.most_looks)
    total = cp_model.LinearExpr.sum(used)
    if used:
        search.model.add(total >= fewest)
    return total


def _runs(search: Search, nights: Nights, party: Mobilisation) -> Expr:
    """Return in how many runs of days a party is on site.

    A day counts only when some work of the party touches it, so that no gap can be bridged
    by pretending to be there.
    """
    frame, network, model = search.frame, search.frame.network, search.model
    ticks, _ = night_ticks(frame)
    bounds = [0, *ticks.tolist(), len(frame.axis)]
    night = midnights(network.clock, network.data_date, network.horizon)
    day_of = [bisect_right(night, frame.axis.start_clock(tick)) for tick in bounds[:-1]]
    touches: dict[int, list[cp_model.IntVar]] = {}
    for activity in party.activities:
        first = int(frame.edge_ticks(activity, "start")[0])
        last = max(int(frame.edge_ticks(activity, "finish")[-1]), first + 1)
        for j in range(bisect_right(bounds, first) - 1, bisect_left(bounds, last)):
            touches.setdefault(j, []).append(nights.touches(activity, bounds[j], bounds[j + 1]))
    on = {j: model.new_bool_var(f"{party.id} on day {j}") for j in sorted(touches)}
    runs: list[Expr] = []
    for j, here in on.items():
        model.add_max_equality(here, touches[j])
        before = [on[i] for i in on if i < j and day_of[j] - day_of[i] - 1 <= party.stay_days]
        comes = model.new_bool_var(f"{party.id} comes on day {j}")
        model.add_bool_or([comes, here.negated(), *before])
        runs.append(comes)
    total = cp_model.LinearExpr.sum(runs)
    if runs:
        model.add(total >= 1)
    return total
