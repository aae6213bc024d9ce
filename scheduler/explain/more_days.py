"""Further days of work or of visits: the fewest that make a plan possible."""

from __future__ import annotations

import threading
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta
from itertools import combinations

from ortools.sat.python import cp_model

from scheduler.audit import audit
from scheduler.explain.possible import Ask, Change
from scheduler.explain.rules import Rule, without
from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.schedule import Schedule, Span
from scheduler.solve.formulation.constraint_model import build, schedule_of, starts_of
from scheduler.solve.formulation.engine import Engine
from scheduler.solve.formulation.nights import Nights
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.improvement.neighbourhoods import is_small
from scheduler.solve.outcome import Options
from scheduler.spoken import count, short_day
from scheduler.worktime.calendar import Calendar, Window

SUNDAY = 6
DAYS_AHEAD = 90
"""How far ahead further days are thought of."""
FEWEST_EFFORT = 3.0
"""Of the search for fewer days: with 2 the small site's target a day too early still asks for two days, with 3 for one;
with 20 no variant of `python -m tests.benchmarks.conflict_times` asks for fewer."""


def more_days(network: Network, rule: Rule, ask: Ask) -> Change | None:
    """Return the fewest further days of some hours, no Sundays, with which a plan exists; None if none do.

    No day can be spared. In a job that is searched whole none fewer are possible where that search ends
    within its effort; in a longer job no two were found to be served by one later day.
    """
    calendar = network.calendars[rule.record.id]
    family = [c for c in network.calendars.values() if c is calendar or _is_part_of(network, c, calendar)]

    def opened(days: Sequence[date]) -> Network:
        calendars = {
            c.id: _with_days(network, c, [d for d in days if c is calendar or not _barred(network, c, d)])
            if c in family
            else c
            for c in network.calendars.values()
        }
        return replace(network, calendars=calendars)

    def planned(days: Sequence[date]) -> Schedule | None:
        return ask(opened(days)).schedule

    def at_work(plan: Schedule, day: date) -> bool:
        return bool(_at_work(network, plan, family, day))

    closed = list(_closed_days(network, calendar))
    schedule = planned(closed)
    if schedule is None:
        return None

    def spared(plan: Schedule) -> tuple[list[date], Schedule]:
        """Return the days of work of a plan of which none can be left out, and a plan for them."""
        days = [d for d in closed if _at_work(network, plan, family, d)]
        if audit(without(opened(days), ask.left_out), plan):
            days = closed
        for gone in tuple(days):
            rest = [d for d in days if d != gone]
            if (instead := planned(rest)) is not None:
                days, plan = rest, instead
        return days, plan

    days, schedule = spared(schedule)
    if is_small(network):
        whole = without(opened(closed), ask.left_out)
        if len(days) > 1 and (plan := _on_fewer_days(whole, schedule, family, closed, len(days) - 1, ask.stop)):
            days, schedule = spared(plan)
            # a plan made for these days finishes sooner than one that only needs them
            schedule = planned(days) or schedule
    else:
        while (merged := _two_in_one(days, closed, at_work, planned)) is not None:
            days, schedule = merged
    spoken = ", ".join(short_day(d) for d in days)
    text = f"Have {calendar.name} on {count(len(days), 'more day')}: {spoken}."
    if any(_barred(network, calendar, d) for d in days):
        text = f"Agree work in spite of a season on {count(len(days), 'day')}: {spoken} ({calendar.name})."
    return Change(rule, opened(days), schedule, text, _cost_of_days(network, schedule, family, days))


def _two_in_one(
    days: Sequence[date],
    closed: Sequence[date],
    at_work: Callable[[Schedule, date], bool],
    planned: Callable[[Sequence[date]], Schedule | None],
) -> tuple[list[date], Schedule] | None:
    """Return days of which one stands in for two, with a plan, the last two first; None when none was found.

    With every day open from the later of the two on, a plan tells by which day all that the two days are for is ready.
    """
    for late, early in combinations(reversed(days), 2):
        others = [d for d in days if d not in (early, late)]
        ahead = [d for d in closed if d >= late and d not in others]
        if (plan := planned([*others, *ahead])) is None:
            continue
        instead = max((d for d in ahead if at_work(plan, d)), default=late)
        if (plan := planned([*others, instead])) is not None:
            return sorted([*others, instead]), plan
    return None


