"""Further days of work or of visits: the fewest that make a plan possible."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, timedelta

from scheduler.audit import audit
from scheduler.explain.possible import Ask, Change
from scheduler.explain.rules import Rule
from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.schedule import Schedule, Span
from scheduler.spoken import count, short_day
from scheduler.worktime.calendar import Calendar, Window

SUNDAY = 6
DAYS_AHEAD = 90
"""How far ahead further days are thought of."""


def more_days(network: Network, rule: Rule, ask: Ask) -> Change | None:
    """Return the fewest further days of some hours, no Sundays, with which a plan exists; None if none do."""
    calendar = network.calendars[rule.record.id]
    family = [c for c in network.calendars.values() if c is calendar or _is_part_of(network, c, calendar)]
    closed = list(_closed_days(network, calendar))

    def opened(days: Sequence[date]) -> Network:
        calendars = {c.id: _with_days(network, c, days) if c in family else c for c in network.calendars.values()}
        return replace(network, calendars=calendars)

    answer = ask(opened(closed))
    if answer.schedule is None:
        return None
    days, schedule = closed, answer.schedule
    used = [d for d in closed if _at_work(network, schedule, family, d)]
    if not audit(opened(used), schedule):
        days = used
    for gone in used:
        fewer = [d for d in days if d != gone]
        answer = ask(opened(fewer))
        if answer.schedule is not None:
            days, schedule = fewer, answer.schedule
    spoken = ", ".join(short_day(d) for d in days)
    text = f"Have {calendar.name} on {count(len(days), 'more day')}: {spoken}."
    return Change(rule, opened(days), schedule, text, _cost_of_days(network, schedule, family, days))


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
    return Calendar(calendar.id, calendar.name, (*calendar.windows, *extra))


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
    """Return the day rates of who works on further days and the fees of who visits; None when neither is known."""
    cost = 0.0
    for day in days:
        first, last = _day_span(network, day)
        busy = {r for a in _at_work(network, schedule, family, day) for r, _ in network.by_id[a].needs}
        cost += sum(network.resource_by_id[r].day_rate for r in busy)
        fees = {g.record: g.price for g in lower(network).look_groups if g.calendar in {c.id for c in family}}
        cost += sum(fees.get(v.rule, 0.0) for v in schedule.visits if first <= v.start < last)
    return cost or None
