"""Stations, and the few unit conversions the project needs, each defined once."""

from __future__ import annotations

import re
from collections.abc import Mapping

INCHES_PER_FOOT = 12.0
CUBIC_FEET_PER_CUBIC_YARD = 27.0
TOUCH_FT = 0.01
"""Stretches that share no more than this only touch, and stations no farther apart are one place."""

_STATION = re.compile(r"^\s*(\d+)\+(\d{2}(?:\.\d+)?)\s*$")
_AMOUNT = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*([A-Za-z%°\"'][A-Za-z ]*)?\s*")
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
}
"""What each unit measures, and how much one of it is in the first unit of its kind."""
_SPELT = {
    "inch": "in", "inches": "in", '"': "in", "'": "ft", "foot": "ft", "feet": "ft", "mils": "mil",
    "millimetres": "mm", "metres": "m", "hours": "h", "hour": "h", "minutes": "min", "amps": "A", "amperes": "A",
    "deg": "degrees", "°": "degrees", "x": "times",
}  # fmt: skip
_BESIDE = {"mm": "in", "cm": "in", "m": "ft", "kPa": "psi", "bar": "psi", "N": "lb", "kN": "lb"}
"""The unit that a metric amount is shown in beside its own."""


def parse_station(value: object) -> float:
    """Read a station as feet along an alignment: `1+60`, `160` and 160.0 all give 160.0, and `48.8 m` gives 160.1.

    Raises ValueError when the text is neither a station nor a number of feet, or is negative.
    """
    if isinstance(value, bool):
        raise ValueError("expected a station such as 1+60 or a number of feet")
    if isinstance(value, (int, float)):
        feet = float(value)
    else:
        text = str(value)
        match = _STATION.match(text)
        try:
            feet = int(match[1]) * 100.0 + float(match[2]) if match else _feet(text)
        except (ValueError, OverflowError):
            raise ValueError("expected a station such as 1+60 or a number of feet") from None
    if not 0.0 <= feet < float("inf"):
        raise ValueError("a station cannot be negative or infinite")
    return feet


def _feet(text: str) -> float:
    try:
        return float(text)
    except ValueError:
        return parse_amount(text, "ft")


def format_station(feet: float) -> str:
    """Write feet along an alignment as a station: 160.0 becomes `1+60`."""
    hundreds, rest = divmod(round(feet, 2), 100.0)
    text = f"{rest:05.2f}".rstrip("0").rstrip(".")
    whole, _, fraction = text.partition(".")
    return f"{int(hundreds)}+{int(whole):02d}" + (f".{fraction}" if fraction else "")


def format_inches(inches: float) -> str:
    """Write inches to a tenth: 23.375 becomes `23.4 in`, 18.0 becomes `18 in`."""
    return format_amount(inches, "in")


def format_feet(feet: float) -> str:
    """Write feet to a tenth: 12.34 becomes `12.3 ft`."""
    return format_amount(feet, "ft")


def parse_amount(text: str, unit: str) -> float:
    """Read a number with or without its unit as an amount in `unit`: `900 mm` is 35.43 in, `36` in inches 36.0.

    Raises ValueError when it is no number, or its unit does not measure the same.
    """
    number, own = split_amount(text)
    if not own or own == unit:
        return number
    if unit not in UNITS or UNITS[own][0] != UNITS[unit][0]:
        raise ValueError(f"expected an amount in {unit}" if unit else "expected a number without a unit")
    return number * UNITS[own][1] / UNITS[unit][1]


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
    that unit, with `unit` or the usual one beside it: `508 mm (20 in)`. `exact` writes three digits of inches too, as
    nominal sizes need.
    """
    plain = _plain(amount, unit, exact=exact)
    own = split_amount(like)[1] if like else ""
    if not own or own == unit:
        return plain
    factor = UNITS[unit][1] / UNITS[own][1]
    beside = _BESIDE.get(own, unit)
    other = _plain(amount * UNITS[unit][1] / UNITS[beside][1], beside)
    return f"{_plain(amount * factor, own)} ({other})"


def _plain(amount: float, unit: str, *, exact: bool = False) -> str:
    digits = 3 if exact else {"mm": 0, "in": 1, "ft": 1, "cm": 1, "psi": 1, "kPa": 1, "m": 2}.get(unit, 3)
    text = f"{round(amount, digits) + 0.0:.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return f"{text} {unit}".strip()


def inches_to_feet(inches: float) -> float:
    """Convert inches to feet."""
    return inches / INCHES_PER_FOOT


def cubic_yards(*, cubic_feet: float) -> float:
    """Convert cubic feet to cubic yards."""
    return cubic_feet / CUBIC_FEET_PER_CUBIC_YARD
