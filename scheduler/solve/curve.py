"""What more time buys: the least exposure for several allowances past the best finish."""

from __future__ import annotations

import threading
from collections.abc import Sequence

from scheduler.network.model import Network
from scheduler.solve.engine import Engine
from scheduler.solve.finish import best_finish
from scheduler.solve.frame import Frame
from scheduler.solve.goals import Exposure
from scheduler.solve.order import Order
from scheduler.solve.outcome import CurvePoint, Options
from scheduler.solve.run import allowing
from scheduler.solve.stages import Plan, less_open

SLACK_DAYS = (0.0, 0.5, 1.0, 2.0)


def curve(
    network: Network,
    slack_days: Sequence[float] = SLACK_DAYS,
    options: Options | None = None,
    stop: threading.Event | None = None,
) -> tuple[CurvePoint, ...]:
    """Return the finish and exposure reached for each allowance of days; empty when no plan is found.

    The most time is tried first: no less time can do better than its bound, and a plan that
    leaves time over counts for every allowance that it keeps.
    """
    engine = Engine(options or Options(), None, stop)
    frame = Frame(network)
    if not network.openings or not frame.narrow():
        return ()
    order = Order(network)
    first = best_finish(engine, frame, order)
    if first.starts is None:
        return ()
    points: list[CurvePoint] = []
    reached: list[dict[str, int]] = [first.starts]
    least = 0
    for days in sorted(slack_days, reverse=True):
        room = allowing(frame, first.value, days)
        plan = Plan(room, order, min((s for s in reached if _fits(room, s)), key=lambda s: _exposure(room, s)))
        stage = less_open(engine, plan, least)
        least = max(least, round(stage.bound * Exposure().per_unit))
        reached.append(plan.starts)
        points.append(CurvePoint(days, plan.schedule.finish, stage.value, stage.bound, stage.proved))
    return tuple(reversed(points))


def _fits(frame: Frame, starts: dict[str, int]) -> bool:
    return all(start <= frame.spans[a].starts[-1] for a, start in starts.items())


def _exposure(frame: Frame, starts: dict[str, int]) -> int:
    return Exposure().amount(frame.network, Plan(frame, Order(frame.network), starts).schedule)
