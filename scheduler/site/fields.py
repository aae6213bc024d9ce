"""Field types shared by the site's records: ids, stations, hours, the base record."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date, datetime, time
from functools import cache
from typing import Annotated, Any

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainSerializer,
    ValidationInfo,
    WithJsonSchema,
    model_validator,
)

from scheduler.units import format_station, metric, nominal_inches, parse_amount, parse_station, retold, split_amount


class Record(BaseModel):
    """Base of every record in a site file: unknown keys refused, values finite, immutable."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, allow_inf_nan=False, use_attribute_docstrings=True, populate_by_name=True
    )

    @model_validator(mode="before")
    @classmethod
    def _with_units(cls, data: Any) -> Any:
        """Take `cover: 900 mm` for `cover_in: 900 mm`: a name without its unit, where the value has one.

        Where it has none, or the field is given by its whole name too, the bare name is no field and is refused.
        """
        if not isinstance(data, dict):
            return data
        bare = {key: name for name, key in bare_names(cls).items() if key in data}
        taken = {key: name for key, name in bare.items() if name not in data and has_units(data[key])}
        return {taken.get(key, key): value for key, value in data.items()} if taken else data


def has_units(value: object) -> bool:
    """Return whether a value, or each of a list, is an amount with its unit."""
    values = value if isinstance(value, list) else [value]
    return all(isinstance(one, str) and _has_unit(one) for one in values)


def _has_unit(text: str) -> bool:
    try:
        return bool(split_amount(text)[1])
    except ValueError:
        return True  # no amount at all: the field itself says so


@cache
def bare_names(record: type[Record]) -> dict[str, str]:
    """Return fields of a record, each with its name without the unit, where no other field is called so."""
    return {name: key for name in record.model_fields if (key := bare_name(name)) and key not in record.model_fields}


@dataclass(frozen=True, slots=True)
class Expected:
    """Marks a field type with the words that say what a user may write."""

    words: str
    in_metres: str = ""
    """What is said on a site in metres, where that is something else."""

    @property
    def said(self) -> str:
        """The words, in the units told."""
        return self.in_metres if self.in_metres and metric() else self.words


def form(*, number: bool = False, whole: bool = False, pattern: str = "") -> WithJsonSchema:
    """Return what an editor is told of a value that is written as text of some form, or as a number instead."""
    text = {"type": "string"} | ({"pattern": f"^(?:{pattern})$"} if pattern else {})
    others = [{"type": "number"}] * number + [{"type": "integer"}] * whole
    return WithJsonSchema({"anyOf": [text, *others]} if others else text)


def _check_id(value: str) -> str:
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,39}", value):
        raise ValueError("expected an id: letters, digits, '-', '_' or '.', at most 40 of them")
    return value


def _to_text(value: Any) -> Any:
    return str(value) if isinstance(value, int) and not isinstance(value, bool) else value


Id = Annotated[
    str,
    BeforeValidator(_to_text),
    AfterValidator(_check_id),
    Expected("a short name of letters, digits, '-', '_' or '.', at most 40 of them"),
    form(whole=True, pattern="[A-Za-z0-9][A-Za-z0-9_.-]{0,39}"),
]
"""A short name, unique among its kind."""

Text = Annotated[str, Field(min_length=1, max_length=200)]

_MAIL = re.compile(r"[A-Za-z0-9.!#$%&'*+/=?^_`{|}~-]{1,64}@[A-Za-z0-9-]{1,63}(\.[A-Za-z0-9-]{1,63})+")


def _check_mail(text: str) -> str:
    if text and _MAIL.fullmatch(text) is None:
        raise ValueError("this is no mail address")
    return text


Mail = Annotated[str, AfterValidator(_check_mail), Expected("a mail address such as ann@firm.example")]
"""A mail address by itself, or nothing."""


