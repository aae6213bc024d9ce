"""The fewest appointments that must move, weighted by the notice they burn, with proof."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model

from scheduler.network.model import Network
from scheduler.schedule import Schedule
from scheduler.situation.appointments import Appointment
from scheduler.solve.formulation.constraint_model import add_finish, build, schedule_of, starts_of
from scheduler.solve.formulation.engine import Engine
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.improvement.neighbourhoods import is_small


@dataclass(frozen=True, slots=True)
class Fewest:
    """Which appointments stay and which move, what moving them weighs, and whether less is impossible."""

    kept: tuple[Appointment, ...]
    moved: tuple[Appointment, ...]
    weight: int
    bound: int
    schedule: Schedule
    """A plan that moves these only."""

    @property
    def proved(self) -> bool:
        """Whether no plan moves less."""
        return self.weight <= self.bound


def fewest_moved(
    engine: Engine,
    network: Network,
    appointments: Sequence[Appointment],
    weights: Sequence[int],
    *,
    effort: float,
    hint: Schedule | None = None,
) -> Fewest | None:
    """Return the least weight of appointments that must move and, of such plans, one that finishes soonest.

    `network` must not hold these appointments. None when no plan was found.
    """
    asked = {a.id for a in appointments}
    others = tuple(b for b in network.bookings if b.id not in asked)
    soft = replace(network, bookings=(*others, *(a.booking(network, firm=False) for a in appointments)))
    frame, order = TimeWindows(soft), PrecedenceOrder(soft)
    if not frame.narrow():
        return None
    search = build(frame, order)
    aim = _weight(search.moved, appointments, weights)
    search.model.minimize(aim)
    start = None if hint is None else starts_of(frame, hint)
    presolve = is_small(soft)
    found = engine.run(search, effort=effort, hint=start, presolve=presolve)
    if found.starts is None:
        return None
    weight, bound = round(found.value), round(found.bound) if found.sound else 0
    least, most = max(int(s.ends[0]) for s in frame.spans.values()), max(int(s.ends[-1]) for s in frame.spans.values())
    search = build(frame, order)
    search.model.add(_weight(search.moved, appointments, weights) <= weight)
    search.model.minimize(add_finish(search, least, most))
    sooner = engine.run(search, effort=effort, hint=found.starts, presolve=presolve)
    starts = sooner.starts or found.starts
    clock = {a: int(frame.edge_clock(a, "start")[starts[a]]) for p in appointments for a in p.activities}
    kept = tuple(p for p in appointments if all(p.at <= clock[a] < p.until for a in p.activities))
    moved = tuple(p for p in appointments if p not in kept)
    return Fewest(kept, moved, weight, bound, schedule_of(frame, starts))


def _weight(
    moved: dict[str, cp_model.IntVar], appointments: Sequence[Appointment], weights: Sequence[int]
) -> cp_model.LinearExpr:
    terms = [0 * moved[appointments[0].id]] if appointments else []
    terms += [w * moved[a.id] for a, w in zip(appointments, weights, strict=True)]
    return cp_model.LinearExpr.sum(terms)
