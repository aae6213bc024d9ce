"""Each aim of a plan to choose on tiny jobs, against trying every combination of starts; the margin among them."""

from __future__ import annotations

import pytest

from tests.aims import aims_differ, margin_differs
from tests.slices import slices

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
