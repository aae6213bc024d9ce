"""What a schedule amounts to, counted by hand on jobs of a few tasks."""

from __future__ import annotations

import pytest

from scheduler.measures import exposure, nights_open
from scheduler.network.model import Opening
from scheduler.schedule import Span
from tests.jobs import at, job, task

TRENCH = job(task("dig"), task("fill"), openings=(Opening("open", "R", 40.0, "dig", "fill"),))


@pytest.mark.parametrize(
    ("dig", "fill", "nights"),
    [
        ((at(0, 8), at(0, 10)), (at(0, 15), at(0, 17)), 0),
        ((at(0, 8), at(0, 10)), (at(1, 8), at(1, 10)), 1),
        ((at(0, 8), at(0, 10)), (at(3, 8), at(3, 10)), 3),
        ((at(0, 22), at(1, 0)), (at(1, 0), at(1, 2)), 1),
        # Closed as the clock strikes midnight, the trench does not stand open over that night.
        ((at(0, 8), at(0, 10)), (at(0, 22), at(1, 0)), 0),
        ((at(0, 8), at(0, 10)), (at(1, 22), at(2, 0)), 1),
        # Opened as the clock strikes midnight, it did not stand open over the night before.
        ((at(1, 0), at(1, 2)), (at(1, 8), at(1, 10)), 0),
        ((at(1, 0), at(1, 2)), (at(2, 8), at(2, 10)), 1),
    ],
)
def test_a_night_counts_when_the_trench_is_open_before_and_after_midnight(dig: Span, fill: Span, nights: int) -> None:
    dates = {"dig": dig, "fill": fill}
    assert nights_open(TRENCH, dates) == {"open": nights}
    assert exposure(TRENCH, dates) == 40.0 * nights
