"""What is free in a part of a plan that is searched for something better."""

from __future__ import annotations

from random import Random

import pytest

from scheduler.network.model import Network
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.goals import Cost
from scheduler.solve.improvement.neighbourhoods import Task, _Parts
from tests.jobs import job, task


def two_reaches(each: int) -> Network:
    return job(*(task(f"{reach}{i}", reach=reach) for reach in ("east", "west") for i in range(each)))


@pytest.mark.parametrize("each", [1, 3])
def test_a_part_leaves_something_where_it_is_however_few_reaches_there_are(each: int) -> None:
    network = two_reaches(each)
    frame = TimeWindows(network)
    parts = _Parts(Task(frame, PrecedenceOrder(network), Cost()), Random(1))
    starts = {a.id: i for i, a in enumerate(network.activities)}
    free = [parts._free(starts) for _ in range(40)]
    assert all(0 < len(part) < len(starts) for part in free)
    assert len({frozenset(part) for part in free}) > 1, "always the same"
