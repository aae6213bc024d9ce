"""Each aim of a plan to choose on tiny jobs, against trying every combination of starts; the margin among them."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest

from scheduler.solve.outcome import Progress
from scheduler.solve.run import solve
from tests.aims import OPTIONS, aims_differ, margin_differs, priced
from tests.slices import slices
from tests.unit.test_solve_random import tiny_trench

SLICE = 36
"""Tiny jobs tried here; `python -m tests.benchmarks.aims_oracle` tries more."""


@pytest.mark.parametrize("first", slices(0, SLICE, 12, kept=0))
def test_every_aim_reaches_what_trying_everything_reaches(first: int) -> None:
    found = [aims_differ(seed) for seed in range(first, first + 12)]
    assert found.count([]) > 2, "a test of little"
    assert [f for f in found if f not in ([], ["no plan"])] == []


@pytest.mark.parametrize("first", slices(0, SLICE, 12, kept=0))
def test_the_most_margin_is_the_largest_step_that_can_be_kept(first: int) -> None:
    found = [margin_differs(seed) for seed in range(first, first + 12)]
    assert found.count([]) > 2, "a test of little"
    assert [f for f in found if f not in ([], ["no plan"])] == []


def test_moving_early_does_not_undo_the_fewest_visits_and_trips() -> None:
    assert aims_differ(41) == [], "a coming that has no price was split there"


@pytest.mark.parametrize("seed", [370, 534])
def test_work_in_progress_over_closed_days_is_one_coming(seed: int) -> None:
    assert aims_differ(seed) == [], "the best plan lays on over the weekend, and stay_days is 0"


@pytest.mark.parametrize("seed", [2, 45, 55])
def test_no_bound_told_on_the_way_lies_above_what_is_found_in_the_end(seed: int) -> None:
    """Least cost is searched for among plans that end soon first: what is proved there does not hold of later ones."""
    told: list[Progress] = []
    network = priced(tiny_trench(Random(seed)), Random(seed))
    outcome = solve(network, replace(OPTIONS, objective="cost"), progress=told.append)
    for stage in outcome.stages:
        bounds = [p.bound for p in told if p.stage == stage.name and p.bound is not None]
        assert max(bounds, default=0.0) <= stage.value, stage.name
    assert any(p.stage == "cost" and p.bound is not None for p in told), "a test of nothing"
