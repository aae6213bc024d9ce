"""How steadily parties work: who takes which piece, moves between stretches, pieces too short to begin."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.network.dates import first_start, last_start
from scheduler.network.kind import Kind
from scheduler.network.model import Activity, Resource, ResourceKind
from scheduler.steadiness import steadiness, who_takes
from tests.jobs import at, job, task

CREWS = Resource("gang", "Gang", ResourceKind.CREW, 2)


def in_reach(id_: str, reach: str, hours: float = 1) -> Activity:
    return replace(task(id_, hours, kind=Kind.LAY, needs=(("gang", 1),)), reach=reach)


def test_a_piece_goes_to_the_crew_that_is_in_its_stretch() -> None:
    """By hand: two crews, each stays where it is; taken as one row the work would change its stretch five times."""
    ids = ("a", "b", "c", "d", "e", "f")
    network = job(*(in_reach(i, "R1" if k % 2 == 0 else "R2") for k, i in enumerate(ids)), resources=(CREWS,))
    dates = {i: (at(0, 8 + k // 2), at(0, 9 + k // 2)) for k, i in enumerate(ids)}
    taken = who_takes(network, CREWS, dates)
    assert [taken[i] for i in ids] == [(0,), (1,)] * 3
    (found,) = steadiness(network, dates)
    assert (found.pieces, found.short, found.moves, found.places, found.days) == (6, 0, 0, 2, 1)


def test_moves_short_pieces_and_stretches_by_day_are_counted() -> None:
    """By hand: one crew, R1, R2, R1; the last over the noon break, 15 minutes of it before."""
    network = job(
        in_reach("a", "R1"), in_reach("b", "R2"), in_reach("c", "R1"), resources=(replace(CREWS, capacity=1),)
    )
    dates = {"a": (at(0, 8), at(0, 9)), "b": (at(0, 9), at(0, 10)), "c": (at(0, 11.75), at(0, 13.75))}
    (found,) = steadiness(network, dates)
    assert (found.pieces, found.short, found.moves, found.places, found.days) == (4, 1, 2, 2, 1)


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
