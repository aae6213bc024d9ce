"""The stages after the finish: open trench, money, earliness; or all of it as one cost."""

from __future__ import annotations

from dataclasses import dataclass, replace

from scheduler.measures import money
from scheduler.network.dates import Propagation
from scheduler.network.lowering import lower
from scheduler.schedule import Schedule
from scheduler.solve.bounds.least_exposure import least_exposure
from scheduler.solve.formulation.constraint_model import schedule_of, starts_of
from scheduler.solve.formulation.dated import dated
from scheduler.solve.formulation.engine import Engine
from scheduler.solve.formulation.goals import Cost, Exposure, Goal, Money
from scheduler.solve.formulation.nights import same_nights
from scheduler.solve.formulation.precedence import Order
from scheduler.solve.formulation.time_windows import Frame
from scheduler.solve.improvement.left_shift import mean_start_days, move_early
from scheduler.solve.improvement.neighbourhoods import Task, better, is_small
from scheduler.solve.improvement.ruin_recreate import Shortener
from scheduler.solve.outcome import Stage

PUTS_PER_EFFORT = 20_000
"""Activities put back per unit of effort when trench is closed sooner without a search tree."""
SAME_NIGHTS_SHARE = 0.3
"""Of the effort for money in a small job, the part in which no stretch changes its nights."""
EARLY = "earliness"


@dataclass
class Plan:
    """A plan on its way through the stages."""

    frame: Frame
    order: Order
    starts: dict[str, int]

    @property
    def schedule(self) -> Schedule:
        """The plan in clock ticks."""
        return schedule_of(self.frame, self.starts)


def less_open(engine: Engine, plan: Plan, least: int = 0) -> Stage:
    """Leave as little trench open over as few nights as can be found; change the plan so.

    `least` is an exposure known to be the least [tenths of ft nights].
    """
    began, goal = engine.seconds, Exposure()
    counted = least_exposure(plan.frame)
    kind = "each reach alone" if counted >= least else "more time"
    task = Task(plan.frame, plan.order, goal, least=max(least, counted))
    if task.amount(plan.starts) > task.least and not is_small(plan.frame.network):
        _shorten(engine, plan)
    return _pursue(engine, plan, task, engine.options.exposure_effort, kind=kind, began=began)


def _shorten(engine: Engine, plan: Plan) -> None:
    network = plan.frame.network
    last = max(int(s.ends[-1]) for s in plan.frame.spans.values())
    shortener = Shortener(
        network, plan.schedule.dates, last_finish=plan.frame.axis.end_clock(last), seed=engine.options.seed
    )
    shortener.run(
        int(engine.options.exposure_effort * PUTS_PER_EFFORT),
        lambda: engine.stopped,
        lambda value: engine.tell("exposure", round(value, 1), None),
    )
    plan.starts = starts_of(plan.frame, dated(network, shortener.dates))


def less_money(engine: Engine, plan: Plan) -> Stage | None:
    """Spend as little as can be found without more open trench; None when nothing costs anything.

    What leaves every stretch open over the same nights is searched first: it is far smaller.
    """
    network = plan.frame.network
    if money(network, plan.schedule) == 0:
        return None
    began, effort, least = engine.seconds, engine.options.money_effort, _least_money(plan)
    same = Task(same_nights(plan.frame, plan.starts), plan.order, Money(), least=least)
    plan.starts, _ = better(engine, same, plan.starts, SAME_NIGHTS_SHARE * effort if is_small(network) else effort)
    kept = ((Exposure(), Exposure().amount(network, plan.schedule)),)
    task = Task(plan.frame, plan.order, Money(), kept, least=least)
    effort = (1 - SAME_NIGHTS_SHARE) * effort if is_small(network) else 0.0
    return _pursue(engine, plan, task, effort, kind="counted visits and parties", began=began)


def _least_money(plan: Plan) -> int:
    """Return the money that one visit for every few looks, and each party once, must take [cents]."""
    network, per = plan.frame.network, Money().per_unit
    visits = sum(
        round(per * group.price) * (1 if group.most_looks is None else -(-len(group.looks) // group.most_looks))
        for group in lower(network).look_groups
        if group.looks
    )
    return visits + sum(round(per * party.cost) for party in network.mobilisations if party.activities)


def least_cost(engine: Engine, plan: Plan) -> Stage:
    """Make the whole cost as small as can be found."""
    began, network, goal = engine.seconds, plan.frame.network, Cost()
    if not is_small(network):
        _shorten(engine, plan)
    days = goal.amount(network, plan.schedule)
    task = Task(plan.frame, plan.order, goal, least=min(days, _least_money(plan)))
    effort = engine.options.exposure_effort + engine.options.money_effort
    return _pursue(engine, plan, task, effort, kind="counted visits and parties", began=began)


def _pursue(engine: Engine, plan: Plan, task: Task, effort: float, *, kind: str, began: float) -> Stage:
    plan.starts, least = better(engine, task, plan.starts, effort)
    value, goal = task.amount(plan.starts), task.goal
    kind = "search" if least > task.least else kind
    least = min(least, value)
    engine.tell(goal.name, value / goal.per_unit, least / goal.per_unit)
    return stage_of(goal, value, least, kind, engine.seconds - began)


def stage_of(goal: Goal, value: int, least: int, kind: str, seconds: float) -> Stage:
    """Return the report of a stage."""
    per = goal.per_unit
    return Stage(goal.name, value / per, least / per, kind, goal.unit, value <= least, seconds)


def as_it_is(stage: Stage, plan: Plan) -> Stage:
    """Return a stage's report for the plan as it is now: later stages may have bettered it by chance."""
    goal = {g.name: g for g in (Exposure(), Money(), Cost())}[stage.name]
    value = goal.amount(plan.frame.network, plan.schedule) / goal.per_unit
    return replace(stage, value=value, proved=value <= stage.bound)


def as_early(engine: Engine, plan: Plan) -> Stage:
    """Move everything as early as the decisions of the plan allow."""
    began, network = engine.seconds, plan.frame.network
    dates = move_early(network, plan.schedule)
    plan.starts = starts_of(plan.frame, dated(network, dates))
    value = mean_start_days(network, dates)
    alone = Propagation(network).forward()
    bound = value if alone is None else min(value, mean_start_days(network, alone))
    seconds = engine.seconds - began
    return Stage(
        EARLY, round(value, 4), round(bound, 4), "links and hours alone", "days, mean start", value <= bound, seconds
    )
