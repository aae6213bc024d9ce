"""Amounts for a stretch of trench: earth to dig and fill, bedding, shading, spoil, ribbon."""

from __future__ import annotations

import math

from scheduler.site.ground import Line, Reach
from scheduler.site.site_record import Site
from scheduler.trench.earth import (
    bank_to_compacted,
    bank_to_loose,
    compacted_to_bank,
    excavator_bcy_per_hour,
    lifts_for,
)
from scheduler.trench.section import area_between_sf
from scheduler.trench.section_records import PlacedLine, Quantities, Section
from scheduler.trench.soil import ladders_needed
from scheduler.units import cubic_yards, inches_to_feet

__all__ = ["excavator_bcy_per_hour", "hand_zone_ft", "quantities"]


def quantities(site: Site, section: Section, *, length_ft: float, marked_crossings: int = 0) -> Quantities:
    """Return the amounts for `length_ft` of trench of one section.

    Every marked crossing makes a tolerance zone that is dug by hand over the whole depth.
    Bedding and shading are select material in place; the rest is native fill, compacted.
    """
    reach = next(r for r in site.reaches if r.id == section.reach)
    lines = {line.id: line for line in site.lines}

    def volume(upper_in: float, lower_in: float) -> float:
        return cubic_yards(cubic_feet=area_between_sf(section, upper_in, lower_in) * length_ft)

    bank = volume(0.0, section.depth_in)
    by_hand = min(1.0, marked_crossings * hand_zone_ft(site, reach) / length_ft) if length_ft > 0 else 0.0
    shading, above, lifts = [], [], []
    for index, layer in enumerate(section.layers):
        inside = [p for p in section.placed if p.layer == index]
        pipes = sum(_solid_sf(p, lines[p.line], above_in=layer.shaded_to_in) for p in inside)
        shading.append(volume(layer.shaded_to_in, layer.bottom_in) - cubic_yards(cubic_feet=pipes * length_ft))
        next_in = section.layers[index + 1].bottom_in if index + 1 < len(section.layers) else 0.0
        fill_in = max(0.0, layer.shaded_to_in - next_in)
        above.append(volume(next_in, layer.shaded_to_in))
        lifts.append(lifts_for(fill_in=fill_in, loose_lift_in=site.backfill.lift_in, earth=reach.earth))
    lowest_in = max((layer.bottom_in for layer in section.layers), default=section.depth_in)
    if not section.layers:
        above, lifts = (
            [bank],
            [lifts_for(fill_in=section.depth_in, loose_lift_in=site.backfill.lift_in, earth=reach.earth)],
        )
    spoil_over, brought = _spoil_balance(reach, bank_cy=bank, fill_cy=sum(above))
    return Quantities(
        length_ft=length_ft,
        surface_sf=section.top_width_ft * length_ft,
        bank_cy=bank,
        loose_cy=bank_to_loose(bank, reach.earth),
        hand_bank_cy=bank * by_hand,
        bedding_cy=volume(lowest_in, section.depth_in),
        shading_cy=tuple(max(0.0, v) for v in shading),
        fill_cy=sum(above),
        lifts=sum(lifts),
        spoil_over_cy=spoil_over,
        ribbon_ft=length_ft * len(section.ribbons_in),
        ladders=ladders_needed(depth_ft=inches_to_feet(section.depth_in), length_ft=length_ft),
        fill_above_cy=tuple(above),
        lifts_above=tuple(lifts),
        import_cy=brought,
    )


def _solid_sf(placed: PlacedLine, line: Line, *, above_in: float) -> float:
    """Return the area the pipes of a run take from its shading [sq ft]; above its top it takes none."""
    whole = math.pi / 4.0 * placed.outside_in**2 * line.count / 144.0
    shaded = placed.bottom_in - max(placed.top_in, above_in)
    return whole * max(0.0, min(1.0, shaded / placed.outside_in))


def hand_zone_ft(site: Site, reach: Reach) -> float:
    """Return the length of trench in one tolerance zone [ft]: the marked line and the tolerance each side.

    The widest line marked in the reach counts; with none known, a 2 in line.
    """
    sizes = [
        e.size_in
        for e in site.existing
        if e.alignment == reach.alignment and min(reach.from_, reach.to) <= e.station <= max(reach.from_, reach.to)
    ]
    return inches_to_feet(max(sizes, default=2.0) + 2.0 * site.backfill.tolerance_in)


def _spoil_balance(reach: Reach, *, bank_cy: float, fill_cy: float) -> tuple[float, float]:
    """Return (loose spoil to haul away, loose fill to bring in) [cu yd]."""
    if reach.spoil == "haul":
        return bank_to_loose(bank_cy, reach.earth), bank_to_loose(compacted_to_bank(fill_cy, reach.earth), reach.earth)
    spare = bank_to_compacted(bank_cy, reach.earth) - fill_cy
    loose = bank_to_loose(compacted_to_bank(abs(spare), reach.earth), reach.earth)
    return (loose, 0.0) if spare >= 0 else (0.0, loose)
