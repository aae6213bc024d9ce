"""When the people of each trade hear of a change: nothing of theirs is moved to sooner than that.

A trade that comes from elsewhere needs its notice, own crews hear of it at the next start of work. Work that they
were told of for the days before may stay, or slip later into a day on which they are on site anyway; work that is new,
such as mending, may be done on such a day too.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta

from scheduler.ledger.moments import said
from scheduler.network.hours import after_notice
from scheduler.network.model import Activity, DateRole, DateRule, Network
from scheduler.schedule import Span
from scheduler.site.calendars import build_calendars
from scheduler.site.people import Trade
from scheduler.situation.appointments import within
from scheduler.situation.job import StandingJob
from scheduler.spoken import count
from scheduler.worktime.calendar import Calendar


@dataclass(frozen=True, slots=True)
class InTime:
    """When one piece of work may be, so that whoever does it hears of it in time."""

    spans: tuple[Span, ...]
    """In ticks, in order; the last one has no end but the horizon."""
    because: str

    def holds(self, start: int) -> bool:
        """Tell whether a start [tick] gives the notice."""
        return any(first <= start < last for first, last in self.spans)


def told_in_time(job: StandingJob) -> dict[str, InTime]:
    """Return, for each open piece of work of a trade, when it may be; nothing where that is always."""
    calendars = build_calendars(job.site, job.network.clock)
    return {
        a: told
        for t in job.site.trades
        if t.id not in job.facts.state.taken_over  # their first day stands as a rule of its own
        for a, told in _of_trade(job, t, calendars[t.calendar]).items()
        if told.spans
    }


def with_trade_notice(job: StandingJob) -> StandingJob:
    """Return a job in which nothing is moved to sooner than its people can hear of it; the same job where all is."""
    told = told_in_time(job)
    return replace(job, network=_kept(job.network, told, job.facts.now)) if told else job


def hears(network: Network, hours: Calendar, now: int, days: int) -> int:
    """Return the tick from which on somebody told now knows: after their notice, else at the next start of work."""
    if days:
        tick = after_notice(network.clock, hours, now, days)
    else:
        day = network.clock.when(now).date()
        today = next((w[0] for w in hours.windows_from(now) if w[0] >= now), None)
        first = today is not None and network.clock.when(today).date() == day
        begun = hours.open_ticks(network.clock.midnight(day), now) > 0
        tick = today if first and not begun else after_notice(network.clock, hours, now, 1)
    return network.horizon if tick is None else tick


def _of_trade(job: StandingJob, trade: Trade, hours: Calendar) -> Mapping[str, InTime]:
    network, now, before = job.network, job.facts.now, job.starts_before()
    notice = 0 if trade.own else trade.notice_days
    floor = hears(network, hours, now, notice)
    mine = [a for a in network.activities if a.trade == trade.id and not a.happened and a.kind.takes_time]
    days = _days_on_site(job, mine)
    found: dict[str, InTime] = {}
    for activity in mine:
        was = before.get(activity.id)
        if activity.id in job.facts.begun or activity.kind.by_others or not activity.work or floor <= now:
            continue
        if was is None and not notice:
            continue
        if was is not None and was >= floor:
            found[activity.id] = InTime(((floor, network.horizon),), _because(job, trade, floor))
            continue
        first = max(now, was or now)
        spans = list(_open(network, hours, days, first, floor)) if notice else [(first, floor)]
        found[activity.id] = InTime((*spans, (floor, network.horizon)), _because(job, trade, floor))
    return found


def _days_on_site(job: StandingJob, mine: Iterable[Activity]) -> set[date]:
    """Return the days on which a trade was told to be on site, by the plan before."""
    ids = {a.id for a in mine}
    days: set[date] = set()
    zone = job.network.clock.when(0).tzinfo
    for row in (r for r in job.before.activities if r.id in ids):
        day, last = row.start.astimezone(zone).date(), row.finish.astimezone(zone).date()
        days |= {day + timedelta(days=n) for n in range((last - day).days + 1)}
    return days


def _open(network: Network, hours: Calendar, days: set[date], first: int, last: int) -> Iterable[Span]:
    for start, end in hours.windows_from(first):
        if start >= last:
            break
        if network.clock.when(start).date() in days:
            yield max(start, first), min(end, last)


def _because(job: StandingJob, trade: Trade, floor: int) -> str:
    since = said(job.network.clock, job.facts.as_of)
    if trade.own or not trade.notice_days:
        when = job.network.clock.spoken(floor)
        return f"{trade.name} hears of a change at the next start of work, {when}; nothing is moved to before that."
    notice = count(trade.notice_days, "working day")
    return f"{trade.name} needs {notice} of notice to come at another time, counted from {since}."


def _kept(network: Network, told: Mapping[str, InTime], now: int) -> Network:
    """Return the network in which each piece of work is when its people were told of, or can hear of it."""
    dates, calendars, changed = list(network.dates), dict(network.calendars), {}
    for id_, when in told.items():
        first = when.spans[0][0]
        if first > now:
            source = "site file: trades, notice_days"
            dates.append(DateRule(f"told/{id_}", id_, first, role=DateRole.NOTICE, because=when.because, source=source))
        hours = network.calendars[network.by_id[id_].calendar]
        name = f"{hours.name}, as planned or with notice"
        new = Calendar(f"{hours.id}, told {when.spans}", name, within(hours, when.spans))
        if new.windows == Calendar("", "", within(hours, ((first, network.horizon),))).windows:
            continue
        calendars[new.id] = new
        changed[id_] = replace(network.by_id[id_], calendar=new.id)
    activities = tuple(changed.get(a.id, a) for a in network.activities)
    return replace(network, dates=tuple(dates), calendars=calendars, activities=activities)
