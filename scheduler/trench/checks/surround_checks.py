"""Checks of what stands beside the trench or hangs over it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from scheduler.site.ground import Line, Reach
from scheduler.site.surroundings import Surrounding
from scheduler.trench.along import stretch_within
from scheduler.trench.checks.view import Spot, View, line_spot, span_of
from scheduler.trench.register import RULES
from scheduler.trench.rule import Value
from scheduler.trench.rules.surround_rules import NOUNS, WELL_SEWER_FT, clear_id, edge_id, wire_clearance_ft
from scheduler.trench.section_records import PlacedLine, Section
from scheduler.units import INCHES_PER_FOOT, format_feet, format_inches, inches_to_feet

FAR_FT = 500.0
"""What stands farther than this along the trench from a reach is not compared with it; no known rule asks for more."""
_TOLERANCE_FT = 0.005
_ON_WHEELS = ("excavator", "lift")
"""Machines with a boom."""

Interval = tuple[float, float]


@dataclass(frozen=True, slots=True)
class _LineBeside:
    """A thing near a reach."""

    thing: Surrounding
    reach: Reach
    section: Section

    @property
    def x_ft(self) -> float:
        """Where its nearest face lies across the trench, right of rising stations positive."""
        return self.thing.distance_ft if self.thing.side == "right" else -self.thing.distance_ft


def surroundings(view: View) -> Iterator[Spot]:
    """Lines, the trench, its spoil and its machines keep clear of what stands beside it or hangs over it."""
    for beside in _near(view):
        if beside.thing.what in NOUNS:
            yield from _lines(view, beside)
            yield from _edge(view, beside)
        if beside.thing.what == "building":
            yield from _footing(view, beside)
        if beside.thing.what == "overhead_line":
            yield from _machines(view, beside)
            yield from _spoil(view, beside)


def _near(view: View) -> Iterator[_LineBeside]:
    for thing in view.site.surroundings:
        for reach in view.site.reaches:
            if reach.alignment == thing.alignment and _gap_ft(thing.span, span_of(reach)) <= FAR_FT:
                yield _LineBeside(thing, reach, view.sections[reach.id])


def _gap_ft(one: Interval, other: Interval) -> float:
    """Return how far apart two spans lie along the trench; 0 where they touch or overlap."""
    return max(0.0, one[0] - other[1], other[0] - one[1])


def _nearest(thing: Surrounding, span: Interval) -> Interval:
    """Return the part of a span beside a thing, or its end nearest to it."""
    low, high = max(thing.span[0], span[0]), min(thing.span[1], span[1])
    if low <= high:
        return low, high
    end = span[1] if thing.span[0] > span[1] else span[0]
    return end, end


def asked_of_line(view: View, thing: Surrounding, reach: Reach, line: Line) -> Value | None:
    """Return how far a line in a reach keeps from a thing [ft], None where nothing says so."""
    code = WELL_SEWER_FT if thing.what == "well" and line.kind == "sewer" else None
    return view.book.find(clear_id(thing.what), reach=reach, lines=[line], built_in=code)


def asked_of_machine(view: View, wire: Surrounding, reach: Reach) -> Value:
    """Return how far machines in a reach keep from a wire [ft]."""
    lines = [view.lines[p.line] for p in view.sections[reach.id].placed]
    return view.book.get("overhead-clear", reach=reach, lines=lines, built_in=wire_clearance_ft(wire.voltage_v))


def surrounding_values(view: View, rule_id: str, reach: Reach, lines: list[Line]) -> Iterator[Value]:
    """Yield the values in a reach of a rule whose built-in value goes by the kind of line or the voltage of a wire."""
    for thing in (b.thing for b in _near(view) if b.reach.id == reach.id):
        if thing.what == "overhead_line" and rule_id == "overhead-clear":
            yield asked_of_machine(view, thing, reach)
        if thing.what == "well" and rule_id == clear_id("well"):
            yield from (v for line in lines if (v := asked_of_line(view, thing, reach, line)) is not None)


def _lines(view: View, beside: _LineBeside) -> Iterator[Spot]:
    for placed in beside.section.placed:
        line = view.lines[placed.line]
        asked = asked_of_line(view, beside.thing, beside.reach, line)
        if asked is None:
            continue
        away, span = min((_away_ft(beside, placed, s), s) for s in stretch_within(line, beside.reach))
        if away < asked.value - _TOLERANCE_FT:
            low, high = _nearest(beside.thing, span)
            spot = line_spot(
                line,
                beside.reach,
                asked,
                f"lies too near {beside.thing.said}.",
                found=f"{asked.feet(away)} from it",
                required=f"at least {asked.feet()}",
                gap=asked.value - away,
            )
            yield replace(spot, subject=(line.id, beside.thing.id), from_ft=low, to_ft=high)


def _away_ft(beside: _LineBeside, placed: PlacedLine, span: Interval) -> float:
    aside = abs(beside.x_ft - placed.x_in / INCHES_PER_FOOT) - placed.width_in / 2.0 / INCHES_PER_FOOT
    return math.hypot(_gap_ft(beside.thing.span, span), max(0.0, aside))


def _of_trench(
    beside: _LineBeside, rule: str, *, text: str, found: str, required: str, source: str, gap: float
) -> Spot:
    low, high = _nearest(beside.thing, span_of(beside.reach))
    return Spot(
        rule=rule,
        subject=(beside.thing.id,),
        alignment=beside.reach.alignment,
        from_ft=low,
        to_ft=high,
        text=text,
        found=found,
        required=required,
        source=source,
        gap=gap,
    )


def _edge(view: View, beside: _LineBeside) -> Iterator[Spot]:
    lines = [view.lines[p.line] for p in beside.section.placed]
    asked = view.book.find(edge_id(beside.thing.what), reach=beside.reach, lines=lines)
    if asked is None:
        return
    aside = max(0.0, beside.thing.distance_ft - beside.section.top_width_ft / 2.0)
    away = math.hypot(_gap_ft(beside.thing.span, span_of(beside.reach)), aside)
    if away < asked.value - _TOLERANCE_FT:
        yield _of_trench(
            beside,
            asked.rule,
            text=f"The edge of the trench comes too near {beside.thing.said}.",
            found=f"{asked.feet(away)} from it",
            required=f"at least {asked.feet()}",
            source=asked.source,
            gap=asked.value - away,
        )


def _footing(view: View, beside: _LineBeside) -> Iterator[Spot]:
    """Below the base of a footing the cut stays outside the ground in which its load spreads."""
    thing, section = beside.thing, beside.section
    if thing.footing_in is None or thing.settled or section.soil == "stable_rock":
        return
    below = inches_to_feet(section.depth_in - thing.footing_in)
    spread = view.book.get("footing-spread", reach=beside.reach).value
    if below <= _TOLERANCE_FT:
        return
    aside = thing.distance_ft - section.bottom_width_in / 2.0 / INCHES_PER_FOOT
    away = math.hypot(_gap_ft(thing.span, span_of(beside.reach)), max(0.0, aside))
    clear = max(spread, section.slope) * below
    if away < clear - _TOLERANCE_FT:
        yield _of_trench(
            beside,
            "footing-below",
            text=f"The trench reaches below the footing of {thing.said}, where its load spreads.",
            found=f"{format_inches(section.depth_in)} deep, {format_feet(below)} below the footing's base, its bottom "
            f"{format_feet(away)} from it",
            required=f"its bottom {format_feet(clear)} away, or no deeper than {format_inches(thing.footing_in)}",
            source=RULES["footing-below"].cited,
            gap=clear - away,
        )


def _machines(view: View, beside: _LineBeside) -> Iterator[Spot]:
    """The boom, up and swung out from the trench, keeps clear of a wire."""
    thing, booms = beside.thing, [e for e in view.site.equipment if e.kind in _ON_WHEELS]
    if not booms or thing.settled:
        return
    asked, swing = asked_of_machine(view, thing, beside.reach), view.site.limits.swing_ft
    aside = _beyond_swing_ft(view, thing, beside.reach)
    if thing.height_ft is None:
        return
    tallest = max(booms, key=lambda e: e.boom_up_ft)
    away = math.hypot(aside, max(0.0, thing.height_ft - tallest.boom_up_ft))
    if away < asked.value - _TOLERANCE_FT:
        yield _of_trench(
            beside,
            asked.rule,
            text=f"{tallest.name} reaches too near the wires of {thing.said}.",
            found=f"{format_feet(away)} from the wire, with {format_feet(tallest.boom_up_ft)} of boom and "
            f"{format_feet(swing)} of swing",
            required=f"at least {asked.feet()}",
            source=asked.source,
            gap=asked.value - away,
        )


def _beyond_swing_ft(view: View, thing: Surrounding, reach: Reach) -> float:
    along = _gap_ft(thing.span, span_of(reach))
    return max(0.0, math.hypot(along, thing.distance_ft) - view.site.limits.swing_ft)


def unknown_depth(view: View) -> Iterator[tuple[Surrounding, Reach]]:
    """Yield each building so near a reach that the depth of its footing matters, and is not given."""
    for b in _near(view):
        if not b.thing.settled and _lacks_depth(view, b):
            yield b.thing, b.reach


def _lacks_depth(view: View, b: _LineBeside) -> bool:
    if b.thing.what != "building" or b.thing.footing_in is not None:
        return False
    aside = max(0.0, b.thing.distance_ft - b.section.bottom_width_in / 2.0 / INCHES_PER_FOOT)
    spread = max(view.book.get("footing-spread", reach=b.reach).value, b.section.slope)
    away = math.hypot(_gap_ft(b.thing.span, span_of(b.reach)), aside)
    return away < spread * inches_to_feet(b.section.depth_in)


def unknown_height(view: View) -> Iterator[tuple[Surrounding, Reach]]:
    """Yield each wire so near a reach that its height matters, and is not given."""
    for b in _near(view):
        if not b.thing.settled and _lacks_height(view, b):
            yield b.thing, b.reach


def _lacks_height(view: View, b: _LineBeside) -> bool:
    if b.thing.what != "overhead_line" or b.thing.height_ft is not None:
        return False
    return _beyond_swing_ft(view, b.thing, b.reach) < wire_clearance_ft(b.thing.voltage_v)


def settled(view: View) -> Iterator[tuple[str, Surrounding, Reach, str]]:
    """Yield what would be found, or could not be known, if nobody had settled it.

    As the rule, the thing, the reach beside it, and what is not given of it; '' where its numbers are.
    """
    for b in _near(view):
        if not b.thing.settled:
            continue
        if _lacks_depth(view, b):
            yield "footing-below", b.thing, b.reach, "the depth of its footing is not given"
        elif _lacks_height(view, b):
            yield "overhead-clear", b.thing, b.reach, "the height of its wires is not given"
        else:
            bare = replace(b, thing=b.thing.model_copy(update={"settled": None}))
            found = {"building": _footing, "overhead_line": _machines}.get(b.thing.what)
            yield from ((spot.rule, b.thing, b.reach, "") for spot in (found(view, bare) if found else ()))


def _spoil(view: View, beside: _LineBeside) -> Iterator[Spot]:
    reach, thing, section = beside.reach, beside.thing, beside.section
    lines = [view.lines[p.line] for p in section.placed]
    asked = view.book.asks("overhead-spoil", reach=reach, lines=lines)
    if asked is None or reach.spoil == "haul" or _gap_ft(thing.span, span_of(reach)) > 0.0:
        return
    edge = section.top_width_ft / 2.0
    far = edge + view.book.get("spoil-setback", reach=reach).value + section.spoil_base_ft
    if thing.distance_ft <= far and (reach.spoil == thing.side or thing.distance_ft <= edge):
        yield _of_trench(
            beside,
            asked.rule,
            text=f"Spoil lies under {thing.said}.",
            found=f"a bank to {format_feet(far)} from the centreline, on the {reach.spoil}",
            required="no spoil under the wires",
            source=asked.source,
            gap=far - thing.distance_ft,
        )
