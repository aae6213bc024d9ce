"""The best finish of a tiny network, by a plain model on the clock that shares nothing with the solver under test."""

from __future__ import annotations

import time
from dataclasses import dataclass

from ortools.sat.python import cp_model

from scheduler.network.model import Activity, LinkType, Network


@dataclass(frozen=True)
class Exact:
    """What the plain model found: the least finish and a bound on it, equal when proved; None without a plan."""

    finish: int | None
    bound: int | None
    seconds: float

    @property
    def proved(self) -> bool:
        """Whether no plan can be better, or none exists."""
        return self.finish == self.bound


def best_finish(network: Network) -> int | None:
    """Return the least finish of any plan that keeps every rule but the target, or None if there is no plan."""
    found = exact(network)
    assert found.proved
    return found.finish


def exact(network: Network, *, seconds: float = 60.0, workers: int = 1) -> Exact:
    """Find the least finish of any plan.

    Every start an activity may have is listed tick by tick, so keep the network tiny. Bookings
    are left out, and tickets are taken as renewed for as long as they can be.
    """
    began = time.perf_counter()
    model = _model(network)
    if model is None:
        return Exact(None, None, time.perf_counter() - began)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = workers
    solver.parameters.max_time_in_seconds = seconds
    status = solver.solve(model)
    took = time.perf_counter() - began
    if status == cp_model.INFEASIBLE:
        return Exact(None, None, took)
    found = status in (cp_model.OPTIMAL, cp_model.FEASIBLE)
    return Exact(round(solver.objective_value) if found else None, round(solver.best_objective_bound), took)


def _model(network: Network) -> cp_model.CpModel | None:
    """Return the plain model; None if some activity fits nowhere."""
    model = cp_model.CpModel()
    start: dict[str, cp_model.IntVar] = {}
    finish: dict[str, cp_model.IntVar] = {}
    spans: dict[str, cp_model.IntervalVar] = {}
    for a in network.activities:
        allowed = _allowed(network, a)
        if not allowed:
            return None
        start[a.id] = model.new_int_var(0, network.horizon, f"start {a.id}")
        finish[a.id] = model.new_int_var(0, network.horizon, f"finish {a.id}")
        model.add_allowed_assignments([start[a.id], finish[a.id]], allowed)
        size = model.new_int_var(0, network.horizon, f"size {a.id}")
        spans[a.id] = model.new_interval_var(start[a.id], size, finish[a.id], a.id)
    for link in network.links:
        before = finish[link.before] if link.type in (LinkType.FS, LinkType.FF) else start[link.before]
        after = start[link.after] if link.type in (LinkType.FS, LinkType.SS) else finish[link.after]
        end: cp_model.LinearExprT = before + link.lag
        if link.lag_calendar is not None:
            ended = [(t, _lag(network, link.lag, link.lag_calendar, t)) for t in range(network.horizon + 1)]
            end = model.new_int_var(0, 10 * network.horizon, f"lag {link.id}")
            model.add_allowed_assignments([before, end], ended)
        model.add(after <= end) if link.at_most else model.add(after >= end)
    for hold in network.holds:
        for gate in hold.gates:
            model.add(start[gate] >= finish[hold.look])
    for d in network.dates:
        edge = start[d.activity] if d.edge == "start" else finish[d.activity]
        if d.sense != "max":
            model.add(edge >= d.at)
        if d.sense != "min":
            model.add(edge <= d.at)
    for ticket in network.tickets:
        for dig in ticket.digs:
            model.add(start[dig] >= ticket.clear)
            model.add(finish[dig] <= max([ticket.expiry, *(r.expiry for r in ticket.renewals)]))
    _share(network, model, spans)
    _visit(network, model, start)
    for limit in network.open_limits:
        amounts = dict(limit.amounts)
        opened = [o for o in network.openings if o.id in amounts]
        stands = [_between(model, start[o.opens], finish[o.closes], network.horizon) for o in opened]
        model.add_cumulative(stands, [amounts[o.id] for o in opened], limit.capacity)
    last = model.new_int_var(0, network.horizon, "last")
    model.add_max_equality(last, list(finish.values()))
    model.minimize(last)
    return model


def _between(
    model: cp_model.CpModel, start: cp_model.IntVar, finish: cp_model.IntVar, horizon: int
) -> cp_model.IntervalVar:
    return model.new_interval_var(start, model.new_int_var(0, horizon, "stands"), finish, "stands")


def _share(network: Network, model: cp_model.CpModel, spans: dict[str, cp_model.IntervalVar]) -> None:
    work = {a.id: a for a in network.activities if a.work > 0}
    for r in network.resources:
        users = [(spans[a.id], n) for a in work.values() for resource, n in a.needs if resource == r.id]
        model.add_cumulative([s for s, _ in users], [n for _, n in users], r.capacity)
    for space in network.spaces:
        inside = [(a, g) for a, g in space.occupants if a in work]
        for i, (a, group) in enumerate(inside):
            for b, other in inside[:i]:
                if group != other:
                    model.add_no_overlap([spans[a], spans[b]])


def _visit(network: Network, model: cp_model.CpModel, start: dict[str, cp_model.IntVar]) -> None:
    for rule in network.visit_rules:
        for a, b in network.calendars[rule.calendar].windows:
            if a >= network.horizon:
                break
            inside = []
            for look in rule.looks:
                here = model.new_bool_var("here")
                outside = [(0, a - 1), (b, network.horizon)] if a > 0 else [(b, network.horizon)]
                domain = cp_model.Domain.from_intervals(outside)
                model.add_linear_expression_in_domain(start[look], domain).only_enforce_if(here.negated())
                inside.append(here)
            if rule.max_looks is not None:
                model.add(sum(inside) <= rule.max_looks)
            if rule.max_ft is not None:
                feet = [round(rule.look_ft.get(x, 0.0) * 100) for x in rule.looks]
                model.add(cp_model.LinearExpr.weighted_sum(inside, feet) <= round(rule.max_ft * 100))


def _allowed(network: Network, activity: Activity) -> list[tuple[int, int]]:
    """List every (start, finish) by stepping through the calendar tick by tick."""
    if activity.work == 0:
        return [(t, t) for t in range(network.data_date, network.horizon + 1)]
    windows = network.calendars[activity.calendar].windows
    is_open = [any(a <= t < b for a, b in windows) for t in range(network.horizon)]
    found = []
    for s in range(network.data_date, network.horizon):
        if not is_open[s]:
            continue
        t, left = s, activity.work
        while left and t < network.horizon:
            left -= is_open[t]
            t += 1
        closes = next((k for k in range(s, t) if not is_open[k]), t)
        if not left and not (activity.one_window and closes < t) and closes >= min(t, s + activity.least_start):
            found.append((s, t))
    return found


def _lag(network: Network, lag: int, calendar: str, tick: int) -> int:
    """Return where a lag after a tick ends, far away when its calendar ends first."""
    windows = network.calendars[calendar].windows
    left, t = lag, tick
    while left and t < network.horizon:
        left -= any(a <= t < b for a, b in windows)
        t += 1
    return t if not left else 10 * network.horizon
