"""Solving a network: the finish with proof, then what may be had without giving it up."""

from __future__ import annotations

import threading
from collections.abc import Callable

from scheduler.network.model import Network
from scheduler.solve.engine import Engine
from scheduler.solve.finish import best_finish
from scheduler.solve.frame import Frame
from scheduler.solve.model import schedule_of
from scheduler.solve.order import Order
from scheduler.solve.outcome import Options, Outcome, Progress, Status


def solve(
    network: Network,
    options: Options | None = None,
    progress: Callable[[Progress], None] | None = None,
    stop: threading.Event | None = None,
) -> Outcome:
    """Return the best plan of a network that the efforts in `options` find, and what is proved of it.

    `progress` is called from this thread and from solver threads. Setting `stop` ends the
    solve soon, with the best plan so far.
    """
    engine = Engine(options or Options(), progress, stop)
    frame = Frame(network)
    if not frame.narrow():
        return Outcome(Status.INFEASIBLE, None, seconds=engine.seconds)
    first = best_finish(engine, frame, Order(network))
    if first.starts is None:
        status = Status.INFEASIBLE if first.impossible else Status.STOPPED if engine.stopped else Status.UNKNOWN
        return Outcome(status, None, seconds=engine.seconds, finish_bound=frame.axis.end_clock(first.bound))
    status = Status.OPTIMAL if first.stage.proved else Status.STOPPED if engine.stopped else Status.FEASIBLE
    return Outcome(
        status,
        schedule_of(frame, first.starts),
        stages=(first.stage,),
        seconds=engine.seconds,
        finish_bound=frame.axis.end_clock(first.bound),
    )
