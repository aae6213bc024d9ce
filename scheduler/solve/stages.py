"""The stages after the finish: each goal made as small as can be, what the goals before it reached kept."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from scheduler.costs.charges import charges
from scheduler.costs.counted import NightsBetween, count
from scheduler.network.dates import Propagation
from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.schedule import Schedule, Span
from scheduler.solve.bounds.least_of_blocks import least_of_blocks
from scheduler.solve.formulation.constraint_model import schedule_of, starts_of
from scheduler.solve.formulation.dated import dated
from scheduler.solve.formulation.engine import Engine
from scheduler.solve.formulation.nights import same_nights
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.goals import Cost, Exposure, Goal, Money, VisitsAndTrips
from scheduler.solve.improvement.left_shift import mean_start_days, move_early
from scheduler.solve.improvement.neighbourhoods import Task, better, is_small, search_parts
from scheduler.solve.improvement.steady_work import SteadyWork
from scheduler.solve.outcome import FINISH, GIVEN_UP, Options, StageReport
from scheduler.steadiness import Steadiness

INSERTED_PER_EFFORT = 20_000
"""Activities inserted per unit of effort to make work steadier: a choice, as in the first plan."""
MOST_INSERTED = 25
"""For each activity of a short job and unit of effort, to make its work steadier: more brings little."""
SAME_NIGHTS_SHARE = 0.3
"""Of the effort for money in a small job, the part in which no stretch changes its nights: a choice."""
PARTS_SHARE = 0.25
"""Of the effort for money in a small job, the part in which it is bettered part by part once it is searched whole.

