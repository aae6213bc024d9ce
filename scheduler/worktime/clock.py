"""The clock: whole ticks of real (elapsed) time since an origin, to and from local dates.

A tick is a constant length of elapsed time, also across a change to or from daylight
saving time; local wall-clock times appear only at input and output.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from scheduler.spoken import NOON, from_to, half_day, moment

TICK_MINUTES = 15


@dataclass(frozen=True, slots=True)
class Clock:
    """Ticks since `origin` (an aware instant), shown in time zone `zone`."""

    origin: datetime
    zone: str = "UTC"
    tick_minutes: int = TICK_MINUTES

    @classmethod
    def starting(cls, day: date, zone: str) -> Clock:
        """Return a clock whose tick 0 is local midnight at the start of `day`."""
        return cls(datetime.combine(day, time(), ZoneInfo(zone)).astimezone(UTC), zone)

    def tick(self, when: datetime, *, up: bool = False) -> int:
        """Return the tick at or before `when` (at or after it if `up`).

        A naive `when` is local time in this clock's zone.
        """
        if when.tzinfo is None:
            when = when.replace(tzinfo=ZoneInfo(self.zone))
        seconds = int((when.astimezone(UTC) - self.origin).total_seconds())
        step = self.tick_minutes * 60
        return -(-seconds // step) if up else seconds // step

    def when(self, tick: int) -> datetime:
        """Return the aware local date and time of a tick."""
        instant = self.origin + timedelta(minutes=tick * self.tick_minutes)
        return instant.astimezone(ZoneInfo(self.zone))

    def spoken(self, tick: int) -> str:
        """Return a tick as people say it, `Tue 9 Mar 10:30`; with the year when not the clock's first."""
        return self._spoken(tick, moment)

    def spoken_half(self, tick: int) -> str:
        """Return the half of a day that a tick lies in, `Tue 9 Mar in the morning`."""
        return self._spoken(tick, half_day)

    def _spoken(self, tick: int, said: Callable[..., str]) -> str:
        try:
            day = self.when(tick)
        except (OverflowError, ValueError):
            return "a time no calendar knows"
        return said(day, year=day.year != self.when(0).year)

    def spoken_span(self, start: int, finish: int) -> str:
        """Return a stretch of ticks as people say it, `Tue 9 Mar 10:30-12:00`; one moment when it has no length."""
        if start == finish:
            return self.spoken(start)
        first, last = self.when(start), self.when(finish)
        return from_to(first, last, year=last.year != self.when(0).year)

    def midnight(self, day: date) -> int:
        """Return the tick of local midnight at the start of `day`."""
        return self.tick(datetime.combine(day, time()))

    def half_day(self, tick: int) -> tuple[int, int]:
        """Return the half of a local day that a tick lies in [ticks], from midnight to noon or from noon on."""
        day = self.when(tick).date()
        noon = self.tick(datetime.combine(day, time(NOON)))
        if tick < noon:
            return self.midnight(day), noon
        return noon, self.midnight(day + timedelta(days=1))

    def ticks(self, *, hours: float = 0.0, days: float = 0.0) -> int:
        """Return the whole ticks that cover a length of elapsed time, rounded up."""
        minutes = hours * 60.0 + days * 1440.0
        return int(-(-round(minutes, 6) // self.tick_minutes))
