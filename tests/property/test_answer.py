"""On random histories the answer to 'may this be covered?' is what an independent reading of the rules gives."""

from __future__ import annotations

import pytest

from tests.benchmarks.answer_oracle import compare

pytestmark = pytest.mark.property


@pytest.mark.parametrize("first", range(0, 300, 50))
def test_no_yes_that_the_rules_do_not_give_and_none_withheld(first: int) -> None:
    found = [found for seed in range(first, first + 50) for found in compare(seed)]
    assert [f for f in found if f[2] != f[3]] == []
    assert {f[2] for f in found} == {"Yes", "No", "Ask again"}
