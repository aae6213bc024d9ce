"""Field types shared by the site's records: ids, stations, hours, the base record."""

from __future__ import annotations

import re
from datetime import time
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

from scheduler.units import parse_station


class Record(BaseModel):
    """Base of every record in a site file: unknown keys refused, values finite, immutable."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, allow_inf_nan=False, use_attribute_docstrings=True, populate_by_name=True
    )


def _check_id(value: str) -> str:
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,39}", value):
        raise ValueError("expected an id: letters, digits, '-', '_' or '.', at most 40 of them")
    return value


def _to_text(value: Any) -> Any:
    return str(value) if isinstance(value, int) and not isinstance(value, bool) else value


Id = Annotated[str, BeforeValidator(_to_text), AfterValidator(_check_id)]
"""A short name, unique among its kind."""

Text = Annotated[str, Field(min_length=1, max_length=200)]
Station = Annotated[float, BeforeValidator(parse_station)]
"""Feet along an alignment, written `1+60` or 160."""

Positive = Annotated[float, Field(gt=0)]
NonNegative = Annotated[float, Field(ge=0)]
Money = NonNegative
Share = Annotated[float, Field(ge=0, le=1)]

_HOURS = re.compile(r"^\s*(\d{1,2}):(\d{2})\s*-\s*(\d{1,2}):(\d{2})\s*$")
DAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def parse_hours(text: str) -> tuple[time, time]:
    """Read `07:00-15:30` as two times; the end may be 24:00, given as 00:00.

    Raises ValueError when the text is no such range, is empty, or is not on a quarter hour.
    """
    match = _HOURS.match(text)
    if not match:
        raise ValueError("expected hours such as 07:00-15:30")
    h1, m1, h2, m2 = (int(g) for g in match.groups())
    begin, end = h1 * 60 + m1, h2 * 60 + m2
    if m1 > 59 or m2 > 59 or end > 1440 or begin >= end:
        raise ValueError("expected hours such as 07:00-15:30, the end after the start")
    if begin % 15 or end % 15:
        raise ValueError("expected hours on a quarter of an hour")
    return time(h1, m1), time(h2 % 24, m2)


def parse_weekly(text: str) -> tuple[tuple[int, ...], tuple[time, time]]:
    """Read `mon-thu 07:00-15:30`, `sat 08:00-12:00` or `mon,wed 09:00-11:00`.

    Returns weekday numbers (Monday 0) and the hours; raises ValueError otherwise.
    """
    head, _, hours = text.strip().partition(" ")
    days: list[int] = []
    for part in head.lower().split(","):
        first, _, last = part.partition("-")
        if first not in DAYS or (last and last not in DAYS):
            raise ValueError("expected days such as mon-fri or mon,wed, then hours such as 07:00-15:30")
        i, j = DAYS.index(first), DAYS.index(last or first)
        days.extend(range(i, j + 1) if i <= j else (*range(i, 7), *range(0, j + 1)))
    return tuple(sorted(set(days))), parse_hours(hours)


def _check_hours(value: str) -> str:
    parse_hours(value)
    return value


def _check_weekly(value: str) -> str:
    parse_weekly(value)
    return value


Hours = Annotated[str, AfterValidator(_check_hours)]
"""`07:00-15:30`, local time."""
Weekly = Annotated[str, AfterValidator(_check_weekly)]
"""`mon-fri 07:00-15:30`, local time."""
