"""The last days of a plan searched anew, the rest of it left where it is.

A plan made in one pass often ends with the busiest party waiting for one last stretch: there is
nothing left to do meanwhile. So few activities are left by then that a search settles them.
"""

from __future__ import annotations

from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor

from scheduler.solve.formulation.constraint_model import add_finish, build
from scheduler.solve.formulation.engine import Engine, SearchResult
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.time_windows import TimeWindows

DAYS = (7.0, 12.0)
"""How far back from the finish is searched; few days are settled soon, more leave more room."""
ROUNDS = 2
"""Times that is done, each time from the best end so far."""


def better_end(
    engine: Engine,
    frame: TimeWindows,
    order: PrecedenceOrder,
    starts: dict[str, int],
    *,
    value: int,
    least: int,
    effort: float,
) -> tuple[dict[str, int], int]:
    """Return a plan with an earlier finish, and that finish; the plan itself when none is found.

    `value` is the finish so far and `least` its bound [work ticks]; `effort` is that of one
    search. Both lengths of `DAYS` are searched side by side and the better is gone on from.
    """

    def search(days: float) -> SearchResult | None:
        part = _end(frame, starts, value, days)
        if part is None:
            return None
        model = build(part, order)
        model.model.minimize(add_finish(model, least, value - 1))
        return engine.run(model, effort=effort, hint=starts)

    with ThreadPoolExecutor(max(1, engine.options.workers)) as pool:
        for _ in range(ROUNDS):
            if value <= least or engine.stopped:
                break
            found = [(round(f.value), f.starts) for f in pool.map(search, DAYS) if f is not None and f.starts]
            if not found:
                break
            value, starts = min(found, key=lambda f: f[0])
    return starts, value


def _end(frame: TimeWindows, starts: Mapping[str, int], value: int, days: float) -> TimeWindows | None:
    """Return the frame with all held that ends some days before the finish; None when the rest can't end sooner."""
    at = frame.axis.to_axis(frame.axis.end_clock(value) - frame.network.clock.ticks(days=days))
    spans = {}
    for activity, whole in frame.spans.items():
        i = int(whole.starts.searchsorted(starts[activity]))
        held = int(whole.ends[i]) <= at
        spans[activity] = whole.cut(i, i + 1) if held else whole.between(min(at, starts[activity]), value - 1)
    return frame.part(spans).until(value - 1)
