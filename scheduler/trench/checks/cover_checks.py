"""Checks of depth: cover, frost, what may not lie under a building."""

from __future__ import annotations

from collections.abc import Iterator

from scheduler.trench.checks.view import Spot, View, line_spot, span_in
from scheduler.trench.cover_depth import cover_parts
from scheduler.trench.pipes import CONDUITS, is_wired
from scheduler.trench.register import RULES
from scheduler.units import format_inches

_TOLERANCE_IN = 0.05


def cover(view: View) -> Iterator[Spot]:
    """Every line has the cover its rules ask for, and no more than its owner allows."""
    for reach, line, placed in view.placed():
        for start, end, asked in cover_parts(view.book, line, reach):
            if placed.top_in < asked.value - _TOLERANCE_IN:
                yield line_spot(
                    line,
                    reach,
                    asked,
                    "lies too shallow.",
                    found=f"{asked.inches(placed.top_in)} of cover",
                    required=f"at least {asked.inches()}",
                    gap=asked.value - placed.top_in,
                    span=(start, end),
                )
            most = view.book.find("cover-most", reach=reach, lines=[line], at=(start + end) / 2.0)
            if most is not None and placed.top_in > most.value + _TOLERANCE_IN:
                yield line_spot(
                    line,
                    reach,
                    most,
                    "lies deeper than its owner allows.",
                    found=f"{most.inches(placed.top_in)} of cover",
                    required=f"at most {most.inches()}",
                    gap=placed.top_in - most.value,
                    span=(start, end),
                )


def frost(view: View) -> Iterator[Spot]:
    """Water needs a frost depth; none given is not the same as none there."""
    if view.site.site.frost_depth_in is not None:
        return
    for reach, line, _ in view.placed():
        if line.kind in ("water", "reclaimed"):
            start, end = span_in(line, reach)
            yield Spot(
                rule="frost-known",
                subject=("frost depth",),
                alignment=reach.alignment,
                from_ft=start,
                to_ft=end,
                text="Water pipe is planned and the site gives no frost depth.",
                found="no frost depth",
                required="the local frost depth, 0 where the ground never freezes",
                source=RULES["frost-known"].cited,
            )


def under_buildings(view: View) -> Iterator[Spot]:
    """Cable under a building lies in raceway; gas does not run there."""
    for reach, line, _ in view.placed():
        if reach.place != "under_building":
            continue
        start, end = span_in(line, reach)
        if line.kind == "gas" and view.book.asks("building-gas", reach=reach, lines=[line], built_in=True):
            rule, found, required = "building-gas", "a gas line under a building", "a route round it"
        elif is_wired(line) and line.material not in CONDUITS:
            rule, found, required = "building-raceway", "cable without raceway under a building", "conduit"
        else:
            continue
        yield Spot(
            rule=rule,
            subject=(line.id,),
            alignment=reach.alignment,
            from_ft=start,
            to_ft=end,
            text=f"{line.name} runs under a building.",
            found=found,
            required=required,
            source=RULES[rule].cited,
        )


def lies_high(view: View) -> Iterator[Spot]:
    """Where a line's cover is left out, the depth dug does not leave it high in thick bedding."""
    for reach in view.site.reaches:
        section = view.sections[reach.id]
        on_bottom = [p for p in section.placed if not view.lines[p.line].shelf]
        lowest = max(on_bottom, key=lambda p: p.bottom_in, default=None)
        if lowest is None or view.lines[lowest.line].cover_in is not None:
            continue
        line = view.lines[lowest.line]
        most = view.book.get("bedding-most", reach=reach, lines=[line])
        limit = max(most.value, view.site.backfill.bedding_in)
        if section.bedding_in <= limit + _TOLERANCE_IN:
            continue
        room = lowest.top_in + section.bedding_in - view.site.backfill.bedding_in
        depth = format_inches(section.depth_in)
        yield line_spot(
            line,
            reach,
            most,
            f"lies high: the trench is {depth} deep and the line's cover is left out.",
            found=f"{format_inches(lowest.top_in)} of cover over {format_inches(section.bedding_in)} of bedding",
            required=f"at most {format_inches(limit)} of bedding, or the cover written",
            gap=section.bedding_in - limit,
            remedy=f"Write the line's `cover_in`, up to {format_inches(room)} in this trench; or dig less.",
        )
