"""Stations, and the few unit conversions the project needs, each defined once."""

from __future__ import annotations

import re

INCHES_PER_FOOT = 12.0
CUBIC_FEET_PER_CUBIC_YARD = 27.0

_STATION = re.compile(r"^\s*(\d+)\+(\d{2}(?:\.\d+)?)\s*$")


def parse_station(value: object) -> float:
    """Read a station as feet along an alignment: `1+60`, `160` and 160.0 all give 160.0.

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
            feet = int(match[1]) * 100.0 + float(match[2]) if match else float(text)
        except (ValueError, OverflowError):
            raise ValueError("expected a station such as 1+60 or a number of feet") from None
    if not 0.0 <= feet < float("inf"):
        raise ValueError("a station cannot be negative or infinite")
    return feet


def format_station(feet: float) -> str:
    """Write feet along an alignment as a station: 160.0 becomes `1+60`."""
    hundreds, rest = divmod(round(feet, 2), 100.0)
    text = f"{rest:05.2f}".rstrip("0").rstrip(".")
    whole, _, fraction = text.partition(".")
    return f"{int(hundreds)}+{int(whole):02d}" + (f".{fraction}" if fraction else "")


def format_inches(inches: float) -> str:
    """Write inches to a tenth: 23.375 becomes `23.4 in`, 18.0 becomes `18 in`."""
    return f"{inches:.1f}".removesuffix(".0") + " in"


def format_feet(feet: float) -> str:
    """Write feet to a tenth: 12.34 becomes `12.3 ft`."""
    return f"{feet:.1f}".removesuffix(".0") + " ft"


def inches_to_feet(inches: float) -> float:
    """Convert inches to feet."""
    return inches / INCHES_PER_FOOT


def cubic_yards(*, cubic_feet: float) -> float:
    """Convert cubic feet to cubic yards."""
    return cubic_feet / CUBIC_FEET_PER_CUBIC_YARD
