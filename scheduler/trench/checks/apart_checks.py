"""Checks of lines side by side: separation, and water beside sewer on its shelf."""

from __future__ import annotations

import math
from collections.abc import Iterator

from scheduler.site.ground import Line, Reach
from scheduler.trench.checks.view import Spot, View, shared_stretch
from scheduler.trench.section_records import PlacedLine, Section
from scheduler.trench.separations import INSIDE_BUILDING_SEWER, separation, water_and_sewer

_TOLERANCE_IN = 0.05


def clear_in(first: PlacedLine, second: PlacedLine, *, sideways_only: bool = False) -> float:
    """Return the clear distance between two runs [in], surface to surface; negative where they overlap."""
    aside = abs(first.x_in - second.x_in) - (first.width_in + second.width_in) / 2.0
    if sideways_only:
        return aside
    above = max(first.top_in - second.bottom_in, second.top_in - first.bottom_in)
    if aside > 0.0 and above > 0.0:
        return math.hypot(aside, above)
    return max(aside, above)


def separations(view: View) -> Iterator[Spot]:
    """Every two lines of a reach keep their distance."""
    for reach, (a, first), (b, second) in view.pairs():
        pair = water_and_sewer(a, b)
        if pair and pair[0].shelf:
            continue
        spot = too_close(view, reach, (a, first), (b, second), shared_stretch(a, b, reach) or (0.0, 0.0))
        if spot is not None:
            yield spot


def too_close(
    view: View,
    reach: Reach,
    one: tuple[Line, PlacedLine],
    other: tuple[Line, PlacedLine],
    span: tuple[float, float],
) -> Spot | None:
    """Return the finding on two lines side by side, measured from one trench centre, or None where they keep apart."""
    (a, first), (b, second) = one, other
    pair = water_and_sewer(a, b)
    asked = separation(view.book, a, b, reach)
    strict = pair is not None and pair[1].material != INSIDE_BUILDING_SEWER
    clear = clear_in(first, second, sideways_only=strict)
    if clear >= asked.value - _TOLERANCE_IN:
        return None
    return Spot(
        rule=asked.rule,
        subject=tuple(sorted((a.id, b.id))),
        alignment=reach.alignment,
        from_ft=span[0],
        to_ft=span[1],
        text=f"{a.name} and {b.name} lie too close.",
        found=f"{asked.inches(clear)} clear" if clear >= 0 else "one inside the other",
        required=f"at least {asked.inches()}" + (" sideways" if strict else ""),
        source=asked.source,
        gap=asked.value - clear,
    )


def shelves(view: View) -> Iterator[Spot]:
    """Water on a shelf beside a sewer lies high enough, and on ground that was not dug."""
    for reach, (a, first), (b, second) in view.pairs():
        pair = water_and_sewer(a, b)
        if not pair or not pair[0].shelf or pair[1].material == INSIDE_BUILDING_SEWER:
            continue
        water, sewer = (first, second) if a.kind == "water" else (second, first)
        asked = view.book.get("water-sewer-shelf", reach=reach, lines=(a, b))
        above = sewer.top_in - water.bottom_in
        shoulder = view.book.get("shelf-shoulder", reach=reach, lines=(a, b)).value
        solid = _on_solid_ground(view.sections[reach.id], water, shoulder_in=shoulder)
        if above >= asked.value - _TOLERANCE_IN and solid:
            continue
        start, end = shared_stretch(a, b, reach) or (0.0, 0.0)
        yield Spot(
            rule=asked.rule,
            subject=tuple(sorted((a.id, b.id))),
            alignment=reach.alignment,
            from_ft=start,
            to_ft=end,
            text=f"{pair[0].name} is not safely above {pair[1].name} on a shelf.",
            found=f"{asked.inches(above)} above the sewer" if solid else "over the dug trench, not on solid ground",
            required=f"at least {asked.inches()} above the sewer, on solid ground at one side",
            source=asked.source,
            gap=asked.value - above,
        )


def _on_solid_ground(section: Section, water: PlacedLine, *, shoulder_in: float) -> bool:
    """Tell whether all that lies below the ledge lies to one side of the pipe and its shoulder."""
    ledge = next((s.depth_in for s in section.shelves if s.line == water.line), section.depth_in)
    lower = [p for p in section.placed if p.line != water.line and p.bottom_in > ledge]
    return len({p.x_in > water.x_in for p in lower}) <= 1 and all(
        abs(p.x_in - water.x_in) - (p.width_in + water.width_in) / 2.0 >= shoulder_in - _TOLERANCE_IN for p in lower
    )


def orders(view: View) -> Iterator[Spot]:
    """Where a sheet asks for an order from left to right, the lines lie in it."""
    for reach in view.site.reaches:
        section = view.sections[reach.id]
        lines = [view.lines[p.line] for p in section.placed]
        asked = view.book.find("line-order", reach=reach, lines=lines)
        if asked is None:
            continue
        seen = [view.lines[p.line] for p in sorted(section.placed, key=lambda p: p.x_in)]
        ranked = [line for line in seen if line.kind in asked.items]
        wanted = sorted(ranked, key=lambda line: asked.items.index(line.kind))
        if [line.kind for line in ranked] == [line.kind for line in wanted]:
            continue
        yield _order_spot(reach, ranked, wanted, asked.source)


def _order_spot(reach: Reach, ranked: list[Line], wanted: list[Line], source: str) -> Spot:
    return Spot(
        rule="line-order",
        subject=("order",),
        alignment=reach.alignment,
        from_ft=min(reach.from_, reach.to),
        to_ft=max(reach.from_, reach.to),
        text="Lines do not lie in the order asked for.",
        found=", ".join(line.kind for line in ranked) + " from left to right",
        required=", ".join(line.kind for line in wanted),
        source=source,
    )
