"""Stations and amounts: read in any unit, kept in feet and inches, told in the units of the site; each defined once.

Inside, lengths along the trench are feet, and depths and sizes inches. A site in metres is read and told in metric
units all the same: whoever opens a site says so once with `tell_in`, or for a while with `told_in`, and everything
written here follows, as sentences follow a language.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from functools import wraps
from inspect import isgeneratorfunction, signature
from math import ceil, floor
from typing import Any, Literal, ParamSpec, TypeVar, cast

Units = Literal["feet", "metres"]
"""In which a site is written and told."""

INCHES_PER_FOOT, MM_PER_INCH = 12.0, 25.4
METRES_PER_FOOT = 0.3048
CUBIC_FEET_PER_CUBIC_YARD = 27.0
CUBIC_METRES_PER_CUBIC_YARD = (3 * METRES_PER_FOOT) ** 3
FT_NIGHTS = "ft nights"  # of open trench, in plan.json
LITRES_PER_GALLON = 3.785411784
TOUCH_FT = 0.01
"""Stretches that share no more than this only touch, and stations no farther apart are one place."""

_told_in: ContextVar[Units] = ContextVar("units of the site", default="feet")

_STATION = re.compile(r"^\s*(\d+)\+(\d{2}(?:\.\d+)?)\s*$")
_KILOMETRES = re.compile(r"^\s*(\d+)\+(\d{3}(?:\.\d+)?)\s*$")
"""Stations of 1000 m, as AASHTO recommends (General Services Administration, Metric Design Guide, civil works)."""
_AMOUNT = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([A-Za-z%°\"'][A-Za-z0-9²³/ ]*)?\s*")
_PSI_PER_KPA = 0.14503773773
_LB_PER_N = 0.22480894310

UNITS: Mapping[str, tuple[str, float]] = {
    "in": ("length", 1.0),
    "ft": ("length", INCHES_PER_FOOT),
    "mil": ("length", 0.001),
    "mm": ("length", 1 / 25.4),
    "cm": ("length", 1 / 2.54),
    "m": ("length", 1 / 0.0254),
    "psi": ("pressure", 1.0),
    "kPa": ("pressure", _PSI_PER_KPA),
    "bar": ("pressure", 100.0 * _PSI_PER_KPA),
    "h": ("time", 1.0),
    "min": ("time", 1 / 60),
    "lb": ("force", 1.0),
    "N": ("force", _LB_PER_N),
    "kN": ("force", 1000.0 * _LB_PER_N),
    "A": ("current", 1.0),
    "degrees": ("angle", 1.0),
    "times": ("times", 1.0),
    "%": ("share", 1.0),
    "AWG": ("gauge", 1.0),
    "cu yd": ("volume", 1.0),
    "m3": ("volume", 1 / CUBIC_METRES_PER_CUBIC_YARD),
    "ft/h": ("length an hour", 1.0),
    "m/h": ("length an hour", 1 / METRES_PER_FOOT),
    "sq ft/h": ("area an hour", 1.0),
    "m2/h": ("area an hour", 1 / METRES_PER_FOOT**2),
    "cu yd/h": ("volume an hour", 1.0),
    "m3/h": ("volume an hour", 1 / CUBIC_METRES_PER_CUBIC_YARD),
}
"""What each unit measures, and how much one of it is in the first unit of its kind."""
_SPELT = {
    "inch": "in", "inches": "in", '"': "in", "'": "ft", "foot": "ft", "feet": "ft", "mils": "mil",
    "millimetres": "mm", "metres": "m", "hours": "h", "hour": "h", "minutes": "min", "amps": "A", "amperes": "A",
    "deg": "degrees", "°": "degrees", "x": "times",
    "metre": "m", "m³": "m3", "m³/h": "m3/h", "m²/h": "m2/h",
}  # fmt: skip
_KEPT_DIGITS = 9
"""Of an amount read in another unit: 48.768 m is 160 ft, without the noise of the division."""
_BESIDE = {"mm": "in", "cm": "in", "m": "ft", "kPa": "psi", "bar": "psi", "N": "lb", "kN": "lb"}
"""The unit that a metric amount is shown in beside its own."""
_METRIC = {
    "in": "mm", "ft": "m", "mil": "mm", "psi": "kPa", "lb": "N",
    "cu yd": "m3", "ft/h": "m/h", "sq ft/h": "m2/h", "cu yd/h": "m3/h",
}  # fmt: skip
"""The unit that is told in place of another where metres are told."""
_CONDUIT_MM = {
    0.5: 16, 0.75: 21, 1: 27, 1.25: 35, 1.5: 41, 2: 53, 2.5: 63, 3: 78, 3.5: 91, 4: 103, 5: 129, 6: 155,
}  # fmt: skip
"""Metric designators of trade sizes [in]: NFPA 70 Table 300.1(C)."""
_PIPE_MM = {
    0.5: 15, 0.75: 20, 1: 25, 1.25: 32, 1.5: 40, 2: 50, 2.5: 65, 3: 80, 4: 100, 5: 125, 6: 150, 8: 200, 10: 250,
    12: 300, 14: 350, 15: 375, 16: 400, 18: 450, 20: 500, 24: 600,
}  # fmt: skip
"""DN of nominal pipe sizes [in]: ASME B36.10M, ISO 6708; 15 in (375 mm) ASTM D3034."""
_NOMINAL_IN = {mm: float(inches) for table in (_CONDUIT_MM, _PIPE_MM) for inches, mm in table.items()}
_FIXED_UNITS = {
    "cu ft": (METRES_PER_FOOT**3, 2, "m3"), "sq ft": (METRES_PER_FOOT**2, 1, "m2"), "mph": (1.609344, 0, "km/h"),
}  # fmt: skip
"""Units in fixed sentences that nobody types: what one is in the metric unit, with how many digits it is told."""
_FIXED = re.compile(
    r"(?<![\w.+/-])((?:\d{1,3}(?:,\d{3})+|\d+)(?:\.\d+)?) (cu yd|cu ft|sq ft|mph|psi|mil|lb|ft|in)\b"
    r"(?! (?:the|a|an|any|one|all)\b)(?: (\d+) in\b)?"
)


def tell_in(units: Units) -> None:
    """Tell lengths in these units from now on, in the running thread or task."""
    _told_in.set(units)


@contextmanager
def told_in(units: Units) -> Iterator[None]:
    """Tell lengths in these units meanwhile."""
    before = _told_in.set(units)
    try:
        yield
    finally:
        _told_in.reset(before)


def metric() -> bool:
    """Return whether lengths are told in metres and millimetres."""
    return _told_in.get() == "metres"


P = ParamSpec("P")
R = TypeVar("R")


def in_units_of(units: Callable[[Any], Units]) -> Callable[[Callable[P, R]], Callable[P, R]]:
    """Return what makes a function tell its lengths in the units that `units` finds in its first argument.

    A function that yields tells them so in each of its steps.
    """

    def made(work: Callable[P, R]) -> Callable[P, R]:
        first = next(iter(signature(work).parameters))
        if isgeneratorfunction(work):

            @wraps(work)
            def stepwise(*args: Any, **kwargs: Any) -> Iterator[Any]:
                steps = work(*args, **kwargs)
                while True:
                    with told_in(units(args[0] if args else kwargs[first])):
                        try:
                            step = next(steps)
                        except StopIteration:
                            return
                    yield step

            return cast("Callable[P, R]", stepwise)

        @wraps(work)
        def told(*args: P.args, **kwargs: P.kwargs) -> R:
            with told_in(units(args[0] if args else kwargs[first])):
                return work(*args, **kwargs)

        return told

    return made


def station_form() -> str:
    """Say how a station is written: hundreds of feet, or thousands of metres."""
    return "0+048.8 or 48.8 m" if metric() else "1+60 or a number of feet"


def parse_station(value: object) -> float:
    """Read a station as feet along an alignment: `1+60`, `160` and 160.0 give 160.0, and so does `0+048.768` in metres.

    Two digits after the plus are feet, three are metres. Where lengths are told in metres, a bare number and a station
    in feet are refused, for nobody could tell which was meant; `160 ft` is not. Raises ValueError when the text is no
    station, or negative.
    """
    wrong = f"expected a station such as {station_form()}"
    if isinstance(value, bool):
        raise ValueError(wrong)
    if isinstance(value, (int, float)):
        feet = float(value)
    else:
        try:
            feet = _feet(str(value))
        except (ValueError, OverflowError):
            raise ValueError(wrong) from None
    if not 0.0 <= feet < float("inf"):
        raise ValueError("a station cannot be negative or infinite")
    return feet


def _feet(text: str) -> float:
    if match := _KILOMETRES.match(text):
        return parse_amount(f"{int(match[1]) * 1000 + float(match[2])} m", "ft")
    match = None if metric() else _STATION.match(text)
    if match:
        return int(match[1]) * 100.0 + float(match[2])
    if metric() and not split_amount(text)[1]:
        raise ValueError("a station in a site in metres has its unit")
    try:
        return float(text)
    except ValueError:
        return parse_amount(text, "ft")


def format_station(feet: float) -> str:
    """Write feet along an alignment as a station: 160.0 becomes `1+60`, or `0+048.768` where metres are told."""
    size, digits, amount = (1000, 3, feet * METRES_PER_FOOT) if metric() else (100, 2, feet)
    whole, rest = divmod(round(amount, digits), size)
    before, _, after = f"{rest:.{digits}f}".partition(".")
    after = after.rstrip("0")
    return f"{int(whole)}+{before.zfill(len(str(size)) - 1)}" + (f".{after}" if after else "")


def format_inches(inches: float) -> str:
    """Write inches to a tenth: 23.375 becomes `23.4 in`, 18.0 becomes `18 in`; or in millimetres, `594 mm`."""
    return format_amount(inches, "in")


def format_feet(feet: float) -> str:
    """Write feet to a tenth: 12.34 becomes `12.3 ft`; or in metres, `3.76 m`."""
    return format_amount(feet, "ft")


def format_length(feet: float) -> str:
    """Write a length along the trench, where a foot or so does not matter: `1234 ft`, or `376.1 m`."""
    return f"{feet * METRES_PER_FOOT:.1f}".removesuffix(".0") + " m" if metric() else f"{feet:.0f} ft"


def format_depth(inches: float) -> str:
    """Write a depth, where less than an inch does not matter: `47 in`, or `1204 mm`."""
    return format_inches(inches) if metric() else f"{inches:.0f} in"


def format_fine(inches: float) -> str:
    """Write a small length to a hundredth of an inch: `0.25 in`, or `6.4 mm`."""
    return format_inches(inches) if metric() else f"{inches:.2f} in"


def format_area(square_feet: float) -> str:
    """Write an area: `388 sq ft`, or `36 m2`."""
    return f"{square_feet * METRES_PER_FOOT**2:.1f} m2" if metric() else f"{square_feet:.0f} sq ft"


def format_gallons(gallons: float) -> str:
    """Write a volume of water: `0.31 gallons`, or `1.17 litres`."""
    return f"{gallons * LITRES_PER_GALLON:.2f} litres" if metric() else f"{gallons:.2f} gallons"


def format_volume(in_cubic_yards: float) -> str:
    """Write a volume given in cubic yards: `12.3 cu yd`, or `9.4 m3`."""
    return format_amount(in_cubic_yards, "cu yd")


def nominal_inches(inches: float) -> float:
    """Return the nominal size that a size stands for: 53 mm (2.087 in) of conduit is 2 in; others stay as they are."""
    mm = round(inches * MM_PER_INCH, 3)
    return _NOMINAL_IN.get(int(mm), inches) if mm.is_integer() else inches


def format_size(inches: float, *, conduit: bool) -> str:
    """Write a nominal size: `2 in`; told in metres, conduit by metric designator, `53 mm`, pipe by DN, `50 mm`."""
    mm = (_CONDUIT_MM if conduit else _PIPE_MM).get(inches) if metric() else None
    return f"{mm} mm" if mm else format_amount(inches, "in", exact=True)


def counted_length(feet: float, *, up: bool) -> int:
    """Return a length as it is counted against a limit, rounded up or down: whole feet, or decimetres."""
    amount = round(feet * METRES_PER_FOOT * 10 if metric() else feet, 6)
    return ceil(amount) if up else floor(amount)


def counted_unit() -> str:
    """Return the unit of counted lengths: `ft` or `dm`."""
    return "dm" if metric() else "ft"


def format_counted(amount: int, unit: str) -> str:
    """Write what was counted against a limit: `200 ft`, `61.2 m` for 612 decimetres, `3 reaches`."""
    return f"{amount / 10:g} m" if unit == "dm" else f"{amount} {unit}"


def near_station(feet: float) -> float:
    """Return the nearest station that is easy to stake out: at a whole foot, or a tenth of a metre."""
    return round(round(feet * METRES_PER_FOOT, 1) / METRES_PER_FOOT, _KEPT_DIGITS) if metric() else float(round(feet))


def to_millimetre(feet: float) -> float:
    """Return a length in feet rounded to a whole millimetre: so it reads back equal however it is written."""
    return round(round(feet * METRES_PER_FOOT, 3) / METRES_PER_FOOT, _KEPT_DIGITS)


def told_measure(amount: float | None, unit: str) -> tuple[float | None, str]:
    """Return a measure of a plan as it is told: 1000 ft nights of open trench are 304.8 m × nights."""
    if unit not in (FT_NIGHTS, FT_NIGHTS.removesuffix("s")):
        return amount, unit
    return None if amount is None else in_length_unit(amount), unit.replace("ft ", f"{length_unit()} × ")


def format_nights(ft_nights: float) -> str:
    """Write open trench summed over nights: `1,234 ft × nights`, or `376 m × nights`."""
    return f"{in_length_unit(ft_nights):,.0f} {nights_unit()}"


def nights_unit() -> str:
    """Return the unit of open trench over nights as it is told, `ft × nights`."""
    return f"{length_unit()} × nights"


def length_unit() -> str:
    """Return the unit of lengths along the trench: `ft` or `m`."""
    return "m" if metric() else "ft"


def in_length_unit(feet: float) -> float:
    """Return a length along the trench, or a sum of lengths such as ft nights, in the unit that is told."""
    return feet * METRES_PER_FOOT if metric() else feet


def retold(text: str) -> str:
    """Return a fixed sentence of ours, such as a rule's, with its amounts in feet and inches in the units told."""
    return _FIXED.sub(lambda found: _fixed(found), text) if metric() else text


