"""How the trench is filled, and what with."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from scheduler.site.fields import Id, NonNegative, Positive, Record

FillMaterial = Literal["native", "sand", "pea_gravel", "gravel", "crushed_rock", "slurry", "concrete"]
Zone = Literal["bedding", "pipe_zone", "above"]


class FillZone(Record):
    """What one zone of the fill is made of; requirement sheets are judged by it."""

    zone: Zone
    """The bedding, the pipe zone from there to the top of the shading, or all above it."""
    where: list[Id] = []
    """Reaches; empty: everywhere."""
    material: FillMaterial | None = None
    """What it is; slurry is a weak mix of sand, cement and water that is poured."""
    stone_in: NonNegative | None = None
    """The largest stone in it."""
    lift_in: Positive | None = None
    """Loose thickness of a lift in this zone; None: that of all the fill."""
    density_percent: Annotated[float, Field(gt=0, le=110)] | None = None
    """To which it is compacted, of the greatest dry density."""
    strength_psi: Positive | None = None
    """Of a slurry, when it has set."""


class Backfill(Record):
    """How the trench is filled."""

    zones: list[FillZone] = []
    """What the bedding, the pipe zone and the fill above are made of, where that is known."""

    shading_in: NonNegative = 6.0
    """Select fill over the top of the lines of a layer."""
    bedding_in: NonNegative = 4.0
    """Select material under the lowest line."""
    lift_in: Positive = 8.0
    """Loose thickness of a lift."""
    ribbon_below_grade_in: Positive = 12.0
    """Depth at which warning ribbon is laid."""
    compaction_test: bool = False
    """The finished fill is tested before its surface is restored."""
    compaction_test_hours: Positive = 1.0
    hand_shade_cy_per_hour: Positive = 2.5
    """Select fill placed by hand over the lines."""
    hand_dig_cy_per_hour: Positive = 0.6
    """By hand or vacuum in a tolerance zone."""
    tolerance_in: Positive = 18.0
    """Each side of a marked line."""
    fill_share_of_dig: Positive = 1.6
    """Machine filling rate as a multiple of the digging rate."""
    compact_minutes_per_lift: NonNegative = 15.0
    """Per 50 ft of a lift."""
    restore_sf_per_hour: Positive = 180.0
    """Surface made good after the fill."""
    cut_ft_per_hour: Positive = 60.0
    """Pavement cut before digging."""
