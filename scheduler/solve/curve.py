"""What more time buys: the least exposure for several allowances past the best finish."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

from scheduler.network.model import Network
from scheduler.schedule import Schedule
from scheduler.solve.finish import best_finish
from scheduler.solve.formulation.constraint_model import schedule_of, starts_of
from scheduler.solve.formulation.engine import Engine
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.goals import Exposure
from scheduler.solve.improvement.left_shift import move_early
from scheduler.solve.outcome import Options, Progress, SolvedPoint
from scheduler.solve.run import allowing
from scheduler.solve.stages import Incumbent, pursue

SLACK_DAYS = (0.0, 0.5, 1.0, 2.0)
EFFORT_SHARE = 0.5
"""Of the effort that a plan's own exposure is worth, for each point."""


@dataclass(frozen=True, slots=True)
class Known:
    """A plan at the best finish that needs no solving again: its exposure, and the bound of that."""

    schedule: Schedule
    exposure: float
    bound: float


def curve(
    network: Network,
    slack_days: Sequence[float] = SLACK_DAYS,
    options: Options | None = None,
    stop: threading.Event | None = None,
    known: Known | None = None,
    progress: Callable[[Progress], None] | None = None,
) -> tuple[SolvedPoint, ...]:
    """Return the finish and exposure reached for each allowance of days; empty when no plan is found.

    The most time is tried first: no less time can do better than its bound, and a plan that
    leaves time over counts for every allowance that it keeps. `known` saves solving for no
    allowance at all. `progress` hears of each allowance that is worked out, under the name "curve".
    """
    options = options or Options()
    frame = TimeWindows(network)
    if not slack_days or not network.openings or not frame.narrow():
        return ()
    order = PrecedenceOrder(network)
    engine = Engine(options, progress, stop)
    first = _first(engine, frame, order, known)
    if first is None:
        return ()
    finish = frame.axis.last_end(schedule_of(frame, first).finish)
    per = Exposure().per_unit
    few = replace(options, workers=1, exposure_effort=EFFORT_SHARE * options.exposure_effort)

    def point(days: float, reached: Sequence[dict[str, int]], least: int) -> tuple[SolvedPoint, dict[str, int]]:
        room = allowing(frame, finish, days)
        fitting = [s for s in reached if all(at <= room.spans[a].starts[-1] for a, at in s.items())]
        plan = Incumbent(room, order, min(fitting, key=lambda s: Exposure().amount(network, schedule_of(room, s))))
        if days == 0 and known is not None:
            bound = max(least / per, min(known.bound, known.exposure))
            return SolvedPoint(0.0, plan.schedule.finish, known.exposure, bound, known.exposure <= bound), plan.starts
        stage = pursue(Engine(few, None, stop), plan, Exposure(), few.exposure_effort, least)
        ends = max(finish for _, finish in move_early(network, plan.schedule).values())
        return SolvedPoint(days, ends, stage.value, stage.bound, stage.proved), plan.starts

    def told(days: float, reached: Sequence[dict[str, int]], least: int) -> tuple[SolvedPoint, dict[str, int]]:
        found = point(days, reached, least)
        engine.tell("curve", found[0].exposure, found[0].bound, f"{days:g} days given up")
        return found

    most = max(slack_days)
    widest, plan = told(most, [first], 0)
    least = round(widest.bound * per)
    with ThreadPoolExecutor(max(1, options.workers)) as pool:
        others = list(pool.map(lambda d: told(d, [first, plan], least)[0], [d for d in slack_days if d != most]))
    return _level(sorted([*others, widest], key=lambda p: p.slack_days))


def _first(engine: Engine, frame: TimeWindows, order: PrecedenceOrder, known: Known | None) -> dict[str, int] | None:
    return starts_of(frame, known.schedule) if known is not None else best_finish(engine, frame, order).starts


def _level(points: Sequence[SolvedPoint]) -> tuple[SolvedPoint, ...]:
    """Let each point be as good as those with less time, and its bound hold for those too."""
    levelled: list[SolvedPoint] = []
    for p in points:
        best = levelled[-1] if levelled else p
        if best.exposure <= p.exposure:
            p = replace(p, finish=min(p.finish, best.finish), exposure=best.exposure, proved=best.exposure <= p.bound)
        levelled.append(p)
    for i in reversed(range(len(levelled) - 1)):
        p = levelled[i]
        bound = min(max(p.bound, levelled[i + 1].bound), p.exposure)
        levelled[i] = replace(p, bound=bound, proved=p.exposure <= bound)
    return tuple(levelled)
