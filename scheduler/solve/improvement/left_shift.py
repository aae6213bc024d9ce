"""Everything as early as the decisions of a plan allow: the last stage.

Activities are moved forward one by one where they fit, then all that a party does on one day together: to move one
piece of it alone may cost a day more. None moves so far that a stretch stands open over one more night, a look changes
its visit, a kept appointment is missed, or days at work, comings and nights that are paid for cost more.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from statistics import fmean

from scheduler.costs.charges import charges
from scheduler.costs.counted import Counted, WaitsBetweenLooks, activities_of, count
from scheduler.measures import days_on_site, midnights
from scheduler.network.dates import Propagation
from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.schedule import Schedule, Span
from scheduler.solve.first_plan.calendar_fit import CalendarFit
from scheduler.solve.first_plan.partial_schedule import PartialSchedule, plannable
from scheduler.steadiness import Steadiness

Paid = list[tuple[int, Counted]]
"""Cents for each of what is counted, and what."""
ROUNDS = 3
DAYS_TRIED = 5
"""So many days are tried for all that a party does on one day, from the first on that they may have: a choice."""


def move_early(network: Network, schedule: Schedule, *, steady: bool = False) -> dict[str, Span]:
    """Return the dates of a plan with everything moved as early as its decisions allow.

    With `steady` nobody moves more between stretches for it, and closing hours cut no more work into minutes.
    """
    job = plannable(network)
    partial = PartialSchedule(job, Propagation(job), CalendarFit(job))
    partial.insert_all(schedule.dates)
    floors = _floors(network, schedule)
    paid: dict[str, Paid] = {}
    for cents, counted in (c.priced for c in charges(network) if c.costs):
        for activity in dict.fromkeys(activities_of(counted)):
            paid.setdefault(activity, []).append((cents, counted))
    at_work = Steadiness(network, schedule.dates) if steady else None
    for _ in range(ROUNDS):
        moved = [_move(partial, a, floors.get(a, 0), paid.get(a, []), at_work) for a in _in_turn(partial)]
        moved += [_move_together(partial, day, floors, paid, at_work) for day in _days_of_work(partial)]
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


def _move(partial: PartialSchedule, activity: str, least: int, paid: Paid, at_work: Steadiness | None) -> bool:
    """Move an activity as early as it fits, or where another day would cost more as early as fits in its own."""
    network, before = partial.network, partial.spans[activity]
    _shift(partial, activity, least)
    moved = partial.spans[activity]
    if paid and days_on_site(network, moved) != days_on_site(network, before):
        spent = _spent(partial, paid)
        _put(partial, activity, before[0])
        if spent <= _spent(partial, paid):
            _put(partial, activity, moved[0])
        else:
            night = _nights(network)
            today = bisect_right(night, before[0])
            _shift(partial, activity, max(least, night[today - 1] if today else 0))
            if days_on_site(network, partial.spans[activity]) != days_on_site(network, before):
                _put(partial, activity, before[0])
    if partial.spans[activity][0] < before[0] and at_work is not None:
        if at_work.worse(partial.spans, [activity]) > 0:
            _put(partial, activity, before[0])
        else:
            at_work.keep()
    return partial.spans[activity][0] < before[0]


def _days_of_work(partial: PartialSchedule) -> list[list[str]]:
    """Return what each party begins on each day, where that is more than one thing, in order of time."""
    night, days = _nights(partial.network), dict[tuple[int, str], list[str]]()
    for activity in _in_turn(partial):
        if trade := partial.network.by_id[activity].trade:
            days.setdefault((bisect_right(night, partial.spans[activity][0]), trade), []).append(activity)
    return [work for _, work in sorted(days.items()) if len(work) > 1]


def _move_together(
    partial: PartialSchedule,
    work: list[str],
    floors: Mapping[str, int],
    paid: Mapping[str, Paid],
    at_work: Steadiness | None,
) -> bool:
    """Move what a party does on a day to the first earlier one that takes it all, costs no more and is as steady."""
    night = _nights(partial.network)
    charged = list(dict.fromkeys(charge for a in work for charge in paid.get(a, [])))
    spent, today = _spent(partial, charged), bisect_right(night, partial.spans[work[0]][0])
    partial.begin_log()
    if _put_all(partial, work, floors):
        first = bisect_right(night, max(partial.spans[a][0] for a in work))
        for day in range(first, min(today, first + DAYS_TRIED)):
            partial.undo_log()
            begins = night[day - 1] if day else 0
            fits = _put_all(partial, work, {a: max(floors.get(a, 0), begins) for a in work})
            if (
                fits
                and max(partial.spans[a][0] for a in work) < night[day]
                and _spent(partial, charged) <= spent
                and (at_work is None or at_work.worse(partial.spans, work) <= 0)
            ):
                if at_work is not None:
                    at_work.keep()
                return True
    partial.undo_log()
    return False


def _put_all(partial: PartialSchedule, work: Sequence[str], least: Mapping[str, int]) -> bool:
    """Move activities, in turn, as early as they fit from a tick each; return whether all of them do, and no later."""
    old = [partial.remove(a)[0] for a in work]
    for activity, latest in zip(work, old, strict=True):
        start = _earliest(partial, activity, least.get(activity, 0))
        if start is None or start > latest:
            return False
        partial.insert(activity, start)
    return True


def _nights(network: Network) -> tuple[int, ...]:
    return midnights(network.clock, network.data_date, network.horizon)


def _shift(partial: PartialSchedule, activity: str, least: int) -> None:
    """Move an activity as early as it fits from a tick on."""
    old, _ = partial.remove(activity)
    start = _earliest(partial, activity, least)
    partial.insert(activity, old if start is None else min(start, old))


def _earliest(partial: PartialSchedule, activity: str, least: int) -> int | None:
    """Return the first start from a tick on at which an activity fits; None if there is none."""
    floor = partial.propagation.allowed_from(activity, max(least, partial.floor(activity)))
    return None if floor is None else partial.earliest(activity, floor)


def _put(partial: PartialSchedule, activity: str, start: int) -> None:
    partial.remove(activity)
    partial.insert(activity, start)


def _spent(partial: PartialSchedule, paid: Paid) -> int:
    """Return what some charges come to [cents]."""
    so_far = Schedule(partial.spans)
    return sum(cents * count(partial.network, so_far, counted) for cents, counted in paid)


def _awaited(network: Network) -> list[str]:
    """Return the looks of inspectors whose waiting on site is paid for: pulled apart, they would wait longer."""
    waits = (c.counted for c in charges(network) if c.costs and isinstance(c.counted, WaitsBetweenLooks))
    paid = {record for counted in waits for record in counted.inspections}
    return [look for group in lower(network).look_groups if group.record in paid for look in group.looks]


def _floors(network: Network, schedule: Schedule) -> dict[str, int]:
    """Return the ticks before which activities must not move, by the decisions of a plan."""
    floors: dict[str, int] = {}

    def raise_to(activity: str, tick: int) -> None:
        floors[activity] = max(floors.get(activity, 0), tick)

    night = _nights(network)
    for stretch in (o for o in network.openings if o.length_ft > 0):
        if passed := bisect_right(night, schedule.dates[stretch.opens][0]):
            raise_to(stretch.opens, night[passed - 1])
    normal = lower(network)
    for group in normal.look_groups:
        for look in group.looks:
            window = network.calendars[group.calendar].window_at(schedule.dates[look][0])
            if window is not None:
                raise_to(look, window[0])
    for look in _awaited(network):
        raise_to(look, schedule.dates[look][0])
    broken = normal.broken(schedule.dates)
    for bound in (b for record, bounds in normal.priced.items() if record not in broken for b in bounds):
        if bound.sense != "max" and bound.edge == "start":
            raise_to(bound.activity, bound.at)
    return floors
