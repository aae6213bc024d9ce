"""What an everyday upset would do to the finish, the order of the work kept: a lost day, a missed visit, slow work.

Nothing is planned anew here, so a re-planning may do better, never worse.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import date

from scheduler.explain.longer_work import TOLD_PERCENT, finish_with_longer_work
from scheduler.explain.sequence import sequence_of
from scheduler.network.dates import Propagation
from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.schedule import Schedule, Visit
from scheduler.spoken import day
from scheduler.worktime.calendar import Calendar, intersection, merged

VISITS = 2
"""How many of the next visits are looked at."""


def next_upsets(network: Network, schedule: Schedule, on: date) -> Iterator[tuple[str, int | None]]:
    """Yield what may go wrong next, from a day on, and the finish it would lead to [tick].

    The next day with work lost to rain, each of the next visits missed, then all own work slower than planned.
    """
    clock = network.clock
    begin = clock.midnight(on)
    starts = [start for start, finish in schedule.dates.values() if finish > max(start, begin)]
    if not starts:
        return
    wet = clock.when(max(min(starts), begin)).date()
    dawn = clock.midnight(wet)
    yield (
        f"Rain all of {day(wet)}",
        finish_without(network, schedule, dawn, dawn + clock.ticks(days=1)),
    )
    names = {group.record: group.name for group in lower(network).look_groups}
    coming = sorted((v for v in schedule.visits if v.start >= begin), key=lambda v: (v.start, v.id))
    for visit in coming[:VISITS]:
        what = f"Nobody comes for “{names[visit.rule]}” on {clock.spoken(visit.start)}"
        yield what, finish_after_missed(network, schedule, visit)
    if network.margin_percent < TOLD_PERCENT:
        longer = f"All own work from then on takes {TOLD_PERCENT} % longer than quantities give"
        yield longer, finish_with_longer_work(network, schedule, TOLD_PERCENT, begin)


def finish_without(network: Network, schedule: Schedule, start: int, finish: int) -> int | None:
    """Return when the job ends if nobody works from `start` to `finish` [ticks]; None when the hours known run out."""
    rest = Calendar("rest", "other times", merged([(0, start), (finish, max(finish, network.horizon))]))
    shut = {c.id: intersection(c.id, c.name, (c, rest)) for c in network.calendars.values()}
    return _finish(replace(network, calendars=shut), schedule, {})


def finish_after_missed(network: Network, schedule: Schedule, visit: Visit) -> int | None:
    """Return when the job ends if a visit falls out and its looks wait for the authority's next hours."""
    group = next(g for g in lower(network).look_groups if g.record == visit.rule)
    window = network.calendars[group.calendar].window_at(visit.start)
    over = visit.finish if window is None else window[1]
    return _finish(network, schedule, dict.fromkeys(visit.looks, over))


def _finish(network: Network, schedule: Schedule, floors: Mapping[str, int]) -> int | None:
    """Push what must move, everything else staying where it is planned, in the order planned."""
    arcs = tuple(a.link for a in sequence_of(network, schedule).arcs)
    planned = {a: max(start, floors.get(a, 0)) for a, (start, _) in schedule.dates.items()}
    pushed = Propagation(network, arcs, bounds=lower(network).floors).forward(planned)
    return None if pushed is None else max(finish for _, finish in pushed.values())
