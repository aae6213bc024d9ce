"""The stages after the finish: each goal made as small as can be, what the goals before it reached kept."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from scheduler.network.dates import Propagation
from scheduler.network.model import Network
from scheduler.schedule import Schedule
from scheduler.solve.bounds.least_of_blocks import least_of_blocks
from scheduler.solve.formulation.constraint_model import schedule_of, starts_of
from scheduler.solve.formulation.dated import dated
from scheduler.solve.formulation.engine import Engine
from scheduler.solve.formulation.nights import same_nights
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.goals import Cost, Exposure, Goal, Money
from scheduler.solve.improvement.left_shift import mean_start_days, move_early
from scheduler.solve.improvement.neighbourhoods import Task, better, is_small, search_parts
from scheduler.solve.improvement.ruin_recreate import RuinAndRecreate
from scheduler.solve.outcome import FINISH, GIVEN_UP, Options, StageReport

INSERTED_PER_EFFORT = 20_000
"""Activities inserted per unit of effort by ruin and recreate: a choice, as in the first plan."""
ROUNDS = 4
"""How often the trench of a long job is closed sooner by both ways in turn, with other chance numbers each time."""
EASY = 140
"""A job of more activities, though searched whole, begins with less open trench found without a search tree."""
SAME_NIGHTS_SHARE = 0.3
"""Of the effort for money in a small job, the part in which no stretch changes its nights: a choice."""
PARTS_SHARE = 0.5
"""Of the effort for money in a small job, the part in which it is bettered part by part before it is searched whole."""
EARLY = "earliness"
BLOCKS = "each reach with its branches"
"""What proves a bound of open trench that was searched for block by block."""


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


def pursue(engine: Engine, plan: Incumbent, goal: Goal, effort: float, least: int = 0) -> StageReport:
    """Make a goal as small as can be found, all in `plan.kept` kept to; change the plan so.

    `least` is known to be the least possible from more time [units of the goal].
    """
    began, task, for_bound = engine.seconds, plan.task(goal, least), engine.options.bound_share * effort
    kind = goal.bound_kind if goal.least(plan.frame) >= least else "more time"
    if isinstance(goal, Exposure) and not is_small(plan.frame.network):
        for turn in range(1, ROUNDS):
            _close_sooner(engine, plan, task)
            plan.starts, _ = better(engine, task, plan.starts, effort / ROUNDS)
            task = replace(task, round=turn)
        _close_sooner(engine, plan, task)
        effort /= ROUNDS
    elif isinstance(goal, Exposure) and len(plan.frame.network.activities) > EASY:
        _close_sooner(engine, plan, task)
    elif isinstance(goal, Money):
        effort = _with_same_nights(engine, plan, task, effort)
    if isinstance(goal, Money | Cost) and is_small(plan.frame.network):
        plan.starts = search_parts(engine, task, plan.starts, PARTS_SHARE * effort)
        effort *= 1 - PARTS_SHARE
    plan.starts, proved = better(engine, task, plan.starts, effort)
    value = task.amount(plan.starts)
    plan.kept.append((goal, value))
    kind = "search" if proved > task.least else kind
    if isinstance(goal, Exposure) and value > proved and not is_small(plan.frame.network) and not engine.stopped:
        together = least_of_blocks(engine, plan.frame, plan.schedule, for_bound)
        proved, kind = max((proved, kind), (together, BLOCKS), key=lambda found: found[0])
    bound, per = min(proved, value), goal.per_unit
    engine.tell(goal.name, value / per, bound / per)
    return StageReport(goal.name, value / per, bound / per, kind, goal.unit, value <= bound, engine.seconds - began)


def _close_sooner(engine: Engine, plan: Incumbent, task: Task) -> None:
    """Leave less trench open without a search tree, which is all that gets far in a long job."""
    network = plan.frame.network
    if task.amount(plan.starts) <= task.least or engine.stopped:
        return
    last = max(int(s.ends[-1]) for s in plan.frame.spans.values())
    search = RuinAndRecreate(
        network,
        plan.schedule.dates,
        last_finish=plan.frame.axis.end_clock(last),
        seed=engine.options.seed + task.round,
    )
    search.run(
        int(engine.options.exposure_effort * INSERTED_PER_EFFORT / 2),
        lambda: engine.stopped,
        lambda value: engine.tell("exposure", round(value, 1), None),
    )
    plan.starts = starts_of(plan.frame, dated(network, search.dates))


def _with_same_nights(engine: Engine, plan: Incumbent, task: Task, effort: float) -> float:
    """Search first among plans that leave every stretch open over the same nights, which are far fewer.

    Returns the effort that is left for the search of all plans.
    """
    small = is_small(plan.frame.network)
    same = replace(task, frame=same_nights(plan.frame, plan.starts), kept=())
    plan.starts, _ = better(engine, same, plan.starts, SAME_NIGHTS_SHARE * effort if small else effort)
    return (1 - SAME_NIGHTS_SHARE) * effort if small else 0.0


def as_it_is(
    stages: Sequence[StageReport], goals: Sequence[Goal], network: Network, schedule: Schedule
) -> list[StageReport]:
    """Return the reports of stages for the plan as it is now: later stages may have bettered it, or given some up."""
    values = {g.name: round(g.amount(network, schedule) / g.per_unit, 4) for g in goals}
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


def as_early(engine: Engine, plan: Incumbent) -> StageReport:
    """Move everything as early as the decisions of the plan allow."""
    began, network = engine.seconds, plan.frame.network
    dates = move_early(network, plan.schedule)
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
