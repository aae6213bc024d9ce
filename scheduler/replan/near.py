"""Keeping a plan near the one in force: work stays where it was unless moving it buys something."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import ClassVar

from ortools.sat.python import cp_model

from scheduler.audit import audit
from scheduler.network.dates import Propagation
from scheduler.network.model import DateRule, Network
from scheduler.schedule import Schedule
from scheduler.solve.first_plan.calendar_fit import CalendarFit
from scheduler.solve.first_plan.partial_schedule import PartialSchedule, plannable
from scheduler.solve.first_plan.priority import PriorityRules
from scheduler.solve.first_plan.serial_generation import SerialGeneration
from scheduler.solve.formulation.constraint_model import schedule_of, starts_of
from scheduler.solve.formulation.dated import dated
from scheduler.solve.formulation.engine import Engine
from scheduler.solve.formulation.nights import Nights
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.formulation.variables import Expr, Search, domain_of
from scheduler.solve.goals import Goal
from scheduler.solve.improvement.left_shift import move_early
from scheduler.solve.improvement.neighbourhoods import Task, better
from scheduler.worktime.axis import Ticks

REPAIRS = 12
"""Passes over, each having learnt from the last what must wait."""
OUTSIDE_WEIGHT = 5
"""Moving what somebody else comes for counts as much as moving so many pieces of own work."""


@dataclass(frozen=True)
class Near:
    """How much of the work does not start when it did in the plan before: a goal as `solve.goals` has them."""

    before: Mapping[str, int]
    """Starts in the plan before [tick], of what is still open and has work."""
    outside: int = OUTSIDE_WEIGHT
    """What moving somebody else's work counts, own work being one."""
    name: ClassVar = "moves"
    unit: ClassVar = "moves, those of outside parties weighted"
    per_unit: ClassVar = 1
    bound_kind: ClassVar = "search"
    in_steps: ClassVar = True

    @classmethod
    def of(cls, network: Network, before: Mapping[str, int]) -> Near:
        """Return the goal for what is open in a network."""
        return cls({a.id: before[a.id] for a in network.activities if a.id in before and a.work > 0 and not a.happened})

    def amount(self, network: Network, schedule: Schedule) -> int:
        """Return the weight of what moves."""
        return sum(self._weight(network, a) for a, at in self.before.items() if schedule.dates[a][0] != at)

    def express(self, search: Search, nights: Nights) -> Expr:  # noqa: ARG002 - as the protocol of goals asks
        """Return the same as an expression."""
        network = search.frame.network
        moved = moved_in(search, self.before)
        return cp_model.LinearExpr.sum([self._weight(network, a) * m for a, m in moved.items()])

    def least(self, frame: TimeWindows) -> int:
        """Return the weight of what cannot stay where it was, in whatever plan of a frame."""
        return sum(self._weight(frame.network, a) for a, there in places(frame, self.before).items() if not len(there))

    def _weight(self, network: Network, activity: str) -> int:
        return self.outside if network.by_id[activity].kind.by_others else 1


def places(frame: TimeWindows, before: Mapping[str, int]) -> dict[str, Ticks]:
    """Return, for each activity, the work tick at which it stays where it was; none where it can't."""
    found = {}
    for activity, at in before.items():
        starts = frame.edge_ticks(activity, "start")
        found[activity] = starts[frame.edge_clock(activity, "start")[starts] == at]
    return found


def moved_in(search: Search, before: Mapping[str, int]) -> dict[str, Expr]:
    """Return, for each activity, whether it starts elsewhere than before: 0 or 1 where that is settled."""
    found: dict[str, Expr] = {}
    for activity, there in places(search.frame, before).items():
        start = search.placed[activity].start
        if not len(there) or isinstance(start, int):
            found[activity] = int(not len(there))
            continue
        found[activity] = moved = search.model.new_bool_var(f"{activity} moves")
        search.model.add_linear_expression_in_domain(start, domain_of(there)).only_enforce_if(moved.negated())
    return found


def pushed(network: Network, before: Mapping[str, int]) -> Schedule | None:
    """Return the plan before with everything that must move put where it next fits, in the same order.

    None when that order leads to no plan that keeps every rule.
    """
    job = plannable(network)
    propagation = Propagation(job)
    forward, latest = propagation.forward(), propagation.backward(job.horizon)
    if forward is None or latest is None:
        return None
    fits = CalendarFit(job)
    orders = PriorityRules(job, propagation, fits, forward, latest)
    keys = {a.id: float(before.get(a.id, forward[a.id][0])) for a in job.activities}
    floors = {a: min(before[a], orders.last[a]) for a in orders.last if a in before}
    order = replace(orders.following(keys), floors=floors)
    for _ in range(REPAIRS):
        made = SerialGeneration(job, PartialSchedule(job, propagation, fits), orders, order, orders.needed())
        made.run()
        if made.complete:
            plan = dated(network, made.partial.spans)
            return None if audit(network, plan) else plan
        if made.stuck:
            return None
        order = made.learnt()
    return None


@dataclass(frozen=True, slots=True)
class Nearest:
    """A plan as near to the one before as was found, and what is proved of that."""

    schedule: Schedule
    moves: int
    """What moves, weighted."""
    least: int


def nearest(
    engine: Engine,
    network: Network,
    plans: list[Schedule],
    before: Mapping[str, int],
    *,
    finish: int,
    kept: tuple[tuple[Goal, int], ...],
    effort: float,
) -> Nearest:
    """Return the plan nearest to the one before that ends by `finish` and keeps to the limits of other goals.

    `plans` are plans that do so, to begin with.
    """
    goal = Near.of(network, before)
    start = min(plans, key=lambda p: (goal.amount(network, p), p.finish))
    frame = TimeWindows(network)
    room = frame.until(frame.axis.last_end(finish)) if frame.narrow() else None
    if room is None or schedule_of(room, starts_of(room, start)).dates != start.dates:
        return Nearest(start, goal.amount(network, start), 0)
    task = Task(room, PrecedenceOrder(network), goal, kept, least=goal.least(room))
    starts, least = better(engine, task, starts_of(room, start), effort)
    plan = _settled(network, schedule_of(room, starts), goal)
    allowed = all(g.amount(network, plan) <= limit for g, limit in kept) and plan.finish <= finish
    if not allowed or audit(network, plan):
        plan = schedule_of(room, starts)
    return Nearest(plan, goal.amount(network, plan), least)


def _settled(network: Network, plan: Schedule, goal: Near) -> Schedule:
    """Return the plan with what moves anyway as early as it can be, the rest left where it was."""
    stay = [DateRule(f"stays/{a}", a, at, sense="fixed") for a, at in goal.before.items() if plan.dates[a][0] == at]
    return dated(network, move_early(replace(network, dates=(*network.dates, *stay)), plan))
