"""The least each stretch of trench can stand open, whatever else is done when.

For each day on which a stretch may be dug, the earliest its cover can end is worked out along
the links from the one to the other; the day with the fewest nights between gives the bound.
"""

from __future__ import annotations

from collections.abc import Sequence
from graphlib import CycleError, TopologicalSorter

import numpy as np

from scheduler.network.dates import reached
from scheduler.network.lowering import lower
from scheduler.network.model import Link
from scheduler.solve.formulation.nights import feet, night_ticks
from scheduler.solve.formulation.time_windows import AFTER_EDGE, BEFORE_EDGE, TimeWindows
from scheduler.worktime.axis import Ticks


def least_exposure(frame: TimeWindows) -> int:
    """Return an exposure that no plan of a frame goes below [tenths of ft nights]."""
    alone = nights_alone(frame)
    return sum(feet(o) * alone[o.id] for o in frame.network.openings if o.id in alone)


def nights_alone(frame: TimeWindows) -> dict[str, int]:
    """Return, by opening that has a length, the fewest nights that it stands open in any plan of a frame."""
    openings = [o for o in frame.network.openings if feet(o) > 0]
    return dict(zip((o.id for o in openings), _least(frame, [(o.opens, o.closes) for o in openings]), strict=True))


def least_nights_times(frame: TimeWindows, spans: Sequence[tuple[str, str, int]]) -> int:
    """Return the least nights from the start of one activity to the finish of another, times an amount, summed up."""
    counted = [(opens, closes, amount) for opens, closes, amount in spans if amount > 0]
    least = _least(frame, [(opens, closes) for opens, closes, _ in counted])
    return sum(amount * nights for (_, _, amount), nights in zip(counted, least, strict=True))


def _least(frame: TimeWindows, pairs: Sequence[tuple[str, str]]) -> list[int]:
    """Return the fewest nights from the start of the first to the finish of the second, for each pair."""
    if not pairs:
        return []
    after: dict[str, list[str]] = {}
    before: dict[str, list[Link]] = {}
    for link in (k for k in lower(frame.network).links if not k.at_most):
        after.setdefault(link.before, []).append(link.after)
        before.setdefault(link.after, []).append(link)
    return [
        _least_nights(frame, opens, closes, before, reached([opens], lambda a: after.get(a, ())))
        for opens, closes in pairs
    ]


def _least_nights(frame: TimeWindows, opens: str, closes: str, before: dict[str, list[Link]], later: set[str]) -> int:
    """Return the fewest nights between two activities in any plan of the frame."""
    ticks, counts = night_ticks(frame)
    passed = np.concatenate(([0], np.cumsum(counts)))
    starts = frame.edge_ticks(opens, "start")
    day = np.searchsorted(ticks, starts, side="right")
    first = np.concatenate(([True], day[1:] != day[:-1]))
    ends = _earliest_ends(frame, opens, closes, before, later, np.flatnonzero(first))
    nights = passed[np.searchsorted(ticks, ends)] - passed[day[first]]
    return max(0, int(nights.min()))


def _earliest_ends(
    frame: TimeWindows, opens: str, closes: str, before: dict[str, list[Link]], later: set[str], chosen: Ticks
) -> Ticks:
    """Return the earliest end of the second activity, for each chosen span of the first."""
    far = len(frame.axis) + 1
    at: dict[str, Ticks] = {opens: chosen}
    ends = {a: np.append(frame.spans[a].ends, far) for a in later}
    starts = {a: np.append(frame.spans[a].starts, far) for a in later}
    try:
        needs = {a: {k.before for k in before.get(a, ()) if k.before in later} for a in later}
        sequence = list(TopologicalSorter(needs).static_order())
    except CycleError:
        sequence = [opens]
    for activity in sequence:
        if activity == opens:
            continue
        place = np.zeros(len(chosen), dtype=np.int64)
        for link in before.get(activity, ()):
            if link.before in at:
                edge = starts if BEFORE_EDGE[link.type] == "start" else ends
                source = edge[link.before][at[link.before]]
                due = np.append(frame.lag_map(link), far)[np.minimum(source, far)]
                target = starts if AFTER_EDGE[link.type] == "start" else ends
                place = np.maximum(place, np.searchsorted(target[activity], due))
        at[activity] = np.minimum(place, len(frame.spans[activity].starts))
        if activity == closes:
            break
    last = at.get(closes, np.zeros(len(chosen), dtype=np.int64))
    return ends[closes][last] if closes in later else np.full(len(chosen), frame.spans[closes].ends[0])
