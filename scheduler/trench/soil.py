"""Side slopes and protective systems by depth and soil: 29 CFR 1926 Subpart P."""

from __future__ import annotations

import math

from scheduler.site.ground import Reach, Soil

SUBPART_P = "29 CFR 1926 Subpart P"
PROTECT_FROM_FT = 5.0
"""29 CFR 1926.652(a)(1): below this, only where a competent person finds signs of a cave-in."""
ENGINEER_BEYOND_FT = 20.0
"""29 CFR 1926.652(b) and Appendix B."""
LADDER_FROM_FT = 4.0
LADDER_TRAVEL_FT = 25.0
"""29 CFR 1926.651(c)(2): from 4 ft, with at most 25 ft to travel either way."""

SLOPES: dict[Soil, float] = {"stable_rock": 0.0, "A": 0.75, "B": 1.0, "C": 1.5, "unknown": 1.5}
"""Run per unit of rise, to 20 ft: Appendix B Table B-1; 1.5 without a class by 1926.652(b)(1)."""

_WEAKER: dict[Soil, Soil] = {"A": "B"}


def working_soil(reach: Reach) -> Soil:
    """Return the type to work by: disturbed Type A counts as B, seeping ground as C (Appendix A)."""
    if reach.soil in ("stable_rock", "unknown"):
        return "C" if reach.groundwater and reach.soil == "stable_rock" else reach.soil
    if reach.groundwater:
        return "C"
    return _WEAKER.get(reach.soil, reach.soil) if reach.previously_disturbed else reach.soil


def slope_for(soil: Soil, *, depth_ft: float, open_hours: float | None = None) -> float:
    """Return the steepest simple slope allowed, horizontal run per unit of rise.

    `open_hours` at most 24 allows the short-term slope of Type A to 12 ft (Table B-1, note).
    Raises ValueError beyond 20 ft, where a registered professional engineer designs.
    """
    if depth_ft > ENGINEER_BEYOND_FT:
        raise ValueError("deeper than 20 ft: a registered professional engineer designs the protective system")
    if soil == "A" and open_hours is not None and open_hours <= 24.0 and depth_ft <= 12.0:
        return 0.5
    return SLOPES[soil]


def protective_system(reach: Reach, *, depth_ft: float) -> tuple[str, float]:
    """Return ('none' | 'sloped' | 'shield' | 'rock' | 'engineer', slope) for a reach.

    Pavement is not cut back for a slope: there a shield stands in vertical sides.
    """
    soil = working_soil(reach)
    if depth_ft > ENGINEER_BEYOND_FT:
        return "engineer", SLOPES[soil]
    if depth_ft < PROTECT_FROM_FT:
        return "none", 0.0
    if soil == "stable_rock":
        return "rock", 0.0
    if reach.surface in ("asphalt", "concrete"):
        return "shield", 0.0
    return "sloped", slope_for(soil, depth_ft=depth_ft)


def ladders_needed(*, depth_ft: float, length_ft: float) -> int:
    """Return the fewest ladders so that nobody travels more than 25 ft; none below 4 ft of depth.

    29 CFR 1926.651(c)(2): a limit on travel, so one ladder serves 50 ft of trench.
    """
    if depth_ft < LADDER_FROM_FT:
        return 0
    return max(1, math.ceil(length_ft / (2.0 * LADDER_TRAVEL_FT) - 1e-9))