def _fixed(found: re.Match[str]) -> str:
    number, unit, more = float(found[1].replace(",", "")), found[2], found[3]
    if unit in _FIXED_UNITS:
        factor, digits, name = _FIXED_UNITS[unit]
        return f"{number * factor:.{digits}f} {name}"
    return format_amount(number + (float(more) / INCHES_PER_FOOT if more else 0.0), unit)


def parse_amount(text: str, unit: str) -> float:
    """Read a number with or without its unit as an amount in `unit`: `900 mm` is 35.43 in, `36` in inches 36.0.

    Raises ValueError when it is no number, or its unit does not measure the same.
    """
    number, own = split_amount(text)
    if not own or own == unit:
        return number
    if unit not in UNITS or UNITS[own][0] != UNITS[unit][0]:
        raise ValueError(f"expected an amount in {unit}" if unit else "expected a number without a unit")
    return round(number * UNITS[own][1] / UNITS[unit][1], _KEPT_DIGITS)


def parse_length(text: str, units: Units) -> float:
    """Read a length as feet: with its unit, or without it in the units of the site. Raises ValueError for others."""
    return parse_amount(text if split_amount(text)[1] else f"{text} {'m' if units == 'metres' else 'ft'}", "ft")


def split_amount(text: str) -> tuple[float, str]:
    """Return the number of an amount and its unit, '' where it has none; raises ValueError when it is neither."""
    match = _AMOUNT.fullmatch(text)
    own = (match[2] or "").strip() if match else ""
    own = _SPELT.get(own.lower(), own)
    if match is None or (own and own not in UNITS):
        raise ValueError("expected a number, with its unit or without")
    return float(match[1]), own


