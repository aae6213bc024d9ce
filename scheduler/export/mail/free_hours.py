"""When somebody is free, read from their calendar: availability (RFC 7953), free-busy times, or what they have in it.

Read on the safe side: what is uncertain, such as an appointment of a series that was moved, counts as busy both where
it was and where it is now.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import islice
from typing import Any

from dateutil.rrule import rrulestr
from icalendar import Calendar as Ical

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.network.parties import Party
from scheduler.schedule import Span
from scheduler.situation.call_list import calls_of
from scheduler.situation.call_words import CallDue
from scheduler.situation.situation import Situation
from scheduler.situation.what_was_told import what_was_told
from scheduler.spoken import time_of_day
from scheduler.worktime.calendar import Calendar, intersection, merged
from scheduler.worktime.clock import Clock

LARGEST_MB = 5
MOST_TIMES = 5000
"""Of one series; a longer one is refused."""
TOO_OFTEN = ("SECONDLY", "MINUTELY", "HOURLY")
Times = tuple[datetime, datetime]


@dataclass(frozen=True, slots=True)
class Clash:
    """An appointment that somebody is wanted for, when their calendar has no time for it."""

    call: CallDue
    free_from: datetime | None
    """The first time after it, in their hours of the site file, at which they have as long a time; None: none known."""


@dataclass(frozen=True, slots=True)
class FreeHours:
    """When a party is free in its hours of the site file, and what of the plan that does not suit."""

    windows: tuple[Times, ...]
    clashes: tuple[Clash, ...]

    def as_open_days(self) -> list[str]:
        """Return them as lines of `open` under a calendar of the site file whose `weekly` is left empty."""
        return [f"- {{date: {a.date()}, hours: {time_of_day(a)}-{_end(a, b)}}}" for a, b in self.windows]


def free_hours(situation: Situation, of: str, content: str, days: int = 60) -> FreeHours:
    """Return when a party is free from a moment on for so many days, by a calendar of theirs in iCalendar.

    `of` is the id of an inspection, outside work or trade. Raises BadInput when it is none, or the calendar cannot
    be read.
    """
    parties = {p.of: p for p in what_was_told(situation.site, situation.network, situation.state).parties}
    if of not in parties:
        raise BadInput([_fault(of, "is nobody who is called here.", ", ".join(parties))])
    clock = situation.network.clock
    first, last = clock.tick(situation.moment, up=True), clock.tick(situation.moment + timedelta(days=days))
    free = _free(content, clock, (first, last))
    hours = intersection(of, parties[of].about, [parties[of].calendar, free])
    calls = [c for c in calls_of(situation) if c.of == of and c.now is not None and c.now <= clock.when(last)]
    clashes = [k for c in calls if (k := _clash(situation, parties[of], hours, c)) is not None]
    return FreeHours(tuple((clock.when(a), clock.when(b)) for a, b in hours.windows), tuple(clashes))


def _clash(situation: Situation, party: Party, hours: Calendar, call: CallDue) -> Clash | None:
    """Return a clash where a party has no time for what it is wanted for; a trade is asked for the beginning alone."""
    assert call.now is not None
    assert situation.plan is not None
    clock = situation.network.clock
    start = clock.tick(call.now)
    day = [a for a in situation.plan.activities if a.id in call.activities]
    ends = [clock.tick(a.finish) for a in day if clock.when(clock.tick(a.finish)).date() == call.now.date()]
    until = start + 1 if party.trade else max([start + 1, *ends])
    if any(a <= start and until <= b for a, b in hours.windows):
        return None
    later = (max(a, start) for a, b in hours.windows if b - max(a, start) >= until - start)
    found = next(later, None)
    return Clash(call, None if found is None else clock.when(found))


def _free(content: str, clock: Clock, span: Span) -> Calendar:
    """Return the free times of a calendar within a span [ticks]; where it says nothing, its owner is free."""
    try:
        if len(content) > LARGEST_MB * 1_000_000:
            raise ValueError("it is too large")
        book = Ical.from_ical(content)
        free = _available(book, clock, span)
        return Calendar("free", "free", _without(free, _busy(book, clock, span)))
    except (ValueError, KeyError, TypeError, AttributeError, IndexError, OverflowError) as error:
        words = f"cannot be read: {' '.join(str(error).split())[:120] or 'it is no iCalendar'}."
        raise BadInput([_fault("The calendar", words, "iCalendar: VAVAILABILITY, VFREEBUSY or VEVENT")]) from None


def _available(book: Any, clock: Clock, span: Span) -> tuple[Span, ...]:
    """Return what availability leaves free; of two that say different things the one of higher priority counts."""
    free: tuple[Span, ...] = (span,)
    kept = sorted(book.walk("VAVAILABILITY"), key=lambda v: -(int(v.get("priority", 0)) or 10))
    for said in kept:
        begin = _tick(said.decoded("dtstart"), clock, up=False) if "dtstart" in said else span[0]
        end = _tick(said.decoded("dtend"), clock, up=True) if "dtend" in said else span[1]
        if "duration" in said and "dtstart" in said:
            end = _tick(said.decoded("dtstart") + said.decoded("duration"), clock, up=True)
        given = [t for part in said.walk("AVAILABLE") for t in _times(part, clock, span)]
        inside = [(max(a, begin), min(b, end)) for a, b in _ticks(given, clock, inner=True)]
        free = merged([*_without(free, [(begin, end)]), *((a, b) for a, b in inside if a < b)])
    return tuple((max(a, span[0]), min(b, span[1])) for a, b in free if max(a, span[0]) < min(b, span[1]))


def _busy(book: Any, clock: Clock, span: Span) -> list[Span]:
    """Return when somebody is busy: free-busy times, and entries that are neither called off nor transparent."""
    times: list[Times] = []
    for said in book.walk("VFREEBUSY"):
        rows = said.get("freebusy", [])
        periods = rows if isinstance(rows, list) else [rows]
        times += [(_moment(p.start, clock), _moment(p.end, clock)) for p in periods if _takes_time(p)]
    for entry in book.walk("VEVENT"):
        called_off = str(entry.get("status", "")).upper() == "CANCELLED"
        if not called_off and str(entry.get("transp", "OPAQUE")).upper() != "TRANSPARENT":
            times += _times(entry, clock, span)
    return _ticks(times, clock, inner=False)


def _takes_time(period: Any) -> bool:
    return str(period.params.get("FBTYPE", "BUSY")).upper() != "FREE"


def _times(part: Any, clock: Clock, span: Span) -> list[Times]:
    """Return the times of an entry, or of each in its series, that touch a span."""
    said = part.decoded("dtstart")
    start = _moment(said, clock)
    if "dtend" in part:
        length = _moment(part.decoded("dtend"), clock) - start
    elif "duration" in part:
        length = part.decoded("duration")
    else:
        length = timedelta(0) if isinstance(said, datetime) else timedelta(days=1)
    first, last = clock.when(span[0]), clock.when(span[1])
    if "rrule" not in part:
        return [(start, start + length)] if start < last and start + length > first else []
    rules = part["rrule"]
    if isinstance(rules, list) or str(rules.get("FREQ", [""])[0]).upper() in TOO_OFTEN:
        raise ValueError("a series comes too often, or by several rules")
    series = rrulestr(rules.to_ical().decode(), dtstart=start)
    begins = list(islice(series.xafter(first - length - timedelta(days=1), inc=True), MOST_TIMES))
    gone = {_moment(t, clock) for t in _left_out(part)}
    return [(t, t + length) for t in begins if t < last and t + length > first and t not in gone]


def _left_out(part: Any) -> Iterator[Any]:
    rows = part.get("exdate", [])
    for row in rows if isinstance(rows, list) else [rows]:
        yield from (d.dt for d in row.dts)


def _moment(said: date | datetime, clock: Clock) -> datetime:
    """Return a moment; a day is its midnight, and what has no zone is in that of the site."""
    zone = clock.when(0).tzinfo
    if not isinstance(said, datetime):
        return datetime.combine(said, time(), zone)
    return said if said.tzinfo else said.replace(tzinfo=zone)


def _tick(said: date | datetime, clock: Clock, *, up: bool) -> int:
    return clock.tick(_moment(said, clock), up=up)


def _ticks(times: Iterable[Times], clock: Clock, *, inner: bool) -> list[Span]:
    """Return times in whole ticks: what is free is rounded inwards, what is busy outwards."""
    rounded = [(clock.tick(a, up=inner), clock.tick(b, up=not inner)) for a, b in times]
    return [(a, b) for a, b in rounded if a < b]


def _without(free: Iterable[Span], busy: Iterable[Span]) -> tuple[Span, ...]:
    left = list(free)
    for begin, end in merged(busy):
        left = [s for a, b in left for s in ((a, min(b, begin)), (max(a, end), b)) if s[0] < s[1]]
    return tuple(sorted(left))


def _end(begin: datetime, end: datetime) -> str:
    return time_of_day(end) if end.date() == begin.date() else "24:00"


def _fault(where: str, text: str, required: str) -> Finding:
    return Finding("mail/free-hours", Severity.STOP, where, text, "", required)