On the small site 8 units of effort for least money come to $53,400 so (mean of four chance numbers), and to $57,200
where parts come first.
"""
EARLY = "earliness"
BLOCKS = "each reach with its branches"
"""What proves a bound of open trench that was searched for block by block."""
STEADY = "steadiness"
UNSTEADY = "moves and cut pieces"


@dataclass
class Incumbent:
    """A plan on its way through the stages."""

    frame: TimeWindows
    order: PrecedenceOrder
    starts: dict[str, int]
    kept: list[tuple[Goal, int]] = field(default_factory=list)
    """The goals pursued so far, and what they may amount to at most from now on."""

    @property
    def schedule(self) -> Schedule:
        """The plan in clock ticks."""
        return schedule_of(self.frame, self.starts)

    def task(self, goal: Goal, least: int = 0) -> Task:
        """Return the task of making a goal small; `least` is known to be its least from elsewhere."""
        return Task(self.frame, self.order, goal, tuple(self.kept), least=max(least, goal.least(self.frame)))


def goals_of(network: Network, options: Options) -> list[tuple[Goal, float]]:
    """Return what is pursued after the finish, in order, each with its effort."""
    exposed: list[tuple[Goal, float]] = [(Exposure(), options.exposure_effort)] if network.openings else []
    return [*exposed, (Money(), options.money_effort)]


def in_money(options: Options) -> list[tuple[Goal, float]]:
    """Return what is pursued where all is weighed in money."""
    return [(Cost(), options.exposure_effort + options.money_effort)]


def pursue_all(engine: Engine, plan: Incumbent, goals: Sequence[tuple[Goal, float]]) -> list[StageReport]:
    """Pursue goals one after the other; change the plan so. Money that nothing costs is left out."""
    stages: list[StageReport] = []
    for goal, effort in goals:
        if stages and engine.stopped:
            break
        if not isinstance(goal, Money) or goal.amount(plan.frame.network, plan.schedule):
            stages.append(pursue(engine, plan, goal, effort))
    return stages


def pursue(
    engine: Engine, plan: Incumbent, goal: Goal, effort: float, least: int = 0, *, every_plan: bool = True
) -> StageReport:
    """Make a goal as small as can be found, all in `plan.kept` kept to; change the plan so.

    `least` is known to be the least possible from more time [units of the goal]. Unless the frame has `every_plan` that
    is asked about, nobody is told of a bound on the way.
    """
    began, for_bound = engine.seconds, engine.options.bound_share * effort
    task = replace(plan.task(goal, least), every_plan=every_plan)
    kind = goal.bound_kind if goal.least(plan.frame) >= least else "more time"
    if isinstance(goal, Money):
        effort = _with_same_nights(engine, plan, task, effort)
    in_parts = PARTS_SHARE * effort if isinstance(goal, Money | Cost) and is_small(plan.frame.network) else 0.0
    plan.starts, proved = better(engine, task, plan.starts, effort - in_parts)
    plan.starts = search_parts(engine, replace(task, least=proved), plan.starts, in_parts)
    value = task.amount(plan.starts)
    plan.kept.append((goal, value))
    kind = "search" if proved > task.least else kind
    if isinstance(goal, Exposure) and value > proved and not is_small(plan.frame.network) and not engine.stopped:
        together = least_of_blocks(engine, plan.frame, plan.schedule, for_bound)
        proved, kind = max((proved, kind), (together, BLOCKS), key=lambda found: found[0])
    bound, per = min(proved, value), goal.per_unit
    task.tell(engine, value, bound)
    return StageReport(goal.name, value / per, bound / per, kind, goal.unit, value <= bound, engine.seconds - began)


def _with_same_nights(engine: Engine, plan: Incumbent, task: Task, effort: float) -> float:
    """Search first among plans that leave every stretch open over the same nights, which are far fewer.

    Returns the effort that is left for the search of all plans.
    """
    small = is_small(plan.frame.network)
    same = replace(task, frame=same_nights(plan.frame, plan.starts), kept=(), every_plan=False)
    plan.starts, _ = better(engine, same, plan.starts, SAME_NIGHTS_SHARE * effort if small else effort)
    return (1 - SAME_NIGHTS_SHARE) * effort if small else 0.0


def as_it_is(
    stages: Sequence[StageReport], goals: Sequence[Goal], network: Network, schedule: Schedule
) -> list[StageReport]:
    """Return the reports of stages for the plan as it is now: later stages may have bettered it, or given some up."""
    values = {g.name: round(g.amount(network, schedule) / g.per_unit, 4) for g in goals}
    if any(stage.name == STEADY for stage in stages):
        values[STEADY] = Steadiness(network, schedule.dates).total
    values[FINISH] = round((schedule.finish - network.data_date) * network.clock.tick_minutes / 1440, 4)
    found = []
    for stage in stages:
        value = values.get(stage.name, stage.value)
        if value != stage.value:
            proved = value <= stage.bound
            kind = GIVEN_UP if stage.proved and not proved else stage.bound_kind
            stage = replace(stage, value=value, proved=proved, bound_kind=kind)
        found.append(stage)
    return found


def steadier(engine: Engine, plan: Incumbent) -> list[StageReport]:
    """Let crews and machines move less between stretches, at no cost in anything else; change the plan so.

    The finish stays, and so do the goals before, what is paid for, visits, trips, and nights that have no price.
    """
    began, network, before = engine.seconds, plan.frame.network, plan.schedule
    steady = Steadiness(network, before.dates)
    if steady.total <= steady.least or engine.stopped:
        return []
    search = SteadyWork(network, before, keeps=_as_good(network, before, plan.kept), seed=engine.options.seed)
    inserted = int(engine.options.steady_effort * min(INSERTED_PER_EFFORT, MOST_INSERTED * len(network.activities)))
    search.run(inserted, lambda: engine.stopped, lambda value: engine.tell(STEADY, value, steady.least))
    plan.starts = starts_of(plan.frame, dated(network, search.dates))
    value, least = Steadiness(network, search.dates).total, steady.least
    why, seconds = "counted stretches and crews", engine.seconds - began
    return [StageReport(STEADY, value, least, why, UNSTEADY, value <= least, seconds)]


def _as_good(
    network: Network, before: Schedule, kept: Sequence[tuple[Goal, int]]
) -> Callable[[Mapping[str, Span]], bool]:
    """Return whether dates have no more than a plan of each goal, of nights without a price, of appointments missed."""
    goals: list[Goal] = [Exposure(), Money(), VisitsAndTrips()]
    limits = [*((goal, goal.amount(network, before)) for goal in goals), *kept]
    unpriced = [c.counted for c in charges(network) if c.rate is None and isinstance(c.counted, NightsBetween)]
    most = [(nights, count(network, before, nights)) for nights in unpriced]
    broken = lower(network).broken(before.dates)

    def keeps(dates: Mapping[str, Span]) -> bool:
        now = dated(network, dates)
        return (
            now.finish <= before.finish
            and all(count(network, now, nights) <= limit for nights, limit in most)
            and all(goal.amount(network, now) <= limit for goal, limit in limits)
            and lower(network).broken(dates) <= broken
        )

    return keeps


def as_early(engine: Engine, plan: Incumbent) -> StageReport:
    """Move everything as early as the decisions of the plan allow."""
    began, network = engine.seconds, plan.frame.network
    dates = move_early(network, plan.schedule, steady=True)
    if any(goal.amount(network, dated(network, dates)) > limit for goal, limit in plan.kept):
        dates = dict(plan.schedule.dates)  # what costs nothing is not kept together by moving early
    plan.starts = starts_of(plan.frame, dated(network, dates))
    value = mean_start_days(network, dates)
    alone = Propagation(network).forward()
    bound = value if alone is None else min(value, mean_start_days(network, alone))
    seconds = engine.seconds - began
    return StageReport(
        EARLY, round(value, 4), round(bound, 4), "links and hours alone", "days, mean start", value <= bound, seconds
    )
