"""Moments, lengths of time and numbers as people say them, on screens, on paper and in every sentence.

All moments and durations that a person reads are written here and nowhere else. Files for other
programs (plan.json, CSV, iCalendar) have their own forms, as their formats ask.
"""

from __future__ import annotations

from datetime import date, datetime

from scheduler.glossary import GLOSSARY as GLOSSARY
from scheduler.language import LANGUAGES as LANGUAGES
from scheduler.language import Language as Language
from scheduler.language import in_words as in_words
from scheduler.language import language as language
from scheduler.language import spoken_in as spoken_in
from scheduler.language import unread as unread

NOON = 12
"""The hour at which a morning ends."""


def moment(when: datetime, *, year: bool = False) -> str:
    """Write a moment: `Tue 9 Mar 10:30`, or `Tue 9 Mar 2027 10:30`."""
    return f"{short_day(when, year=year)} {time_of_day(when)}"


def day_and_time(when: datetime) -> str:
    """Write a moment where there is room: `Tuesday 9 March, 10:30`."""
    return f"{day(when)}, {time_of_day(when)}"


def short_day(when: date, *, year: bool = False) -> str:
    """Write a day in little room: `Tue 9 Mar`, or `Tue 9 Mar 2027`."""
    return f"{in_words(f'{when:%a}')} {when.day} {in_words(f'{when:%b}')}" + (f" {when.year}" if year else "")


def half_day(when: datetime, *, year: bool = False) -> str:
    """Write a half-day: `Tue 9 Mar in the morning`."""
    return f"{short_day(when, year=year)} in the {half_of(when)}"


def half_of(when: datetime) -> str:
    """Write which half of its day a moment lies in: `morning`, or from noon on `afternoon`."""
    return "morning" if when.hour < NOON else "afternoon"


def day(when: date) -> str:
    """Write a day: `Tuesday 9 March`."""
    return in_words(
        "{weekday} {number} {month}", weekday=in_words(f"{when:%A}"), number=when.day, month=in_words(f"{when:%B}")
    )


def day_of_year(month: int, day: int) -> str:
    """Write a day of every year: `1 Nov`."""
    return f"{day} {date(2024, month, day):%b}"


def time_of_day(when: datetime) -> str:
    """Write a time of day: `10:30`."""
    return f"{when:%H:%M}"


def to_the_second(when: datetime) -> str:
    """Write a time of day where seconds matter: `10:30:05`."""
    return f"{when:%H:%M:%S}"


def stamp(when: datetime, *, fine: bool = False) -> str:
    """Write a UTC moment into a file's name: `20270309T103005Z` (ISO 8601, basic form), or to the microsecond."""
    return f"{when:%Y%m%dT%H%M%S%fZ}" if fine else f"{when:%Y%m%dT%H%M%SZ}"


def times(start: datetime, finish: datetime) -> str:
    """Write from when to when on one day: `07:00-15:30`, one time when both are the same."""
    return time_of_day(start) if start == finish else f"{time_of_day(start)}-{time_of_day(finish)}"


def from_to(start: datetime, finish: datetime, *, year: bool = False) -> str:
    """Write a stretch of time, the day once when it ends on the day it begins."""
    if start.date() == finish.date():
        return f"{short_day(start, year=year)} {times(start, finish)}"
    return f"{moment(start, year=year)} to {moment(finish, year=year)}"


def typed(when: datetime) -> str:
    """Write a moment as it is typed into a site file or a table of dates: `2027-03-09 10:30`."""
    return f"{when:%Y-%m-%d %H:%M}"


def length(minutes: int) -> str:
    """Write a length of elapsed time: `6 days 2 h 15 min`; its size alone when it is negative."""
    days, rest = divmod(abs(minutes), 1440)
    return " ".join([count(days, "day")] * (days > 0) + _hours(rest)) or "no time"


def working(minutes: int) -> str:
    """Write an amount of working time, of which a day has no fixed share: `26 h 15 min`."""
    return " ".join(_hours(abs(minutes))) or "no time"


def working_hours(hours: float) -> str:
    """Write an amount of work as people estimate it: `1 working hour`, `2.5 working hours`."""
    return f"{amount(hours)} working hour{'' if hours == 1 else 's'}"


def _hours(minutes: int) -> list[str]:
    hours, rest = divmod(minutes, 60)
    return [f"{hours} h"] * (hours > 0) + [f"{rest} min"] * (rest > 0)


def count(number: int, one: str, many: str = "") -> str:
    """Write a number of things: `1 look`, `3 looks`."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def amount(value: float | None) -> str:
    """Write a number without needless digits: `1,234.6`, `3`, and `-` for none."""
    return "-" if value is None else f"{value:,.1f}".removesuffix(".0")


def found_and_expected(found: str, required: str) -> str:
    """Say what stands there and what is to stand there; '' where nothing particular is expected."""
    return f"Found {found or 'nothing'}; expected {required}." if required else ""