def write_station(feet: float) -> str | float:
    """Write a station as `1+60` or, told in metres, as `0+048.8`; as feet where that would lose a fraction."""
    text = format_station(feet)
    if parse_station(text) == feet:
        return text
    return f"{feet!r} ft" if metric() else feet


Station = Annotated[
    float,
    BeforeValidator(parse_station),
    PlainSerializer(write_station, when_used="json"),
    Expected("a station such as 1+60 or a number of feet", "a station such as 0+048.8 or 48.8 m"),
    form(number=True, pattern=r"\s*\d.*"),
]
"""Feet along an alignment, written `1+60` or 160; or in metres `0+048.8` or `48.8 m`."""

FIRST_YEAR, LAST_YEAR = 2000, 2100
_DAY = re.compile(r"\d{4}-\d\d-\d\d")
_MOMENT = re.compile(r"(\d{4}-\d\d-\d\d)[T ](\d\d:\d\d(:\d\d(\.\d+)?)?)( ?(Z|[+-]\d\d:?\d\d))?")


def in_years(day: date) -> None:
    """Refuse a day of a year that no calendar here reaches; raises ValueError."""
    if not FIRST_YEAR <= day.year <= LAST_YEAR:
        raise ValueError(f"the year must lie between {FIRST_YEAR} and {LAST_YEAR}")


def _read_day(value: object) -> date:
    """Read a date; unlike pydantic's own reading, a bare number is never a count of seconds."""
    if isinstance(value, date) and not isinstance(value, datetime):
        day = value
    elif isinstance(value, str) and _DAY.fullmatch(value):
        try:
            day = date.fromisoformat(value)
        except ValueError:
            raise ValueError("there is no such date") from None
    else:
        raise ValueError("expected a date such as 2026-06-08")
    in_years(day)
    return day


def _read_moment(value: object) -> datetime:
    """Read a date and time, with or without an offset from UTC."""
    if isinstance(value, datetime):
        moment = value
    elif isinstance(value, str) and (match := _MOMENT.fullmatch(value)):
        try:
            moment = datetime.fromisoformat(f"{match[1]}T{match[2]}{match[6] or ''}")
        except ValueError:
            raise ValueError("there is no such date and time") from None
    else:
        raise ValueError("expected a date and time such as 2026-06-08 09:00")
    in_years(moment.date())
    return moment


def _write_moment(moment: datetime) -> str:
    text = moment.isoformat(sep=" ")
    return text[:16] + text[19:] if (moment.second, moment.microsecond) == (0, 0) else text


Day = Annotated[date, BeforeValidator(_read_day), Expected("a date such as 2026-06-08"), form(pattern=_DAY.pattern)]
Moment = Annotated[
    datetime,
    BeforeValidator(_read_moment),
    PlainSerializer(_write_moment, when_used="json"),
    Expected("a date and time such as 2026-06-08 09:00"),
    form(pattern=_MOMENT.pattern),
]
"""A date and time; without an offset it is local to the site's time zone."""

LARGEST, SMALLEST = 1e6, 1e-3
"""No length, time or rate on a trench is beyond these; what is would only break arithmetic later."""
LARGEST_MONEY = 1e9


def _check_size(value: float) -> float:
    if abs(value) > LARGEST or 0 < abs(value) < SMALLEST:
        raise ValueError(f"numbers here are from {SMALLEST:g} to {LARGEST:,.0f}")
    return value


def _check_money(value: float) -> float:
    if value > LARGEST_MONEY:
        raise ValueError(f"amounts here are at most {LARGEST_MONEY:,.0f}")
    return value


