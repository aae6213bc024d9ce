"""Checks of warning ribbons: there, high enough above the line, in the number and at the depths asked for."""

from __future__ import annotations

from collections.abc import Iterator

from scheduler.site.ground import Line, Reach
from scheduler.trench.checks.view import Spot, View, line_spot
from scheduler.trench.ribbon import ribbon_asked
from scheduler.trench.section_records import Section

_TOLERANCE_IN = 0.05


def ribbons(view: View) -> Iterator[Spot]:
    """Lines that need a warning ribbon have one, high enough above them, in the number asked for."""
    for reach in view.site.reaches:
        section = view.sections[reach.id]
        for placed in section.placed:
            line = view.lines[placed.line]
            asked = ribbon_asked(view.book, line, reach, top_in=placed.top_in)
            if asked is not None and line.warning_ribbon is False:
                yield line_spot(line, reach, asked, "has no warning ribbon.", found="none", required="a warning ribbon")
            if not section.ribbons_in or not (line.warning_ribbon or (asked and line.warning_ribbon is None)):
                continue
            yield from _ribbon_heights(view, reach, line, section, above_in=placed.top_in - max(section.ribbons_in))


def _ribbon_heights(view: View, reach: Reach, line: Line, section: Section, *, above_in: float) -> Iterator[Spot]:
    height = view.book.get("ribbon-height", reach=reach, lines=[line])
    if above_in < height.value - _TOLERANCE_IN:
        yield line_spot(
            line,
            reach,
            height,
            "has its warning ribbon too near.",
            found=f"{height.inches(above_in)} above it",
            required=f"at least {height.inches()}",
        )
    most = view.book.find("ribbon-height-most", reach=reach, lines=[line])
    if most is not None and above_in > most.value + _TOLERANCE_IN:
        yield line_spot(
            line,
            reach,
            most,
            "has its warning ribbon too far above it.",
            found=f"{most.inches(above_in)} above it",
            required=f"at most {most.inches()}",
        )
    top_in = above_in + max(section.ribbons_in)
    lists = (
        ("ribbon-depths", "depths", "below grade", section.ribbons_in),
        ("ribbon-heights", "heights", "above it", tuple(top_in - d for d in section.ribbons_in)),
    )
    for rule, what, where, there in lists:
        asked = view.book.find(rule, reach=reach, lines=[line])
        wanted = sorted(float(i) for i in asked.items) if asked is not None else sorted(there)
        if asked is not None and not _alike(sorted(there), wanted):
            yield line_spot(
                line,
                reach,
                asked,
                f"has its warning ribbons at other {what} than asked for.",
                found=f"{', '.join(asked.inches(d) for d in sorted(there))} {where}",
                required=", ".join(asked.inches(d) for d in wanted),
            )
    yield from _ribbon_depths(view, reach, line, section)


def _alike(one: list[float], other: list[float]) -> bool:
    return len(one) == len(other) and all(abs(a - b) <= _TOLERANCE_IN for a, b in zip(one, other, strict=True))


def _ribbon_depths(view: View, reach: Reach, line: Line, section: Section) -> Iterator[Spot]:
    """Compare every ribbon with the least and the greatest depth below grade that a sheet allows."""
    least = view.book.find("ribbon-below-least", reach=reach, lines=[line])
    most = view.book.find("ribbon-below-most", reach=reach, lines=[line])
    for depth in section.ribbons_in:
        if least is not None and depth < least.value - _TOLERANCE_IN:
            found, required = f"{least.inches(depth)} below grade", f"at least {least.inches()}"
            yield line_spot(line, reach, least, "has its warning ribbon too high.", found=found, required=required)
        if most is not None and depth > most.value + _TOLERANCE_IN:
            found, required = f"{most.inches(depth)} below grade", f"at most {most.inches()}"
            yield line_spot(line, reach, most, "has its warning ribbon too deep.", found=found, required=required)
