"""Solving a network: the finish with proof, then what may be had without giving it up."""

from __future__ import annotations

import copy
import threading
from collections.abc import Callable, Sequence
from dataclasses import replace

from scheduler.network.model import Network
from scheduler.network.open_at_once import open_together
from scheduler.schedule import Schedule
from scheduler.solve.finish import Finish, best_finish, handed_over
from scheduler.solve.formulation.constraint_model import schedule_of, starts_of
from scheduler.solve.formulation.dated import dated
from scheduler.solve.formulation.engine import Engine
from scheduler.solve.formulation.infeasible_core import conflict_core
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.goals import EVERY_GOAL, Cost, Goal
from scheduler.solve.improvement.left_shift import move_early
from scheduler.solve.outcome import FINISH, Options, Outcome, Progress, StageReport, Status
from scheduler.solve.stages import Incumbent, as_early, as_it_is, goals_of, in_money, pursue, pursue_all, steadier

DAYS_FOR_COST = 10.0
"""How far past its best the finish may go where all is weighed in money."""
DAYS_TRIED = (0.0, 1.0, DAYS_FOR_COST)
"""How far it may go in each search for less money, one after the other: a choice."""


def solve(
    network: Network,
    options: Options | None = None,
    progress: Callable[[Progress], None] | None = None,
    stop: threading.Event | None = None,
    begun: Outcome | None = None,
    known: Sequence[Schedule] = (),
) -> Outcome:
    """Return the best plan of a network that the efforts in `options` find, and what is proved of it.

    `begun` is the outcome of the same network solved for its finish alone: its finish is not
    searched for again. `known` are plans of the same network made for other aims: where all is
    weighed in money, the search begins with the cheapest plan known, so that none is returned
    that costs more. A network without activities has an empty plan, which is the best one.

    `progress` is called from this thread and from solver threads. Setting `stop` ends the
    solve soon, with the best plan so far.
    """
    engine = Engine(options or Options(), progress, stop)
    if not network.activities:
        return _nothing_to_do(network)
    frame = TimeWindows(network)
    whole = copy.copy(frame)
    if open_together(network) or not frame.narrow():
        return _impossible(engine, whole)
    order = PrecedenceOrder(network)
    first = handed_over(frame, begun) or best_finish(engine, frame, order)
    if first.starts is None:
        if first.impossible:
            return _impossible(engine, whole)
        status = Status.STOPPED if engine.stopped else Status.UNKNOWN
        return Outcome(status, None, seconds=engine.seconds, finish_bound=frame.axis.end_clock(first.bound))
    plan = Incumbent(frame, order, first.starts)
    stages = [first.stage, *_later_stages(engine, plan, first, known)]
    stages = as_it_is(stages, EVERY_GOAL, network, plan.schedule)
    status = Status.OPTIMAL if stages[0].proved else Status.STOPPED if engine.stopped else Status.FEASIBLE
    return Outcome(
        status,
        plan.schedule,
        stages=tuple(stages),
        seconds=engine.seconds,
        finish_bound=frame.axis.end_clock(first.bound),
    )


def pursue_from(
    network: Network,
    begun: Outcome,
    start: Schedule,
    goals: Sequence[tuple[Goal, float]],
    *,
    days: float,
    options: Options,
    only_if_better: bool = False,
    progress: Callable[[Progress], None] | None = None,
    stop: threading.Event | None = None,
) -> Outcome:
    """Return what other goals, each with its effort, make of a plan: none worse by the first of them.

    `begun` is an outcome of the network that settled its finish, `start` a plan that ends at most `days` after that.
    With `only_if_better` the goals after the first are looked at only where that one was bettered.
    """
    engine, frame = Engine(options, progress, stop), TimeWindows(network)
    if not frame.narrow():
        raise ValueError("the plan at hand keeps every rule")
    first = handed_over(frame, begun)
    assert first is not None, "the outcome has a plan"
    plan = Incumbent(allowing(frame, first.value, days), PrecedenceOrder(network), starts_of(frame, start))
    known = goals[0][0].amount(network, start)
    stages = pursue_all(engine, plan, goals[:1])
    if not only_if_better or goals[0][0].amount(network, plan.schedule) < known:
        stages += pursue_all(engine, plan, goals[1:])
    stages += [*steadier(engine, plan), as_early(engine, plan)]
    stages = as_it_is([first.stage, *stages], EVERY_GOAL, network, plan.schedule)
    status = Status.OPTIMAL if stages[0].proved else Status.FEASIBLE
    bound = frame.axis.end_clock(first.bound)
    return Outcome(status, plan.schedule, tuple(stages), engine.seconds, bound)