_FIELD = re.compile(r"`([a-z_]+)`")
_NAMED_UNITS = (
    ("feet_per_hour", "ft/h", "length_per_hour"),
    ("feet_per_visit", "ft", "length_per_visit"),
    ("_ft_per_hour", "ft/h", "_per_hour"),
    ("_sf_per_hour", "sq ft/h", "_per_hour"),
    ("_cy_per_hour", "cu yd/h", "_per_hour"),
    ("_in", "in", ""),
    ("_ft", "ft", ""),
    ("_mil", "mil", ""),
    ("_psi", "psi", ""),
    ("_lb", "lb", ""),
    ("_cy", "cu yd", ""),
)
"""Ends of fields' names that say a unit: the unit, and what stands in place of that end where the value has its own."""


def unit_in_name(name: str) -> str:
    """Return the unit that a field's name says, `in` of `cover_in`, in place of which another may be written; or ''."""
    return _named_unit(name)[0]


def bare_name(name: str) -> str:
    """Return the name of a field whose value says the unit, `cover` for `cover_in`; '' where there is none."""
    return _named_unit(name)[1]


def retold_fields(text: str) -> str:
    """Return a fixed sentence of ours in the units told, with fields by their names there: `cover`, not `cover_in`."""
    text = retold(text)
    return _FIELD.sub(lambda f: f"`{bare_name(f[1]) or f[1]}`", text) if metric() else text


@cache
def _named_unit(name: str) -> tuple[str, str]:
    for tail, unit, bare in _NAMED_UNITS:
        if name.endswith(tail) and "_per" not in name.removesuffix(tail):
            return unit, name.removesuffix(tail) + bare
    return "", ""


def _in_unit_of_name(value: object, info: ValidationInfo) -> object:
    """Read `600 mm` in a field such as `cover_in` as inches; whatever is no such amount is left to be refused."""
    unit = unit_in_name(info.field_name or "")
    if not unit or not isinstance(value, str):
        return value
    try:
        return parse_amount(value, unit)
    except ValueError:
        return value


def _read_nominal(value: object, info: ValidationInfo) -> object:
    """Read a nominal size in millimetres, such as 53 mm of conduit or 50 mm of pipe, as the inches it stands for."""
    inches = _in_unit_of_name(value, info)
    return nominal_inches(inches) if isinstance(inches, float) and isinstance(value, str) else inches


def _read_coordinate(value: object) -> object:
    """Read `12 m` as feet; where metres are told, a bare number other than 0 is refused."""
    if not isinstance(value, str):
        return value
    amount, unit = split_amount(value)
    if metric() and amount and not unit:
        raise ValueError("expected a number of metres or feet with its unit, such as 12 m")
    return parse_amount(value, "ft")


def _write_coordinate(feet: float) -> str | float:
    return f"{feet!r} ft" if metric() else feet


Coordinate = Annotated[
    float,
    BeforeValidator(_read_coordinate),
    PlainSerializer(_write_coordinate, when_used="json"),
    Expected("a number of feet", "a number with its unit, such as 12 m"),
    form(number=True, pattern=r"\s*-?\d.*"),
]
Number = Annotated[float, BeforeValidator(_in_unit_of_name), AfterValidator(_check_size)]
Positive = Annotated[Number, Field(gt=0)]
NonNegative = Annotated[Number, Field(ge=0)]
NominalSize = Annotated[float, BeforeValidator(_read_nominal), AfterValidator(_check_size), Field(gt=0)]
"""Inches by which a size is called; in millimetres by metric designator (conduit) or DN (pipe)."""
Money = Annotated[float, AfterValidator(_check_money), Field(ge=0)]
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


Hours = Annotated[
    str, AfterValidator(_check_hours), Expected("hours such as 07:00-15:30"), form(pattern=_HOURS.pattern.strip("^$"))
]
"""`07:00-15:30`, local time."""
Weekly = Annotated[
    str,
    AfterValidator(_check_weekly),
    Expected("days and hours such as mon-fri 07:00-15:30"),
    form(pattern=r"\s*[A-Za-z,-]+ +\d{1,2}:\d{2}\s*-\s*\d{1,2}:\d{2}\s*"),
]
"""`mon-fri 07:00-15:30`, local time."""
