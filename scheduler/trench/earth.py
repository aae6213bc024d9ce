"""Earthmoving arithmetic: volume factors, excavator production, volumes, spoil banks, lifts."""

from __future__ import annotations

import math
from dataclasses import dataclass

from scheduler.site.ground import Earth
from scheduler.site.people import Equipment


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


def spoil_bank_ft(*, loose_cf_per_ft: float, repose_deg: float) -> float:
    """Return the base width [ft] of a triangular spoil bank: B = sqrt(4V / (L tan R)).

    Nunnally, Construction Methods and Management, ch. 2.
    """
    return math.sqrt(4.0 * loose_cf_per_ft / math.tan(math.radians(repose_deg)))


def lifts_for(*, fill_in: float, loose_lift_in: float, earth: Earth) -> int:
    """Return how many lifts a compacted thickness takes, each spread at its loose thickness."""
    if fill_in <= 1e-9:
        return 0
    factors = EARTH[earth]
    return math.ceil(fill_in / (loose_lift_in * factors.compacted / factors.loose) - 1e-9)
