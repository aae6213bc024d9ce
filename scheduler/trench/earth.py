"""Earthmoving arithmetic: volume factors, excavator production, volumes, spoil banks, lifts."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scheduler.site.ground import Earth
from scheduler.site.people import Equipment
from scheduler.units import cubic_yards


@dataclass(frozen=True, slots=True)
class EarthFactors:
    """Loose and compacted volume per unit of bank volume, and the angle at which spoil rests."""

    loose: float
    compacted: float
    repose_deg: float


EARTH: dict[Earth, EarthFactors] = {
    "sand_gravel": EarthFactors(loose=1.11, compacted=0.95, repose_deg=35.0),
    "common_earth": EarthFactors(loose=1.25, compacted=0.90, repose_deg=37.0),
    "clay": EarthFactors(loose=1.43, compacted=0.90, repose_deg=35.0),
    "blasted_rock": EarthFactors(loose=1.50, compacted=1.30, repose_deg=45.0),
}
"""US Army FM 5-434 (15 June 2000) Table 1-2; angles from Nunnally, Construction Methods, ch. 2 (rock: common
practice)."""


def bank_to_loose(bank_cy: float, earth: Earth) -> float:
    """Convert bank to loose cubic yards."""
    return bank_cy * EARTH[earth].loose


def loose_to_bank(loose_cy: float, earth: Earth) -> float:
    """Convert loose to bank cubic yards."""
    return loose_cy / EARTH[earth].loose


def bank_to_compacted(bank_cy: float, earth: Earth) -> float:
    """Convert bank to compacted cubic yards."""
    return bank_cy * EARTH[earth].compacted


def compacted_to_bank(compacted_cy: float, earth: Earth) -> float:
    """Convert compacted to bank cubic yards."""
    return compacted_cy / EARTH[earth].compacted


def swell_from_densities(*, bank_lb_per_cy: float, loose_lb_per_cy: float) -> float:
    """Return the swell as a share of the bank volume (Nunnally ch. 2)."""
    return bank_lb_per_cy / loose_lb_per_cy - 1.0


def shrinkage_from_densities(*, bank_lb_per_cy: float, compacted_lb_per_cy: float) -> float:
    """Return the shrinkage as a share of the bank volume (Nunnally ch. 2)."""
    return 1.0 - bank_lb_per_cy / compacted_lb_per_cy


def production_lcy_per_hour(*, bucket_cy: float, cycle_s: float, fill_factor: float, efficiency: float) -> float:
    """Return loose cubic yards an hour: 3600 / cycle x bucket x fill x efficiency (FM 5-434 ch. 8)."""
    return 3600.0 / cycle_s * bucket_cy * fill_factor * efficiency


def excavator_bcy_per_hour(equipment: Equipment, earth: Earth) -> float:
    """Return bank cubic yards one excavator digs in an hour (loose production over the swell)."""
    loose = production_lcy_per_hour(
        bucket_cy=equipment.bucket_cy,
        cycle_s=equipment.cycle_s,
        fill_factor=equipment.fill_factor,
        efficiency=equipment.efficiency,
    )
    return loose_to_bank(loose, earth)


def trench_area_sf(*, bottom_ft: float, depth_ft: float, slope: float) -> float:
    """Return the area of a symmetric trench [sq ft]: (b + z d) d."""
    return (bottom_ft + slope * depth_ft) * depth_ft


def trench_top_ft(*, bottom_ft: float, depth_ft: float, slope: float) -> float:
    """Return the width at grade of a symmetric trench [ft]: b + 2 z d."""
    return bottom_ft + 2.0 * slope * depth_ft


def end_area_cy(areas_sf: Sequence[float], stations_ft: Sequence[float]) -> float:
    """Return the volume between stations by average end areas [cu yd] (FM 5-430).

    Raises ValueError when the two differ in length.
    """
    steps = zip(areas_sf, areas_sf[1:], stations_ft, stations_ft[1:], strict=False)
    if len(areas_sf) != len(stations_ft):
        raise ValueError("one area for each station")
    return cubic_yards(cubic_feet=sum((a + b) / 2.0 * (t - s) for a, b, s, t in steps))


def prismoidal_cy(*, first_sf: float, middle_sf: float, last_sf: float, length_ft: float) -> float:
    """Return the volume by the prismoidal rule [cu yd]: L/6 (A1 + 4 Am + A2)."""
    return cubic_yards(cubic_feet=length_ft / 6.0 * (first_sf + 4.0 * middle_sf + last_sf))


def spoil_bank_ft(*, loose_cf_per_ft: float, repose_deg: float) -> tuple[float, float]:
    """Return base width and height [ft] of a triangular spoil bank: B = sqrt(4V / (L tan R)), H = B tan R / 2.

    Nunnally, Construction Methods and Management, ch. 2.
    """
    tangent = math.tan(math.radians(repose_deg))
    base = math.sqrt(4.0 * loose_cf_per_ft / tangent)
    return base, base * tangent / 2.0


def lifts_for(*, fill_in: float, loose_lift_in: float, earth: Earth) -> int:
    """Return how many lifts a compacted thickness takes, each spread at its loose thickness."""
    if fill_in <= 1e-9:
        return 0
    factors = EARTH[earth]
    return math.ceil(fill_in / (loose_lift_in * factors.compacted / factors.loose) - 1e-9)


def haul_loads(*, loose_cy: float, truck_cy: float) -> int:
    """Return truck loads for a loose volume."""
    return math.ceil(loose_cy / truck_cy - 1e-9)
