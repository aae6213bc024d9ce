"""The first stage: the earliest finish, with proof."""

from __future__ import annotations

from dataclasses import dataclass

from scheduler.network.model import Network
from scheduler.solve.bounds.destructive import finish_lower_bound
from scheduler.solve.first_plan.generate import generate
from scheduler.solve.formulation.constraint_model import add_finish, build, starts_of
from scheduler.solve.formulation.engine import Engine, SearchResult
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.improvement.last_days import better_end
from scheduler.solve.improvement.neighbourhoods import is_small
from scheduler.solve.outcome import FINISH, Outcome, StageReport

SEARCHED = 700
"""Jobs of more activities are searched for their finish only when no plan is found without."""
LONG = 600
"""Activities from which on the effort for the first plan grows with the job: only its end is searched then."""
GROWTH = 0.97
"""Power by which it grows; below 1 since each activity of a long job also takes longer to place.

A choice that keeps the wanted times of `python -m tests.benchmarks.scaling`."""
MOST_TIMES = 8.5
"""By how much it grows at most: `python -m tests.benchmarks.scaling --reaches 500` wants a minute."""
END_EFFORT = 0.1
"""Of one search of the end of a job of `LONG` activities; it grows as the job does."""


@dataclass(frozen=True)
class Finish:
    """The best finish found and its bound [work ticks], with the starts that give it."""

    starts: dict[str, int] | None
    value: int
    bound: int
    stage: StageReport
    impossible: bool = False


def handed_over(frame: TimeWindows, begun: Outcome | None) -> Finish | None:
    """Return the finish that an earlier solve of the same network reached; None where it reached none."""
    if begun is None or begun.schedule is None or begun.finish_bound is None or begun.stages[0].name != FINISH:
        return None
    value, bound = frame.axis.last_end(begun.schedule.finish), frame.axis.first_end(begun.finish_bound)
    return Finish(starts_of(frame, begun.schedule), value, min(value, bound), begun.stages[0])


def best_finish(engine: Engine, frame: TimeWindows, order: PrecedenceOrder) -> Finish:
    """Return the earliest finish, beginning from a plan made without search where there is one."""
    began = engine.seconds
    bound, kind = max(int(s.ends[0]) for s in frame.spans.values()), "links and hours"
    start, value = _first_plan(engine, frame, bound)
    if start is not None and value > bound and not engine.stopped:
        counted, words = finish_lower_bound(frame.network, frame.axis.end_clock(value))
        if frame.axis.first_end(counted) > bound:
            bound, kind = min(frame.axis.first_end(counted), value), words
        engine.tell(FINISH, in_days(frame, value), in_days(frame, bound))
    if start is not None and value > bound and len(start) > SEARCHED:
        effort = END_EFFORT * len(start) / LONG
        start, value = better_end(engine, frame, order, start, value=value, least=bound, effort=effort)
        engine.tell(FINISH, in_days(frame, value), in_days(frame, bound))
    starts, impossible = start, False
    if start is None or (value > bound and len(start) <= SEARCHED and not engine.stopped):
        found = _search(engine, frame, order, bound, start, value)
        impossible = found is None or found.impossible
        if found is not None and found.starts is not None:
            starts, value = found.starts, round(found.value)
        least = value if impossible and start is not None else 0 if found is None or impossible else round(found.bound)
        if least > bound:
            bound, kind = min(least, value), "search"
    stage = _stage(frame, value, bound, kind, engine.seconds - began)
    return Finish(starts, value, bound, stage, impossible=impossible and starts is None)


def _first_plan(engine: Engine, frame: TimeWindows, bound: int) -> tuple[dict[str, int] | None, int]:
    """Return the starts and the finish of a plan made without search; no starts if it finds none in time."""
    effort = engine.options.start_effort * effort_times(frame.network)
    plan = generate(frame.network, budget_seconds=effort, enough=frame.axis.end_clock(bound), stop=engine.stop)
    if plan is None or not _keeps_target(frame, plan.finish):
        return None, len(frame.axis)
    value = frame.axis.last_end(plan.finish)
    engine.tell(FINISH, in_days(frame, value), in_days(frame, bound))
    return starts_of(frame, plan), value


def effort_times(network: Network) -> float:
    """Return by how much more effort a job is worth than a short one."""
    return float(min(MOST_TIMES, max(1.0, len(network.activities) / LONG) ** GROWTH))


def _search(
    engine: Engine, frame: TimeWindows, order: PrecedenceOrder, bound: int, start: dict[str, int] | None, value: int
) -> SearchResult | None:
    """Search for a plan that ends before `value`; None when links and hours leave none."""
    room = frame if start is None else frame.until(value - 1)
    if room is None:
        return None
    search = build(room, order)
    search.model.minimize(add_finish(search, bound, value))

    def listen(better: float, least: float) -> None:
        engine.tell(FINISH, in_days(frame, round(better)), in_days(frame, max(bound, round(least))))

    presolve = is_small(frame.network)
    return engine.run(search, effort=engine.options.finish_effort, hint=start, presolve=presolve, listen=listen)


def _keeps_target(frame: TimeWindows, finish: int) -> bool:
    target = frame.network.target
    return target is None or finish <= target.at


def in_days(frame: TimeWindows, end: int) -> float:
    """Return an end in days of elapsed time from the data date."""
    ticks = frame.axis.end_clock(end) - frame.network.data_date
    return round(ticks * frame.network.clock.tick_minutes / 1440, 4)


def _stage(frame: TimeWindows, value: int, bound: int, kind: str, seconds: float) -> StageReport:
    return StageReport(FINISH, in_days(frame, value), in_days(frame, bound), kind, "days", value <= bound, seconds)
