"""Seasons: days of every year, or once, on which some work is not done or no trench stands open, in some places."""

from __future__ import annotations

import re
from calendar import monthrange
from collections.abc import Iterator
from datetime import date
from typing import Annotated, Literal

from pydantic import AfterValidator, Field

from scheduler.site.faults import Fault
from scheduler.site.fields import Expected, Id, Record, Text, form, in_years
from scheduler.site.ground import Place, Reach, Surface
from scheduler.spoken import day_of_year, short_day

Stopped = Literal["surface_cut", "expose", "dig", "lay", "test", "shade", "fill", "restore", "pave", "open_trench"]
"""restore: any surface put back, also for a time; pave: one of asphalt or concrete put back to stay."""

_DAY = re.compile(r"(?:([0-9]{4})-)?([0-9]{2})-([0-9]{2})")
_LEAP = 2024


def _check_day(text: str) -> str:
    found = _DAY.fullmatch(text)
    if not found:
        raise ValueError("expected a day of every year such as 11-01, or a date such as 2027-11-01")
    try:
        written = date(int(found[1] or _LEAP), int(found[2]), int(found[3]))
    except ValueError:
        raise ValueError("there is no such day") from None
    in_years(written)
    return text


SeasonDay = Annotated[
    str,
    AfterValidator(_check_day),
    Expected("a day of every year such as 11-01, or a date such as 2027-11-01"),
    form(pattern=_DAY.pattern),
]
"""`11-01` is 1 November of every year, `2027-11-01` that day alone."""


class Season(Record):
    """Days, of every year or once, on which some work is not done or no trench stands open, in some places.

    Such as no asphalt in winter, a drive that stays free during harvest, or a new street that is not cut for a time.
    """

    id: Id
    name: Text
    """What holds then, such as: no hot asphalt."""
    from_: SeasonDay = Field(alias="from")
    """The first day."""
    to: SeasonDay
    """The last day."""
    stops: Annotated[list[Stopped], Field(min_length=1)]
    """Stages of the work that are not done on these days. restore: a surface put back, also for a time; pave: a
    paved one put back to stay. open_trench: no trench stands open, it is filled before or dug after."""
    reaches: list[Id] = []
    """Where it holds; empty: in every reach."""
    surfaces: list[Surface] = []
    """Only in reaches of these surfaces; empty: of any."""
    places: list[Place] = []
    """Only in reaches that lie in these places; empty: in any."""
    source: Text | None = None
    """Where it is written down, or who said so."""

    @property
    def yearly(self) -> bool:
        """Whether it comes again every year."""
        return len(self.from_) == len("11-01")

    @property
    def said(self) -> str:
        """What holds and when: `no hot asphalt, 1 Nov to 15 Apr`."""
        if self.yearly:
            return f"{self.name}, {day_of_year(*_numbers(self.from_))} to {day_of_year(*_numbers(self.to))}"
        first, last = date.fromisoformat(self.from_), date.fromisoformat(self.to)
        return f"{self.name}, {short_day(first, year=True)} to {short_day(last, year=True)}"

    def holds_in(self, reach: Reach) -> bool:
        """Tell whether it holds in a reach."""
        return (
            (not self.reaches or reach.id in self.reaches)
            and (not self.surfaces or reach.surface in self.surfaces)
            and (not self.places or reach.place in self.places)
        )

    def spans(self, first: date, last: date) -> Iterator[tuple[date, date]]:
        """Give its first and last days, one pair each time that it comes and meets the days from `first` to `last`."""
        if not self.yearly:
            found = [(date.fromisoformat(self.from_), date.fromisoformat(self.to))]
        else:
            over = self.to < self.from_
            years = range(first.year - 1, last.year + 1)
            found = [(_in_year(y, self.from_), _in_year(y + over, self.to)) for y in years]
        return ((a, b) for a, b in found if a <= last and b >= first)


def _numbers(text: str) -> tuple[int, int]:
    return int(text[-5:-3]), int(text[-2:])


def _in_year(year: int, text: str) -> date:
    month, day = _numbers(text)
    return date(year, month, min(day, monthrange(year, month)[1]))


def season_faults(seasons: list[Season]) -> Iterator[Fault]:
    """Seasons of which one end comes every year and the other once, or whose last day lies before the first."""
    for i, season in enumerate(seasons):
        at = ("seasons", i, "to")
        if len(season.from_) != len(season.to):
            text = "One end comes every year and the other once: give both as days, or both as dates."
            yield Fault("site.dates", at, text, found=f"{season.from_} to {season.to}")
        elif not season.yearly and season.to < season.from_:
            yield Fault(
                "site.dates", at, "It ends before it begins.", found=season.to, required=f"{season.from_} or later"
            )
