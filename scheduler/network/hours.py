"""The calendars that activities work by: several parties' hours at once, drives and rain included."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import date, datetime, timedelta

from scheduler.site.fields import parse_hours
from scheduler.site.ground import Reach
from scheduler.worktime.calendar import Calendar, Window, intersection, merged
from scheduler.worktime.clock import Clock

RAIN = "no rain days"


def after_notice(clock: Clock, calendar: Calendar, call: int, days: int) -> int | None:
    """Return the earliest tick that `days` working days of a calendar after a call allow; None past its end.

    The day of the call does not count: one day's notice given on Monday is good from the
    first open moment of the next open day. Without notice it is the call itself.
    """
    tick: int | None = call
    for _ in range(days):
        if tick is None:
            return None
        day = clock.when(tick).date()
        tick = calendar.next_open(clock.midnight(day + timedelta(days=1)))
    return tick


class Hours:
    """Calendars by id; joint ones are made when first asked for, and made once."""

    def __init__(self, clock: Clock, horizon: int, named: dict[str, Calendar], rain_days: Iterable[date]) -> None:
        self.clock = clock
        self.horizon = horizon
        self.named = dict(named)
        self._first, self._last = clock.when(0).date(), clock.when(horizon).date()
        self._rain = sorted(d for d in set(rain_days) if self._first <= d <= self._last)
        self._parts: dict[str, Calendar] = {}

    def shared(
        self, ids: Iterable[str], *, reach: Reach | None = None, in_trench: bool = False, plates: int = 0
    ) -> str:
        """Return the id of the calendar open only when all of `ids` are.

        `in_trench` closes rain days; `reach` keeps to the hours in which its access may be closed, less `plates` ticks
        at either end, in which plates are lifted and set.
        """
        parts = [self.named[i] for i in dict.fromkeys(ids)]
        if in_trench and self._rain:
            parts.append(self._part(RAIN, self._dry))
        if reach and reach.access and in_trench:
            hours = reach.access.closed_only
            less = f", {plates * self.clock.tick_minutes} min at either end for plates" if plates else ""
            parts.append(self._part(f"access closed {hours}{less}", lambda: self._closable(hours, plates)))
        if len(parts) == 1:
            return parts[0].id
        id_ = "&".join(p.id for p in parts)
        if id_ not in self.named:
            self.named[id_] = intersection(id_, ", ".join(p.name for p in parts), parts)
        return id_

    def offered(self, id_: str, name: str, starts: Iterable[datetime], work: int) -> str:
        """Return the id of a calendar open for `work` ticks from each offered start."""
        ticks = [self.clock.tick(s) for s in starts]
        self.named[id_] = Calendar(id_, name, tuple((t, t + work) for t in ticks))
        return id_

    def closed_for(self, id_: str, days: float) -> str | None:
        """Return the id of a calendar of the times at which another is closed for more than so many days on end.

        None where it never is, up to its last window.
        """
        calendar, longest = self.named[id_], self.clock.ticks(days=days)
        ends = [0, *(end for _, end in calendar.windows)]
        starts = [start for start, _ in calendar.windows]
        closed = tuple((a, b) for a, b in zip(ends, starts, strict=False) if b - a > longest)
        if not closed:
            return None
        closed_id = f"closed weeks of {id_}"
        self.named[closed_id] = Calendar(closed_id, f"closed weeks of {calendar.name}", closed)
        return closed_id

    def kept_out(self, id_: str, season: str, name: str, times: tuple[Window, ...]) -> str:
        """Return the id of a calendar without the times of a season, in which nobody works however long the hours."""
        whole, out_id = self.named[id_], f"{id_}&season {season}"
        if out_id not in self.named:
            ends, starts = [0, *(b for _, b in times)], [*(a for a, _ in times), self.horizon]
            free = Calendar("", "", tuple(w for w in zip(ends, starts, strict=True) if w[0] < w[1]))
            left = intersection(out_id, f"{whole.name}, {name}", [whole, free])
            self.named[out_id] = replace(left, barred=merged((*whole.barred, *times)))
        return out_id

    def times(self, id_: str, name: str, windows: tuple[Window, ...]) -> str:
        """Return the id of a calendar of given times."""
        self.named[id_] = Calendar(id_, name, windows)
        return id_

    def end_of_day(self, day: date) -> int:
        """Return the tick at which a local day ends."""
        return self.clock.midnight(day + timedelta(days=1))

    def after_notice(self, calendar: str, call: int, days: int) -> int:
        """Return the earliest tick that `days` working days of a calendar after a call allow.

        The day of the call does not count: one day's notice given on Monday is good from the
        first open moment of the next open day. Without notice it is the call itself.
        """
        tick = after_notice(self.clock, self.named[calendar], call, days)
        return self.horizon if tick is None else tick

    def _part(self, name: str, make: Callable[[], tuple[Window, ...]]) -> Calendar:
        if name not in self._parts:
            self._parts[name] = Calendar(name, name, make())
        return self._parts[name]

    def _days(self) -> Iterable[date]:
        return (self._first + timedelta(days=n) for n in range((self._last - self._first).days + 1))

    def _dry(self) -> tuple[Window, ...]:
        wet = set(self._rain)
        return tuple((self.clock.midnight(d), self.end_of_day(d)) for d in self._days() if d not in wet)

    def way_in_use(self, hours: str) -> str:
        """Return the id of a calendar of the times outside hours given for each day."""
        closed = merged(self._closable(hours, 0))
        ends, starts = [0, *(b for _, b in closed)], [*(a for a, _ in closed), self.horizon]
        id_ = f"outside {hours}"
        self.named[id_] = Calendar(id_, id_, tuple(w for w in zip(ends, starts, strict=True) if w[0] < w[1]))
        return id_

    def _closable(self, hours: str, plates: int) -> tuple[Window, ...]:
        begin, end = parse_hours(hours)
        out = []
        for day in self._days():
            a = self.clock.tick(datetime.combine(day, begin))
            b = self.clock.tick(datetime.combine(day, end)) if end > begin else self.end_of_day(day)
            out.append((a + plates, b - plates))
        return tuple((a, b) for a, b in out if a < b)