def _on_fewer_days(
    network: Network,
    plan: Schedule,
    family: Sequence[Calendar],
    days: Sequence[date],
    most: int,
    stop: threading.Event | None,
) -> Schedule | None:
    """Return a plan with work by some calendars on as few of some days as a search finds, at most so many, or None."""
    frame, ids = TimeWindows(network), {c.id for c in family}
    if not frame.narrow():
        return None
    search = build(frame, PrecedenceOrder(network))
    nights, used = Nights(search), []
    for day in days:
        first, after = (frame.axis.to_axis(tick) for tick in _day_span(network, day))
        on = search.model.new_bool_var(f"work on {day}")
        works = [nights.touches(a.id, first, after) for a in network.activities if a.calendar in ids and a.work]
        search.model.add_max_equality(on, works)
        used.append(on)
    nights.chain()
    search.model.add(cp_model.LinearExpr.sum(used) <= most)
    search.model.minimize(cp_model.LinearExpr.sum(used))
    found = Engine(Options(), None, stop).run(search, effort=FEWEST_EFFORT, hint=starts_of(frame, plan))
    return None if found.starts is None else schedule_of(frame, found.starts)


def _is_part_of(network: Network, calendar: Calendar, whole: Calendar) -> bool:
    """Return whether a calendar is another's hours less those in which something stands closed."""
    first, *rest = calendar.id.split("&")
    return first == whole.id and bool(rest) and not any(part in network.calendars for part in rest)


def _closed_days(network: Network, calendar: Calendar) -> Iterator[date]:
    """Yield the days but Sundays, from the data date on, on which a calendar is closed all day."""
    clock = network.clock
    last = network.horizon if network.target is None else min(network.target.at, network.horizon)
    day = clock.when(network.data_date).date()
    for _ in range(DAYS_AHEAD):
        a, b = clock.midnight(day), clock.midnight(day + timedelta(days=1))
        if b > last:
            return
        if day.weekday() != SUNDAY and calendar.open_ticks(a, b) == 0:
            yield day
        day += timedelta(days=1)


def _with_days(network: Network, calendar: Calendar, days: Sequence[date]) -> Calendar:
    """Return a calendar open on further days too, in its most usual hours, or the site's when it has none."""
    midnight = network.clock.midnight
    usual = _usual(network, calendar) or max((_usual(network, c) for c in network.calendars.values()), key=_length)
    extra = [(midnight(d) + a, midnight(d) + b) for d in days for a, b in usual]
    return replace(calendar, windows=(*calendar.windows, *extra))


def _barred(network: Network, calendar: Calendar, day: date) -> bool:
    """Return whether a day lies in a season in which such work is not done, however long the hours."""
    first, last = _day_span(network, day)
    return any(a < last and b > first for a, b in calendar.barred)


def _usual(network: Network, calendar: Calendar) -> tuple[Window, ...]:
    """Return the hours that a calendar has on most of its days [ticks from midnight]."""
    by_day: dict[date, list[Window]] = {}
    for a, b in calendar.windows:
        day = network.clock.when(a).date()
        first, last = _day_span(network, day)
        by_day.setdefault(day, []).append((a - first, min(b, last) - first))
    hours = Counter(tuple(windows) for windows in by_day.values())
    return hours.most_common(1)[0][0] if hours else ()


def _length(hours: Sequence[Window]) -> int:
    return sum(b - a for a, b in hours)


def _day_span(network: Network, day: date) -> Span:
    return network.clock.midnight(day), network.clock.midnight(day + timedelta(days=1))


def _at_work(network: Network, schedule: Schedule, family: Sequence[Calendar], day: date) -> list[str]:
    """Return the activities that go by one of some calendars and are in hand on a day."""
    ids = {c.id for c in family}
    first, last = _day_span(network, day)
    return [
        a.id
        for a in network.activities
        if a.calendar in ids and a.work and schedule.dates[a.id][0] < last and schedule.dates[a.id][1] > first
    ]


def _cost_of_days(
    network: Network, schedule: Schedule, family: Sequence[Calendar], days: Sequence[date]
) -> float | None:
    """Return the day rates of who works on further days and the fees of who visits; None where one is not known."""
    rates: list[float | None] = []
    for day in days:
        first, last = _day_span(network, day)
        busy = {r for a in _at_work(network, schedule, family, day) for r, _ in network.by_id[a].needs}
        rates += [network.resource_by_id[r].day_rate for r in sorted(busy)]
        fees = {g.record: g.price for g in lower(network).look_groups if g.calendar in {c.id for c in family}}
        rates += [fees[v.rule] for v in schedule.visits if v.rule in fees and first <= v.start < last]
    return None if None in rates else sum(r for r in rates if r) or None