def _later_stages(engine: Engine, plan: Incumbent, first: Finish, known: Sequence[Schedule]) -> list[StageReport]:
    options, network, whole = engine.options, plan.frame.network, plan.frame
    if options.only_finish or engine.stopped:
        return []
    plan.frame = allowing(whole, first.value, options.slack_days)
    stages = pursue_all(engine, plan, goals_of(network, options))
    if options.objective == "cost":
        early = dated(network, move_early(network, plan.schedule))
        begin_from = [schedule_of(whole, first.starts or plan.starts), plan.schedule, early, *known]
        plan.frame, plan.kept = allowing(whole, first.value, DAYS_FOR_COST), []
        plan.starts = _cheapest(plan.frame, begin_from)
        if not engine.stopped:  # else the cheapest seen is the plan
            stages = [_in_money(engine, plan, first.value, whole)]
    return [*stages, *steadier(engine, plan), as_early(engine, plan)]


def _in_money(engine: Engine, plan: Incumbent, finish: int, whole: TimeWindows) -> StageReport:
    """Make `plan` the cheapest found; first of those that end soon after the best finish, then of later ones as well.

    A search over many days gets less far for the same effort, so the short one comes first.
    """
    began, ((_, whole_effort),) = engine.seconds, in_money(engine.options)
    effort = whole_effort / len(DAYS_TRIED)
    for days in DAYS_TRIED:
        frame = allowing(whole, finish, days)
        if days < DAYS_TRIED[-1] and (engine.stopped or not _fits(frame, plan.schedule)):
            continue
        plan.frame, plan.kept = frame, []
        stage = pursue(engine, plan, Cost(), effort, every_plan=days == DAYS_TRIED[-1])
    return replace(stage, seconds=engine.seconds - began)


def _fits(frame: TimeWindows, plan: Schedule) -> bool:
    return plan.finish <= frame.axis.end_clock(max(int(spans.ends[-1]) for spans in frame.spans.values()))


def _cheapest(frame: TimeWindows, plans: Sequence[Schedule]) -> dict[str, int]:
    """Return the starts [work ticks] of the plan that costs least of those that fit a frame."""
    fitting = (p for p in plans if _fits(frame, p))
    return starts_of(frame, min(fitting, key=lambda plan: Cost().amount(frame.network, plan)))


def allowing(frame: TimeWindows, finish: int, days: float) -> TimeWindows:
    """Return a frame in which all ends by a finish [work tick] and so many days more."""
    clock = frame.network.clock
    last = frame.axis.last_end(frame.axis.end_clock(finish) + clock.ticks(days=days))
    room = frame.until(max(last, finish))
    assert room is not None, "the plan at hand ends by then"
    return room


def _nothing_to_do(network: Network) -> Outcome:
    schedule = dated(network, {})
    stage = StageReport(FINISH, 0.0, 0.0, "no activities", "days", proved=True, seconds=0.0)
    return Outcome(Status.OPTIMAL, schedule, stages=(stage,), finish_bound=schedule.finish)


def _impossible(engine: Engine, frame: TimeWindows) -> Outcome:
    effort = engine.options.conflict_effort
    conflict = conflict_core(frame.network, effort, engine.stop) if effort > 0 else None
    return Outcome(Status.INFEASIBLE, None, seconds=engine.seconds, conflict=tuple(conflict or ()))
