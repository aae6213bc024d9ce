"""The site's clock, and its calendars laid out in ticks from the first day to the horizon."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

import holidays

from scheduler.site.fields import parse_hours, parse_weekly
from scheduler.site.people import CalendarSpec
from scheduler.site.site_record import JobSpec, Site
from scheduler.worktime.calendar import Calendar, Window, merged
from scheduler.worktime.clock import Clock

Hours = tuple[time, time]

_SATURDAY = 5
_LAST_PAD_DAYS = 370
"""Working days are counted past the horizon too: a ticket may end beyond it."""


def clock_of(site: Site) -> Clock:
    """Return the site's clock: tick 0 is local midnight at the start of its first day."""
    return Clock.starting(site.site.first_day, site.site.time_zone)


def data_date(site: Site, clock: Clock) -> int:
    """Return the tick before which nothing can be planned: the start of the first day."""
    return clock.midnight(site.site.first_day)


def horizon(site: Site, clock: Clock) -> int:
    """Return the tick up to which calendars are laid out."""
    return clock.midnight(site.site.first_day + timedelta(days=site.site.horizon_days))


@lru_cache(maxsize=16)
def public_holidays(job: JobSpec) -> frozenset[date]:
    """Return the public holidays from a year before the first day to a year past the horizon.

    Dates are those of the `holidays` package, observed days included (in the United States
    a holiday on Saturday is kept on Friday, 5 U.S.C. 6103). A country or state that the package
    does not know ends in its own error, which the site file's checks have told of before.
    """
    years = range(job.first_day.year - 1, (job.first_day + timedelta(days=job.horizon_days + _LAST_PAD_DAYS)).year + 1)
    return frozenset(holidays.country_holidays(job.country, subdiv=job.state, years=years))


def build_calendars(site: Site, clock: Clock) -> dict[str, Calendar]:
    """Return every calendar of the site by id, from the first day to the horizon.

    Hours are local wall-clock hours on each date, so a window across a change to daylight
    saving time is an hour shorter. Extra open hours count even on a closed day or holiday.
    """
    free = public_holidays(site.site) if any(c.holidays for c in site.calendars) else frozenset()
    return {spec.id: Calendar(spec.id, spec.name, _windows_of(spec, site.site, free, clock)) for spec in site.calendars}


def _windows_of(spec: CalendarSpec, job: JobSpec, free: frozenset[date], clock: Clock) -> tuple[Window, ...]:
    closed = frozenset(spec.closed) | (free if spec.holidays else frozenset())
    extra = tuple((opening.date, opening.hours) for opening in spec.open)
    return _laid_out(tuple(spec.weekly), extra, closed, job.first_day, job.horizon_days, clock)


@lru_cache(maxsize=128)
def _laid_out(
    weekly: tuple[str, ...],
    extra: tuple[tuple[date, str], ...],
    closed: frozenset[date],
    first: date,
    length: int,
    clock: Clock,
) -> tuple[Window, ...]:
    """Return the windows of so many days; kept, as every edit of a site asks for all its calendars more than once."""
    usual = [parse_weekly(text) for text in weekly]
    by_weekday: dict[int, list[Hours]] = {d: [hours for on, hours in usual if d in on] for d in range(7)}
    opened: dict[date, list[Hours]] = {}
    for day, text in extra:
        opened.setdefault(day, []).append(parse_hours(text))
    windows: list[Window] = []
    for day in (first + timedelta(days=n) for n in range(length)):
        hours = [] if day in closed else by_weekday[day.weekday()]
        windows.extend(_window(day, h, clock) for h in hours + opened.get(day, []))
    return merged(windows)


def _window(day: date, hours: Hours, clock: Clock) -> Window:
    begin, end = hours
    last = day + timedelta(days=1) if end == time() else day  # 24:00 is read as 00:00
    return _wall_tick(day, begin, clock), _wall_tick(last, end, clock)


def _wall_tick(day: date, at: time, clock: Clock) -> int:
    """Return the tick of a wall-clock time; the first of two, or the jump that skips it."""
    local = datetime.combine(day, at, ZoneInfo(clock.zone))
    first, second = clock.tick(local), clock.tick(local.replace(fold=1))
    if first <= second:
        return first
    summer = local.replace(fold=1).utcoffset()
    return next((tick for tick in range(second, first) if clock.when(tick).utcoffset() == summer), first)


def is_working_day(day: date, free: frozenset[date]) -> bool:
    """Return whether a date is Monday to Friday and no public holiday."""
    return day.weekday() < _SATURDAY and day not in free


def working_days_after(site: Site, clock: Clock, *, tick: int, days: int) -> int:
    """Return the midnight that ends the n-th full working day after the day of `tick`.

    Working days are Monday to Friday without public holidays, whatever anyone's calendar
    says, as state one-call laws count the wait for a locate ticket; the day of the call
    does not count. With no days it returns `tick` itself.
    """
    return _count_days(site, clock, tick=tick, days=days, step=1)


def working_days_before(site: Site, clock: Clock, *, tick: int, days: int) -> int:
    """Return the midnight that ends the n-th working day before the day of `tick`.

    What must be done n working days before a day is done by this midnight. An expiry at
    midnight belongs to the day it ends: pass the tick before it.
    """
    return _count_days(site, clock, tick=tick, days=days, step=-1)


def _count_days(site: Site, clock: Clock, *, tick: int, days: int, step: int) -> int:
    if days <= 0:
        return tick
    free = public_holidays(site.site)
    day = clock.when(tick).date()
    while days:
        day += timedelta(days=step)
        days -= is_working_day(day, free)
    return clock.midnight(day + timedelta(days=1))
