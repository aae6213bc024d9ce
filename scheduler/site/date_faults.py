"""Dates: the job's days in order, calendars that open in time, offers and bookings that fit them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache
from zoneinfo import available_timezones

import holidays

from scheduler.site.calendars import build_calendars, clock_of, horizon
from scheduler.site.faults import Fault, Path
from scheduler.site.people import OutsideWork
from scheduler.site.references import unknown_name
from scheduler.site.site_record import JobSpec, Site
from scheduler.spoken import typed
from scheduler.worktime.calendar import Calendar
from scheduler.worktime.clock import Clock


@cache
def _zones() -> frozenset[str]:
    return frozenset(available_timezones())


def place_faults(job: JobSpec) -> Iterator[Fault]:
    """A time zone, country or state that nobody knows."""
    zones = _zones()
    if job.time_zone not in zones:
        yield _unknown(("site", "time_zone"), job.time_zone, "time zone", zones, "such as America/Denver")
    countries = holidays.list_supported_countries(include_aliases=True)
    if job.country not in countries:
        yield _unknown(("site", "country"), job.country, "country", countries, "two letters such as US")
    elif job.state is not None:
        known = holidays.country_holidays(job.country)
        states = {*known.subdivisions, *known.subdivisions_aliases}
        if job.state not in states:
            yield _unknown(("site", "state"), job.state, f"state of {job.country}", states, "letters such as UT")


def _unknown(path: Path, name: str, noun: str, known: Iterable[str], like: str) -> Fault:
    fault = unknown_name(path, name, noun, set(known))
    return Fault(fault.rule, path, fault.text, fault.found, like)


@dataclass(frozen=True, slots=True)
class _Span:
    """The days of a job on its clock, with its calendars laid out."""

    clock: Clock
    calendars: Mapping[str, Calendar]
    end: int
    """The end of the target day, or the horizon."""
    end_word: str

    def shown(self, tick: int) -> str:
        return self.clock.spoken(tick)


def _span(site: Site) -> _Span:
    clock = clock_of(site)
    target, last = site.site.target_finish, horizon(site, clock)
    if target is None:
        return _Span(clock, build_calendars(site, clock), last, "the last day laid out")
    return _Span(
        clock, build_calendars(site, clock), min(last, clock.midnight(target + timedelta(days=1))), "the target"
    )


def date_faults(site: Site) -> Iterator[Fault]:
    """Everything wrong with the dates of a site whose names, time zone and country are known."""
    faults = list(_job_faults(site.site))
    yield from faults
    yield from _ticket_faults(site)
    if faults:
        return  # with no span of days, every window would lie outside it
    span = _span(site)
    yield from _closed_faults(site, span)
    yield from _offer_faults(site, span)
    yield from _booking_faults(site, span)


def _job_faults(job: JobSpec) -> Iterator[Fault]:
    path = ("site", "target_finish")
    if job.target_finish is None:
        return
    if job.target_finish < job.first_day:
        text = "The target lies before the first day."
        yield Fault("site.dates", path, text, found=str(job.target_finish), required=f"{job.first_day} or later")
    last = job.first_day + timedelta(days=job.horizon_days - 1)
    if job.target_finish > last:
        text = "The target lies past the days laid out; raise horizon_days."
        yield Fault("site.dates", path, text, found=str(job.target_finish), required=f"{last} or earlier")


def _ticket_faults(site: Site) -> Iterator[Fault]:
    clock = clock_of(site)
    for i, ticket in enumerate(site.locate_tickets):
        if ticket.clear is not None and clock.tick(ticket.clear) < clock.tick(ticket.called):
            text = "The ticket is clear before it was called in."
            required = f"{typed(ticket.called)} or later"
            yield Fault("site.dates", ("locate_tickets", i, "clear"), text, typed(ticket.clear), required)


def _closed_faults(site: Site, span: _Span) -> Iterator[Fault]:
    """Calendars that never open, or too late, or never long enough for those who use them."""
    for i, spec in enumerate(site.calendars):
        if not span.calendars[spec.id].windows:
            text = f"The calendar '{spec.name}' never opens: give weekly hours, or open days within the job."
            yield Fault("site.never-open", ("calendars", i), text)
    for section, noun in (("trades", "trade"), ("equipment", "machine"), ("inspections", "inspection")):
        for i, record in enumerate(getattr(site, section)):
            yield from _late_opening((section, i, "calendar"), record.calendar, noun, span)
    for i, inspection in enumerate(site.inspections):
        need = span.clock.ticks(hours=inspection.look_minutes / 60)
        yield from _short_windows(("inspections", i, "look_minutes"), inspection.calendar, need, span)
    for i, work in enumerate(site.outside_work):
        yield from _late_opening(("outside_work", i, "calendar"), work.calendar, "outside work", span)
        if work.one_window:
            need = span.clock.ticks(hours=work.hours)
            yield from _short_windows(("outside_work", i, "hours"), work.calendar, need, span)


def _late_opening(path: Path, name: str, noun: str, span: _Span) -> Iterator[Fault]:
    calendar = span.calendars.get(name)
    if calendar is not None and calendar.windows and calendar.windows[0][0] >= span.end:
        text = f"The hours of this {noun} never open before {span.end_word}."
        opens = f"first open {span.shown(calendar.windows[0][0])}"
        yield Fault("site.never-open", path, text, found=opens, required=f"before {span.shown(span.end)}")


def _short_windows(path: Path, name: str, need: int, span: _Span) -> Iterator[Fault]:
    calendar = span.calendars.get(name)
    longest = max((b - a for a, b in calendar.windows), default=0) if calendar is not None else 0
    if 0 < longest < need:
        hours = [f"{ticks * span.clock.tick_minutes / 60:g} hours" for ticks in (need, longest)]
        text = "It takes longer than the calendar is ever open in one go."
        yield Fault("site.never-open", path, text, found=hours[0], required=f"at most {hours[1]}")


def _offer_faults(site: Site, span: _Span) -> Iterator[Fault]:
    for i, work in enumerate(site.outside_work):
        for k, offer in enumerate(work.offered):
            yield from _start_faults(("outside_work", i, "offered", k), offer, work.calendar, _hours_needed(work), span)


def _booking_faults(site: Site, span: _Span) -> Iterator[Fault]:
    works = {w.id: w for w in site.outside_work}
    inspections = {i.id: i for i in site.inspections}
    for i, booking in enumerate(site.bookings):
        path = ("bookings", i, "start")
        if booking.of in works:
            work = works[booking.of]
            yield from _start_faults(path, booking.start, work.calendar, _hours_needed(work), span)
        elif booking.of in inspections:
            look = inspections[booking.of]
            yield from _start_faults(path, booking.start, look.calendar, look.look_minutes / 60, span)


def _hours_needed(work: OutsideWork) -> float:
    return work.hours if work.one_window else 0.25


def _start_faults(path: Path, start: datetime, name: str, hours: float, span: _Span) -> Iterator[Fault]:
    """Say what is wrong with a fixed start: out of the job, out of hours, or too late in them."""
    calendar = span.calendars.get(name)
    tick, found = span.clock.tick(start), typed(start)
    if tick < 0:
        required = f"{span.shown(0)} or later"
        yield Fault("site.dates", path, "This lies before the first day of the job.", found, required)
    elif tick >= span.end:
        required = f"before {span.shown(span.end)}"
        yield Fault("site.dates", path, f"This lies after {span.end_word}.", found, required)
    elif calendar is not None and calendar.windows:
        window = calendar.window_at(tick)
        if window is None or window[1] < tick + span.clock.ticks(hours=hours):
            opens = calendar.next_open(tick if window is None else window[1])
            required = f"{hours:g} hours within '{calendar.name}'"
            required += f", next open {span.shown(opens)}" if opens is not None else ""
            yield Fault("site.out-of-hours", path, "The hours of its calendar do not hold this.", found, required)
