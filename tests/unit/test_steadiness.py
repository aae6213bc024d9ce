"""How steadily parties work: who takes which piece, moves between stretches, and starts with enough time left."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.network.dates import first_start, last_start
from scheduler.network.kind import Kind
from scheduler.network.model import Activity, Resource, ResourceKind
from scheduler.schedule import Span
from scheduler.steadiness import moves_between_stretches, who_takes
from tests.jobs import at, job, task

CREWS = Resource("gang", "Gang", ResourceKind.CREW, 2)


def in_reach(id_: str, reach: str, hours: float = 1) -> Activity:
    return replace(task(id_, hours, kind=Kind.LAY, needs=(("gang", 1),)), reach=reach)


def one_after_another(ids: tuple[str, ...]) -> dict[str, Span]:
    return {i: (at(0, 8 + k / 2), at(0, 8.5 + k / 2)) for k, i in enumerate(ids)}


def test_a_piece_goes_to_the_crew_that_is_in_its_stretch() -> None:
    """By hand: two crews, each stays where it is; taken as one row the work would change its stretch five times."""
    ids = ("a", "b", "c", "d", "e", "f")
    network = job(*(in_reach(i, "R1" if k % 2 == 0 else "R2") for k, i in enumerate(ids)), resources=(CREWS,))
    dates = {i: (at(0, 8 + k // 2), at(0, 9 + k // 2)) for k, i in enumerate(ids)}
    taken = who_takes(network, CREWS, dates)
    assert [taken[i] for i in ids] == [(0,), (1,)] * 3
    assert moves_between_stretches(network, dates) == 0
    assert (
        moves_between_stretches(replace(network, resources=(replace(CREWS, capacity=1),)), one_after_another(ids)) == 5
    )


@pytest.mark.parametrize(("hours", "least", "first", "last"), [
    (2, 2, at(0, 13), at(0, 11.5)),  # half an hour before noon at the latest, else after noon
    (2, 0, at(0, 11.75), at(0, 11.75)),
    (0.25, 2, at(0, 11.75), at(0, 11.75)),  # done by noon
])  # fmt: skip
def test_long_work_starts_with_enough_left_of_its_hours(hours: float, least: int, first: int, last: int) -> None:
    activity = task("a", hours, least_start=least)
    network = job(activity)
    assert first_start(network, activity, at(0, 11.75)) == first
    assert last_start(network, activity, at(0, 11.75)) == last
