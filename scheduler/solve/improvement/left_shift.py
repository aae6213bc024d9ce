"""Everything as early as the decisions of a plan allow: the last stage.

Activities are moved forward one by one where they fit. None moves so far that a stretch stands
open, or plates lie, over one more night, a look changes its visit, a party comes one more time, or a kept
appointment is missed.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping
from statistics import fmean

from scheduler.measures import counted_nights, midnights, runs_on_site
from scheduler.network.dates import Propagation
from scheduler.network.lowering import lower
from scheduler.network.model import Mobilisation, Network
from scheduler.schedule import Schedule, Span
from scheduler.solve.first_plan.calendar_fit import CalendarFit
from scheduler.solve.first_plan.partial_schedule import PartialSchedule, plannable

ROUNDS = 3


def move_early(network: Network, schedule: Schedule) -> dict[str, Span]:
    """Return the dates of a plan with everything moved as early as its decisions allow."""
    job = plannable(network)
    partial = PartialSchedule(job, Propagation(job), CalendarFit(job))
    partial.insert_all(schedule.dates)
    floors = _floors(network, schedule)
    parties: dict[str, list[Mobilisation]] = {}
    for party in network.mobilisations:
        for activity in party.activities:
            parties.setdefault(activity, []).append(party)
    for _ in range(ROUNDS):
        moved = [_move(partial, a, floors.get(a, 0), parties.get(a, [])) for a in _in_turn(partial)]
        if not any(moved):
            break
    return dict(partial.spans)


def mean_start_days(network: Network, dates: Mapping[str, Span]) -> float:
    """Return the mean start of all activities, in days from the data date."""
    if not dates:
        return 0.0
    ticks = fmean(start for start, _ in dates.values()) - network.data_date
    return ticks * network.clock.tick_minutes / 1440


def _in_turn(partial: PartialSchedule) -> list[str]:
    return sorted(partial.spans, key=lambda a: (partial.spans[a], a))


def _move(partial: PartialSchedule, activity: str, least: int, parties: list[Mobilisation]) -> bool:
    runs = [runs_on_site(partial.network, p, partial.spans) for p in parties]
    old, _ = partial.remove(activity)
    floor = partial.propagation.allowed_from(activity, max(least, partial.floor(activity)))
    start = old if floor is None else partial.earliest(activity, floor)
    partial.insert(activity, old if start is None else min(start, old))
    if any(runs_on_site(partial.network, p, partial.spans) > n for p, n in zip(parties, runs, strict=True)):
        partial.remove(activity)
        partial.insert(activity, old)
    return partial.spans[activity][0] < old


def _floors(network: Network, schedule: Schedule) -> dict[str, int]:
    """Return the ticks before which activities must not move, by the decisions of a plan."""
    floors: dict[str, int] = {}

    def raise_to(activity: str, tick: int) -> None:
        floors[activity] = max(floors.get(activity, 0), tick)

    night = midnights(network.clock, network.data_date, network.horizon)
    for stretch in counted_nights(network):
        if passed := bisect_right(night, schedule.dates[stretch.opens][0]):
            raise_to(stretch.opens, night[passed - 1])
    normal = lower(network)
    for group in normal.look_groups:
        for look in group.looks:
            window = network.calendars[group.calendar].window_at(schedule.dates[look][0])
            if window is not None:
                raise_to(look, window[0])
    broken = normal.broken(schedule.dates)
    for bound in (b for record, bounds in normal.priced.items() if record not in broken for b in bounds):
        if bound.sense != "max" and bound.edge == "start":
            raise_to(bound.activity, bound.at)
    return floors
