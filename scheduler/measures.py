"""What a dated schedule amounts to: nights of open trench (exposure), renewals, comings to site."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping
from datetime import date, timedelta
from functools import lru_cache

from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.network.prices import Mobilisation
from scheduler.schedule import Span
from scheduler.worktime.calendar import merged
from scheduler.worktime.clock import Clock


@lru_cache(maxsize=16)
def midnights(clock: Clock, first: int, last: int) -> tuple[int, ...]:
    """Return the ticks of local midnights after `first` and before `last`."""
    day = clock.when(first).date()
    found = []
    while (tick := clock.midnight(day := day + timedelta(days=1))) < last:
        found.append(tick)
    return tuple(found)


def nights_open(network: Network, dates: Mapping[str, Span]) -> dict[str, int]:
    """Return, by opening, the midnights between the start of its dig and the finish of its fill."""
    return {o.id: nights_between(network, dates[o.opens][0], dates[o.closes][1]) for o in network.openings}


def nights_between(network: Network, first: int, last: int, *, or_at: bool = False) -> int:
    """Return the midnights after one tick and before another; with `or_at` one that falls on the first counts too."""
    night = midnights(network.clock, network.data_date, network.horizon)
    begun = bisect_left(night, first) if or_at else bisect_right(night, first)
    return max(0, bisect_left(night, last) - begun)


def open_ft(network: Network, dates: Mapping[str, Span], on: date) -> float:
    """Return the feet of trench that stand open at the midnight after a day; what has no dates is not opened."""
    night = network.clock.midnight(on + timedelta(days=1))
    dated = (o for o in network.openings if o.opens in dates and o.closes in dates)
    return sum(o.length_ft for o in dated if dates[o.opens][0] < night < dates[o.closes][1])


def worked(network: Network, activity: str, span: Span) -> list[Span]:
    """Return the stretches of a span in which an activity is really worked on; closed hours are left out."""
    pieces = []
    for opens, closes in network.calendar_of(activity).windows_from(span[0]):
        if opens >= span[1]:
            break
        pieces.append((max(opens, span[0]), min(closes, span[1])))
    return pieces


def opened(network: Network, first: int, last: int) -> list[Span]:
    """Return the stretches, from one tick to another, in which anybody with work may be at it."""
    used = {a.calendar for a in network.activities}
    return list(
        merged(
            (max(opens, first), min(closes, last))
            for key in used
            for opens, closes in network.calendars[key].windows
            if closes > first and opens < last
        )
    )


def waits_between_looks(
    network: Network, looks: Iterable[str], calendar: str, dates: Mapping[str, Span]
) -> dict[Span, int]:
    """Return, by the stretch from the first to the last look of each window of a calendar, the ticks without a look."""
    hours, by_window = network.calendars[calendar], dict[Span, list[Span]]()
    for span in (dates[k] for k in looks):
        by_window.setdefault(hours.window_at(span[0]) or span, []).append(span)
    waits = {}
    for spans in by_window.values():
        first, last = min(a for a, _ in spans), max(b for _, b in spans)
        waits[first, last] = max(0, last - first - sum(b - a for a, b in spans))
    return waits


def exposure(network: Network, dates: Mapping[str, Span]) -> float:
    """Return the feet of trench left open, summed over all nights [ft nights]."""
    nights = nights_open(network, dates)
    return sum(o.length_ft * nights[o.id] for o in network.openings)


def renewals_of(network: Network, dates: Mapping[str, Span]) -> tuple[str, ...]:
    """Return the ticket renewals that dated digs need, as far as they can be called in time."""
    needed = []
    for bounds in lower(network).renewable.values():
        last, limit = max(b.bounded(dates[b.activity]) for b in bounds), bounds[0].at
        for later in bounds[0].later:
            if last <= limit:
                break
            needed.append(later.id)
            limit = later.at
    return tuple(needed)


def days_on_site(network: Network, span: Span) -> tuple[int, int]:
    """Return the first and the last day of a span, counted from 0 at the data date."""
    night = midnights(network.clock, network.data_date, network.horizon)
    return bisect_right(night, span[0]), bisect_right(night, max(span[0], span[1] - 1))


def runs_on_site(network: Network, mobilisation: Mobilisation, dates: Mapping[str, Span]) -> int:
    """Return how often a party comes to site."""
    return len(stays_on_site(network, mobilisation, dates))


def stays_on_site(network: Network, mobilisation: Mobilisation, dates: Mapping[str, Span]) -> list[Span]:
    """Return the first and the last day of each coming of a party: runs of days, gaps no longer than its `stay_days`.

    Days are counted from 0 at the data date. Work in progress keeps its party on site from its first day to its last.
    """
    runs: list[Span] = []
    for first, last in sorted(days_on_site(network, dates[a]) for a in mobilisation.activities):
        if not runs or first - runs[-1][1] - 1 > mobilisation.stay_days:
            runs.append((first, last))
        else:
            runs[-1] = (runs[-1][0], max(runs[-1][1], last))
    return runs
