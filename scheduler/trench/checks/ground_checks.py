"""Checks of the trench itself: width, depth, soil, spoil, bedding, tracer wire."""

from __future__ import annotations

import math
from collections.abc import Iterator

from scheduler.site.ground import Reach
from scheduler.trench.checks.view import Spot, View, line_spot, span_of
from scheduler.trench.pipes import PLASTIC_PIPES, is_wired
from scheduler.trench.register import RULES
from scheduler.trench.section_records import Section
from scheduler.trench.soil import LADDER_FROM_FT
from scheduler.units import format_feet, format_inches, inches_to_feet

_TOLERANCE_IN = 0.05


def _at(reach: Reach, rule: str, *, text: str, found: str, required: str, source: str, gap: float = 0.0) -> Spot:
    start, end = span_of(reach)
    return Spot(
        rule=rule,
        subject=(rule,),
        alignment=reach.alignment,
        from_ft=start,
        to_ft=end,
        text=text,
        found=found,
        required=required,
        source=source,
        gap=gap,
    )


def sizes(view: View) -> Iterator[Spot]:
    """The trench is wide and deep enough for what lies in it, and within local limits."""
    for reach in view.site.reaches:
        section = view.sections[reach.id]
        lines = [view.lines[p.line] for p in section.placed]
        too_narrow = section.bottom_width_in < section.width_needed_in - _TOLERANCE_IN
        if too_narrow and not (section.wall_in and section.width_needed_in <= _for_people_in(view, reach, section)):
            walls = f", {format_inches(section.clear_width_in)} between the shield walls" if section.wall_in else ""
            yield _at(
                reach,
                "width-lines",
                text="The bottom is too narrow.",
                found=f"{format_inches(section.bottom_width_in)} wide{walls}",
                required=f"at least {format_inches(section.width_needed_in)}",
                source=section.width_governed_by.partition(": ")[2] or section.width_governed_by,
                gap=section.width_needed_in - section.bottom_width_in,
            )
        if section.depth_in < section.depth_needed_in - _TOLERANCE_IN:
            yield _at(
                reach,
                "depth-lines",
                text="The trench is not deep enough.",
                found=f"{format_inches(section.depth_in)} deep",
                required=f"at least {format_inches(section.depth_needed_in)}",
                source=section.depth_governed_by.partition(": ")[2] or section.depth_governed_by,
                gap=section.depth_needed_in - section.depth_in,
            )
        for rule, value, words in (
            ("width-most", section.bottom_width_in, "The bottom is wider than allowed here."),
            ("depth-most", section.depth_in, "The trench is deeper than allowed here."),
        ):
            most = view.book.find(rule, reach=reach, lines=lines)
            if most is not None and value > most.value + _TOLERANCE_IN:
                yield _at(
                    reach,
                    rule,
                    text=words,
                    found=most.inches(value),
                    required=f"at most {most.inches()}",
                    source=most.source,
                    gap=value - most.value,
                )


def _for_people_in(view: View, reach: Reach, section: Section) -> int:
    """Return the bottom width, in whole inches, that people and the walls of a shield take [in]."""
    return math.ceil(view.book.get("width-people", reach=reach).value + 2 * section.wall_in - 1e-9)


def between_walls(view: View) -> Iterator[Spot]:
    """The walls of a shield leave people the room they need."""
    for reach in view.site.reaches:
        section = view.sections[reach.id]
        if not section.wall_in or inches_to_feet(section.depth_in) < LADDER_FROM_FT:
            continue
        people, walls = view.book.get("width-people", reach=reach), view.book.get("room-shield", reach=reach)
        if section.clear_width_in < people.value - _TOLERANCE_IN:
            wall, clear = format_inches(section.wall_in), format_inches(max(0.0, section.clear_width_in))
            yield _at(
                reach,
                "width-people",
                text="The walls of the shield leave people too little room.",
                found=f"{format_inches(section.bottom_width_in)} wide less {wall} of wall on each side: {clear}",
                required=f"at least {format_inches(people.value)} between the walls",
                source=f"{people.source}; wall: {walls.source}",
                gap=people.value - section.clear_width_in,
            )


