"""The forces on conductors pulled into a conduit: tension at the rope, and pressure against the inside of a bend."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scheduler.site.ground import Conductors, Line
from scheduler.trench.conduit import CablePull, along_route
from scheduler.trench.rules.conduit_rules import CONDUCTOR_SQ_IN, INSIDE_AREA_SQ_IN

FRICTION = 0.5
"""Of a cable on conduit where nobody knows better (IEWC technical guide on pulling tensions; CommScope, page 68)."""
POUNDS_PER_CMIL = 0.008
"""Copper (Southwire, wire and cable pulling tensions, table 1)."""
MORE_THAN_THREE = 0.8
"""Share of that borne by more than three conductors together (Southwire, the same)."""
UNEVEN = 1.4
"""Weight correction for more than three conductors in one conduit; from memory of the Southwire power cable manual."""

CMIL: dict[str, float] = {
    "14": 4110, "12": 6530, "10": 10380, "8": 16510, "6": 26240, "4": 41740, "3": 52620, "2": 66360, "1": 83690,
    "1/0": 105600, "2/0": 133100, "3/0": 167800, "4/0": 211600, "250": 250000, "300": 300000, "350": 350000,
    "400": 400000, "500": 500000, "600": 600000, "750": 750000,
}  # fmt: skip
"""Area of a conductor [circular mils], NFPA 70 Chapter 9 Table 8."""
POUNDS_PER_FOOT: dict[str, float] = {
    "14": 0.016, "12": 0.024, "10": 0.038, "8": 0.063, "6": 0.095, "4": 0.152, "3": 0.189, "2": 0.234, "1": 0.299,
    "1/0": 0.372, "2/0": 0.462, "3/0": 0.575, "4/0": 0.717, "250": 0.851, "300": 1.012, "350": 1.174, "400": 1.334,
    "500": 1.655, "600": 1.987, "750": 2.466,
}  # fmt: skip
"""One copper conductor with its insulation, by makers' sheets of THHN; from memory."""


@dataclass(frozen=True, slots=True)
class PullForces:
    """What one pull takes."""

    tension_lb: float
    """At the rope, when all is in."""
    sidewall_lb_per_ft: float
    """The most at any bend; 0 in a straight run."""
    from_start: bool
    """Whether the reel stands where the run begins; else where it ends."""


def after_straight(tension_lb: float, *, feet: float, lb_per_ft: float, friction: float = FRICTION) -> float:
    """Return the tension after a straight level run [lb]: T + L W f."""
    return tension_lb + feet * lb_per_ft * friction


def after_bend(tension_lb: float, *, degrees: float, friction: float = FRICTION) -> float:
    """Return the tension after a bend [lb]: T e^(f a), the angle a in radians."""
    return tension_lb * math.exp(friction * math.radians(degrees))


def sidewall(tension_lb: float, *, radius_ft: float) -> float:
    """Return the pressure against the inside of a bend [lb/ft]: the tension after it over its radius."""
    return tension_lb / radius_ft


def tension_borne(conductors: Sequence[Conductors]) -> float:
    """Return the tension that copper conductors bear together [lb]; KeyError for a size that the table lacks."""
    many = sum(c.count for c in conductors)
    share = MORE_THAN_THREE if many > 3 else 1.0
    return share * POUNDS_PER_CMIL * sum(c.count * CMIL[c.size] for c in conductors)


def weight_correction(line: Line) -> float:
    """Return by how much conductors weigh heavier on the walls as they wedge: 1 + 4/3 (d / (D - d))^2 for two or three.

    One lies as heavy as it is. IEEE 576 (cradled); from memory. KeyError for a size that the tables lack.
    """
    many = sum(c.count for c in line.conductors)
    if many == 1:
        return 1.0
    if many > 3:
        return UNEVEN
    area = INSIDE_AREA_SQ_IN["pvc40" if line.material == "hdpe" else line.material][line.size_in]
    inside = math.sqrt(4.0 * area / math.pi)
    widest = max(math.sqrt(4.0 * CONDUCTOR_SQ_IN[c.insulation][c.size] / math.pi) for c in line.conductors)
    return 1.0 + 4.0 / 3.0 * (widest / (inside - widest)) ** 2 if inside > widest else UNEVEN


def pull_forces(line: Line, pull: CablePull, *, friction: float = FRICTION) -> PullForces | None:
    """Return what it takes to pull a line's conductors through, from the end where it takes less.

    None for conductors of unknown size.
    """
    try:
        weight = sum(c.count * POUNDS_PER_FOOT[c.size] for c in line.conductors) * weight_correction(line)
    except KeyError:
        return None
    bends = []
    for bend in pull.bends:
        at = along_route(line, bend.alignment, bend.station)
        assert at is not None  # it was found on this pull by the same
        bends.append((min(max(at - pull.start.along_ft, 0.0), pull.length_ft), bend.degrees, bend.radius_in / 12.0))
    backwards = [(pull.length_ft - at, degrees, radius) for at, degrees, radius in bends]
    both = [
        _pulled(sorted(way), pull.length_ft, weight, friction, from_start=from_start)
        for way, from_start in ((bends, True), (backwards, False))
    ]
    return min(both, key=lambda f: (f.tension_lb, not f.from_start))


def _pulled(
    bends: Sequence[tuple[float, float, float]],
    length_ft: float,
    lb_per_ft: float,
    friction: float,
    *,
    from_start: bool,
) -> PullForces:
    """Return the forces of one way; `bends` are (feet from the reel, degrees, radius in feet) in their order."""
    tension, most, walked = 0.0, 0.0, 0.0
    for at, degrees, radius_ft in bends:
        tension = after_straight(tension, feet=at - walked, lb_per_ft=lb_per_ft, friction=friction)
        tension, walked = after_bend(tension, degrees=degrees, friction=friction), at
        most = max(most, sidewall(tension, radius_ft=radius_ft))
    tension = after_straight(tension, feet=length_ft - walked, lb_per_ft=lb_per_ft, friction=friction)
    return PullForces(tension, most, from_start)
