"""A VTIMEZONE of a zone, made from the zone's own rules.

Own code because `icalendar` 7 writes the onset of daylight saving time an hour late: RFC 5545
section 3.6.5 gives it in the time kept before it (02:00), not in the time kept after it (03:00).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from icalendar import Timezone, TimezoneDaylight, TimezoneStandard

Rule = tuple[bool, timedelta, timedelta, str]
"""Whether daylight saving time begins, the offset before, the offset after, and the name of the time kept."""


def timezone(zone: str, first: date, last: date) -> Timezone:
    """Return the VTIMEZONE of a zone that is right from the year of the first day to that of the last."""
    info = ZoneInfo(zone)
    begin = datetime(first.year, 1, 1, tzinfo=info)
    onsets: dict[Rule, list[datetime]] = {}
    kept = begin.utcoffset() or timedelta()
    onsets[bool(begin.dst()), kept, kept, begin.tzname() or zone] = [begin.replace(tzinfo=None)]
    for after in _changes(info, begin, datetime(last.year + 1, 1, 1, tzinfo=info)):
        now = after.utcoffset() or timedelta()
        told = after.astimezone(UTC).replace(tzinfo=None) + kept
        onsets.setdefault((bool(after.dst()), kept, now, after.tzname() or zone), []).append(told)
        kept = now
    made = Timezone()
    made.add("tzid", zone)
    for (daylight, before, now, name), times in onsets.items():
        part = TimezoneDaylight() if daylight else TimezoneStandard()
        part.add("dtstart", times[0])
        part.add("tzoffsetfrom", before)
        part.add("tzoffsetto", now)
        part.add("tzname", name)
        if times[1:]:
            part.add("rdate", times[1:])
        made.add_component(part)
    return made


def _changes(info: ZoneInfo, begin: datetime, end: datetime) -> Iterator[datetime]:
    """Yield the first moments at which another offset or name is kept, to the second."""
    at, stop = begin.astimezone(UTC), end.astimezone(UTC)
    while at < stop:
        later = at + timedelta(days=1)
        if _kept(info, later) != _kept(info, at):
            yield _first_of(info, at, later)
        at = later


def _first_of(info: ZoneInfo, before: datetime, after: datetime) -> datetime:
    old = _kept(info, before)
    while after - before > timedelta(seconds=1):
        middle = before + timedelta(seconds=(after - before).total_seconds() // 2)
        before, after = (middle, after) if _kept(info, middle) == old else (before, middle)
    return after.astimezone(info)


def _kept(info: ZoneInfo, at: datetime) -> tuple[timedelta | None, str | None]:
    local = at.astimezone(info)
    return local.utcoffset(), local.tzname()
