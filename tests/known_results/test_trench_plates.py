"""Steel plates over a trench, by hand.

The rules are those of steel plate bridging in Caltrans' Encroachment Permits Manual, as city specifications repeat
them: at least 12 in of bearing beyond each edge, and an engineer's design for spans over 5 ft 3 in.
"""

from __future__ import annotations

import pytest

from scheduler.trench.plates import Plates, plates_over

pytestmark = pytest.mark.known


@pytest.mark.parametrize(
    ("way_ft", "trench_ft", "count", "designed"),
    [
        # A plate across on its 8 ft bears 12 in on each side up to a trench of 6 ft, and covers 20 ft of the way.
        (24, 3.0, 2, False),
        (20, 3.0, 1, False),
        (20.5, 3.0, 2, False),
        (60, 5.0, 3, False),
        (60, 5.25, 3, False),
        (60, 5.5, 3, True),
        (60, 6.0, 3, True),
        # Wider than 6 ft it has to lie on its 20 ft, and covers 8 ft of the way: 60 / 8 = 7.5, so eight.
        (60, 6.5, 8, True),
        (16, 12.0, 2, True),
    ],
)
def test_plates_bear_a_foot_beyond_both_edges_and_wide_trenches_need_a_design(
    way_ft: float, trench_ft: float, count: int, designed: bool
) -> None:
    assert plates_over(way_ft, trench_ft) == Plates(count, designed)
