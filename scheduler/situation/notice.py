"""By when a call gives somebody the notice they ask for, in the hours in which the site makes its calls."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from scheduler.site.calendars import build_calendars, is_working_day, public_holidays
from scheduler.site.site_record import Site
from scheduler.worktime.calendar import Calendar
from scheduler.worktime.clock import Clock

OFFICE = time(7), time(15, 30)
"""Hours on Monday to Friday, public holidays aside, in which calls are made where no hours of the site are known."""


@dataclass(frozen=True, slots=True)
class CallDesk:
    """Whose hours the site makes its calls in."""

    clock: Clock
    hours: tuple[Calendar, ...]
    """Of the general trade, then of the own trades: the first that is open before a moment counts."""
    free: frozenset[date] = frozenset()
    """Public holidays, on which nobody is at the desk where none of these hours are known."""

    def last_before(self, end: int) -> int:
        """Return the last tick at or before `end` at which somebody is at the desk; perhaps before the first day."""
        for hours in self.hours:
            last = next((min(b, end) for _, b in hours.windows_to(end)), None)
            if last is not None:
                return last
        day = self.clock.when(end).date()
        while True:
            opens, closes = (self.clock.tick(datetime.combine(day, at)) for at in OFFICE)
            if is_working_day(day, self.free) and opens < end:
                return min(closes, end)
            day -= timedelta(days=1)


def desk_of(site: Site, clock: Clock) -> CallDesk:
    """Return the desk of a site: its general trade's hours, else its own trades', else an office's."""
    calendars = build_calendars(site, clock)
    trades = [site.general_trade, *(t for t in site.trades if t.own)]
    hours = {t.calendar: calendars[t.calendar] for t in trades}
    return CallDesk(clock, tuple(hours.values()), public_holidays(site.site))


def last_call(desk: CallDesk, party: Calendar, start: int, days: int) -> int:
    """Return the last tick at which a call still gives `days` working days of a party's notice of a start.

    Notice is counted as in `network.hours.after_notice`: the day of the call does not count. The last
    moment is the end of the site's own hours before those days; of what asks for no notice, before the day itself.
    """
    clock = desk.clock
    day = clock.when(start).date()
    opened = [day]
    for on in _open_days(clock, party, day):
        if len(opened) >= days:
            break
        if on != opened[-1]:
            opened.append(on)
    return desk.last_before(
        clock.midnight(opened[-1] if len(opened) >= days else min(opened[-1], day - timedelta(days=days)))
    )


def _open_days(clock: Clock, party: Calendar, before: date) -> Iterator[date]:
    for begin, _ in party.windows_to(clock.midnight(before)):
        yield clock.when(begin).date()
