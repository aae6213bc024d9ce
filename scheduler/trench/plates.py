"""Steel plates over an open trench: how many, and whether they may lie there without an engineer's design.

Sources: Caltrans, Encroachment Permits Manual, steel plate bridging (12 in beyond each edge; an engineer's design for
spans over 5 ft 3 in), repeated in city specifications; the plate of 8 by 20 ft is common practice.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil

PLATE_FT = (8.0, 20.0)
"""Width and length of one plate."""
BEYOND_EDGE_FT = 1.0
"""It reaches at least so far past each edge of the trench."""
WIDEST_FT = 5.25
"""The widest trench over which it may lie without a design."""


@dataclass(frozen=True, slots=True)
class Plates:
    """What bridges a trench along a way."""

    count: int
    designed: bool
    """An engineer's design is needed: the trench is wider than a plate may span, or than it is long."""


def plates_over(way_ft: float, trench_ft: float) -> Plates:
    """Return the plates over a way of `way_ft` along a trench that is `trench_ft` wide at its top.

    A plate lies across the trench on its short side where that reaches past both edges, and covers 20 ft of the way;
    else on its long side, and covers 8 ft.
    """
    narrow, long = PLATE_FT
    covers = long if trench_ft + 2 * BEYOND_EDGE_FT <= narrow else narrow
    return Plates(ceil(round(way_ft / covers, 6)), trench_ft > WIDEST_FT)