def bedding(view: View) -> Iterator[Spot]:
    """Enough select material lies under and over the lines, where a sheet asks for it."""
    for reach in view.site.reaches:
        section = view.sections[reach.id]
        lines = [view.lines[p.line] for p in section.placed]
        for rule, amount, words in (
            ("bedding-least", section.bedding_in, "Too little bedding lies under the lines."),
            ("shading-least", view.site.backfill.shading_in, "Too little select fill lies over the lines."),
        ):
            asked = view.book.find(rule, reach=reach, lines=lines)
            if asked is not None and amount < asked.value - _TOLERANCE_IN:
                yield _at(
                    reach,
                    rule,
                    text=words,
                    found=asked.inches(amount),
                    required=f"at least {asked.inches()}",
                    source=asked.source,
                    gap=asked.value - amount,
                )


def protection(view: View) -> Iterator[Spot]:
    """Deep trenches have an engineer's design; from 5 ft the soil is classified."""
    for reach in view.site.reaches:
        section = view.sections[reach.id]
        depth_ft = inches_to_feet(section.depth_in)
        if section.protection == "engineer":
            yield _at(
                reach,
                "protect-engineer",
                text="The trench is too deep for the slope and shield tables.",
                found=f"{format_feet(depth_ft)} deep",
                required=f"an engineer's design beyond {format_feet(20)}",
                source=RULES["protect-engineer"].cited,
                gap=depth_ft - 20.0,
            )
        elif section.soil == "unknown" and section.protection in ("sloped", "shield"):
            yield _at(
                reach,
                "protect-unknown-soil",
                text=f"The trench is {format_feet(depth_ft)} deep in soil not classified; it counts as the weakest.",
                found="soil not classified",
                required="a soil type from the competent person",
                source=RULES["protect-unknown-soil"].cited,
            )


def spoil(view: View) -> Iterator[Spot]:
    """The spoil bank fits beside the trench behind its setback, or is hauled where a sheet says so."""
    for reach in view.site.reaches:
        section = view.sections[reach.id]
        if not section.spoil_fits and reach.spoil_room_ft is not None:
            setback = view.book.get("spoil-setback", reach=reach)
            needed = setback.value + section.spoil_base_ft
            yield _at(
                reach,
                setback.rule,
                text="The spoil does not fit beside the trench.",
                found=f"{format_feet(reach.spoil_room_ft)} of room",
                required=f"{setback.feet()} clear and {format_feet(section.spoil_base_ft)} for the bank",
                source=setback.source,
                gap=needed - reach.spoil_room_ft,
            )
        lines = [view.lines[p.line] for p in section.placed]
        haul = view.book.asks("spoil-haul", reach=reach, lines=lines)
        if haul is not None and reach.spoil != "haul":
            yield _at(
                reach,
                haul.rule,
                text="Spoil may not lie beside the trench here.",
                found=f"spoil on the {reach.spoil}",
                required="spoil hauled away",
                source=haul.source,
            )


def tracers(view: View) -> Iterator[Spot]:
    """Plastic pipe that must be found again has a tracer wire heavy enough."""
    for reach, line, _ in view.placed():
        if is_wired(line) or line.material not in PLASTIC_PIPES:
            continue
        asked = view.book.find("tracer", reach=reach, lines=[line], built_in=float(line.kind == "gas"))
        needed = asked is not None and asked.value > 0
        if line.tracer_wire_awg is None:
            if asked is not None and needed:
                yield line_spot(line, reach, asked, "has no tracer wire.", found="none", required="a tracer wire")
            continue
        if not needed and not view.book.gives("tracer-size", reach, [line]):
            continue
        size = view.book.get("tracer-size", reach=reach, lines=[line])
        if line.tracer_wire_awg > size.value:
            yield line_spot(
                line,
                reach,
                size,
                "has too thin a tracer wire.",
                found=f"{line.tracer_wire_awg} AWG",
                required=f"{size.value:g} AWG or heavier",
            )