def format_amount(amount: float, unit: str, *, like: str = "", exact: bool = False) -> str:
    """Write an amount with its unit: inches and feet to a tenth, others to three digits after the point.

    `like` is an amount as somebody wrote it, such as `900 mm`: in another unit than `unit`, the amount is written in
    that unit, with `unit` or the usual one beside it: `508 mm (20 in)`. Where metres are told, nothing stands beside
    it, and what was written in feet and inches is told in metric units like all else. `exact` writes three digits of
    inches too, as nominal sizes need.
    """
    own = split_amount(like)[1] if like else ""
    if metric():
        own = own if own in _BESIDE else _METRIC.get(unit, unit)
        return _plain(amount * UNITS[unit][1] / UNITS[own][1] if own else amount, own, exact=exact)
    plain = _plain(amount, unit, exact=exact)
    if not own or own == unit:
        return plain
    factor = UNITS[unit][1] / UNITS[own][1]
    beside = _BESIDE.get(own, unit)
    other = _plain(amount * UNITS[unit][1] / UNITS[beside][1], beside)
    return f"{_plain(amount * factor, own)} ({other})"


def _plain(amount: float, unit: str, *, exact: bool = False) -> str:
    usual = {"mm": 0, "in": 1, "ft": 1, "cm": 1, "psi": 1, "kPa": 1, "m": 2, "N": 0, "lb": 0, "cu yd": 1, "m3": 1}.get(
        unit, 3
    )
    digits = usual if not exact else 1 if unit == "mm" else 3
    if unit == "mm" and 0 < abs(amount) < 10:
        digits = 1
    text = f"{round(amount, digits) + 0.0:.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return f"{text} {unit}".strip()


def inches_to_feet(inches: float) -> float:
    """Convert inches to feet."""
    return inches / INCHES_PER_FOOT


def cubic_yards(*, cubic_feet: float) -> float:
    """Convert cubic feet to cubic yards."""
    return cubic_feet / CUBIC_FEET_PER_CUBIC_YARD
