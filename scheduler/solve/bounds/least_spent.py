"""The least a plan must be charged: each charge counted alone, by looks, days of work, comings and nights.

Days at work are at least as many as the longest days that together hold all the work of a party. A party comes once
for each cluster of days in which some of its work must lie, when clusters are farther apart than it stays on site.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import accumulate, pairwise

import numpy as np

from scheduler.costs.charges import Charge
from scheduler.costs.counted import (
    Comings,
    Counted,
    DaysAtWork,
    DaysToFinish,
    NightsBetween,
    StretchesByDay,
    VisitDays,
    days_to_finish,
    least_visit_days,
)
from scheduler.measures import midnights
from scheduler.solve.bounds.least_exposure import least_nights_times
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.worktime.calendar import union


def least_spent(frame: TimeWindows, weighed: Iterable[Charge]) -> int:
    """Return what no plan of a frame goes below [cents]."""
    return sum(cents * least_of(frame, counted) for cents, counted in (c.priced for c in weighed if c.costs))


def least_of(frame: TimeWindows, counted: Counted) -> int:
    """Return how often any plan of a frame has what is counted at least."""
    match counted:
        case VisitDays():
            return least_visit_days(frame.network, counted)
        case Comings():
            return _least_comings(frame, counted)
        case DaysAtWork():
            return counted.times * _least_days(frame, counted)
        case StretchesByDay():
            return len(counted.stretches)
        case NightsBetween():
            return least_nights_times(frame, counted.spans) if counted.since == "start" else 0
        case DaysToFinish():
            earliest = max(int(s.ends[0]) for s in frame.spans.values())
            return days_to_finish(frame.network, counted, frame.axis.end_clock(earliest))
    return 0


def _least_days(frame: TimeWindows, counted: DaysAtWork) -> int:
    """Return how many of its longest days hold all the work of a party."""
    network = frame.network
    units = network.resource_by_id[counted.party].capacity
    needs = {a: dict(network.by_id[a].needs)[counted.party] for a in counted.activities}
    left = sum(times * network.by_id[a].work for a, times in needs.items())
    opened = union(network.calendars[key] for key in {network.by_id[a].calendar for a in counted.activities})
    night = (network.data_date, *midnights(network.clock, network.data_date, network.horizon), network.horizon)
    days = sorted((units * opened.open_ticks(a, b) for a, b in pairwise(night)), reverse=True)
    return next((n for n, held in enumerate(accumulate(days), 1) if held >= left), 1)


def _least_comings(frame: TimeWindows, counted: Comings) -> int:
    """Return in how many clusters of days some work of a party must lie, whatever else it does when."""
    network, party = frame.network, counted.party
    night = np.array(midnights(network.clock, network.data_date, network.horizon))
    may: dict[str, set[int]] = {}
    for activity in party.activities:
        spans = frame.spans[activity]
        begins = np.searchsorted(night, frame.axis.starts[spans.starts], side="right")
        ends = np.searchsorted(
            night, np.maximum(frame.axis.ends[spans.ends] - 1, frame.axis.starts[spans.starts]), side="right"
        )
        may[activity] = {d for a, b in {*zip(begins.tolist(), ends.tolist(), strict=True)} for d in range(a, b + 1)}
    days = sorted(set().union(*may.values()))
    breaks = [b for a, b in pairwise(days) if b - a - 1 > party.stay_days]
    if not breaks:
        return 1
    clusters = {frozenset(np.searchsorted(breaks, sorted(on), side="right").tolist()) for on in may.values()}
    return max(1, sum(len(c) == 1 for c in clusters))
