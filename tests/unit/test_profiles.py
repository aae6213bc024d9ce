"""Who is where, while a first plan is built: answers equal those of looking through every span."""

from __future__ import annotations

from random import Random

import pytest

from scheduler.solve.first_plan.profiles import SpaceProfile
from scheduler.worktime.calendar import Calendar, union


@pytest.mark.parametrize("seed", range(20))
def test_the_span_in_the_way_is_the_first_placed_of_another_group(seed: int) -> None:
    rng, space = Random(seed), SpaceProfile()
    placed: dict[str, tuple[int, int, str]] = {}
    for step in range(60):
        start, group = rng.randrange(100), rng.choice("ab")
        finish = start + rng.randint(1, 12)
        in_the_way = ((s, f) for s, f, g in placed.values() if s < finish and start < f and g != group)
        assert space.clash(start, finish, group) == next(in_the_way, None)
        if placed and rng.random() < 0.4:
            gone = rng.choice(sorted(placed))
            del placed[gone]
            space.remove(gone)
        placed[str(step)] = start, finish, group
        space.add(str(step), (start, finish), group)


def test_hours_together_are_open_when_any_are() -> None:
    early, late = Calendar("early", "early", ((0, 4), (10, 14))), Calendar("late", "late", ((3, 6), (20, 24)))
    assert union([early, late]).windows == ((0, 6), (10, 14), (20, 24))
    assert union([early]) is early
