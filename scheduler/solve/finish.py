"""The first stage: the earliest finish, with proof."""

from __future__ import annotations

from dataclasses import dataclass

from scheduler.solve.bounds import finish_lower_bound
from scheduler.solve.engine import Engine
from scheduler.solve.frame import Frame
from scheduler.solve.model import add_finish, build, starts_of
from scheduler.solve.order import Order
from scheduler.solve.outcome import Stage
from scheduler.solve.serial import generate

NAME = "finish"
SERIAL_SECONDS = 1.0


@dataclass(frozen=True)
class Finish:
    """The best finish found and its bound [work ticks], with the starts that give it."""

    starts: dict[str, int] | None
    value: int
    bound: int
    stage: Stage
    impossible: bool = False


def best_finish(engine: Engine, frame: Frame, order: Order) -> Finish:
    """Return the earliest finish, beginning from a serial plan where there is one."""
    began = engine.seconds
    bound, kind = max(int(s.ends[0]) for s in frame.spans.values()), "longest path"
    last = len(frame.axis)
    serial = generate(frame.network, budget_seconds=engine.options.start_effort)
    hint = None
    if serial is not None and _keeps_target(frame, serial.finish):
        hint = starts_of(frame, serial)
        last = frame.axis.last_end(serial.finish)
        engine.tell(NAME, in_days(frame, last), in_days(frame, bound))
    if hint is not None and last > bound:
        counted, words = finish_lower_bound(frame.network, frame.axis.end_clock(last))
        if frame.axis.last_end(counted) > bound:
            bound, kind = min(frame.axis.last_end(counted), last), words
    if hint is not None and last <= bound:
        return Finish(hint, last, bound, _stage(frame, last, bound, kind, engine.seconds - began))
    search = build(frame, order)
    finish = add_finish(search, bound, last)
    search.model.minimize(finish)
    found = engine.run(
        search,
        effort=engine.options.finish_effort,
        hint=hint,
        listen=lambda value, least: engine.tell(NAME, in_days(frame, int(value)), in_days(frame, int(least))),
    )
    starts = found.starts or hint
    value = int(found.value) if found.starts else last
    if found.bound > bound:
        bound, kind = min(int(found.bound), value), "search"
    stage = _stage(frame, value, bound, kind, engine.seconds - began)
    return Finish(starts, value, bound, stage, impossible=found.impossible)


def _keeps_target(frame: Frame, finish: int) -> bool:
    target = frame.network.target
    return target is None or finish <= target.at


def in_days(frame: Frame, end: int) -> float:
    """Return an end in days of elapsed time from the data date."""
    ticks = frame.axis.end_clock(end) - frame.network.data_date
    return round(ticks * frame.network.clock.tick_minutes / 1440, 4)


def _stage(frame: Frame, value: int, bound: int, kind: str, seconds: float) -> Stage:
    return Stage(NAME, in_days(frame, value), in_days(frame, bound), kind, "days", value <= bound, seconds)
