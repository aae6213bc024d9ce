"""Sites with own steps and the work that every site has: clean audits, no damage missed, the oracle's answers."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from random import Random

import pytest

from scheduler.audit import audit
from scheduler.network.derive import derive
from scheduler.network.network_check import check_network
from tests import histories
from tests.benchmarks.answer_oracle import compare
from tests.benchmarks.random_sites import missed, planned
from tests.benchmarks.site_extras import with_work
from tests.benchmarks.site_generator import random_small_site
from tests.derived import Records
from tests.slices import slices

pytestmark = pytest.mark.property

BLOCK = 20


@pytest.mark.parametrize("first", slices(0, 60, BLOCK, kept=1))
def test_generated_sites_have_plans_that_break_no_rule_and_hide_no_damage(first: int) -> None:
    tried: Counter[str] = Counter()
    for seed in range(first, first + BLOCK):
        rng = Random(seed * 7919)
        network = derive(with_work(rng, random_small_site(rng)))
        assert [f.text for f in check_network(network)] == [], f"seed {seed}"
        schedule = planned(network)
        assert [str(f) for f in audit(network, schedule)] == [], f"seed {seed}"
        assert missed(network, schedule, tried) == [], f"seed {seed}"
    assert tried["site_step_not_awaited"] >= BLOCK // 2
    assert tried["wait_cut_short"] >= BLOCK // 2


@pytest.fixture
def with_site_work(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Let the job of the random histories have site work, a gate, and a step that somebody must release."""
    base = histories._base

    def more(records: Records) -> None:
        base(records)
        gate = {"id": "gate", "name": "Engineer", "after": "lay", "before": "shade", "hours": 0.5, "gate": True}
        held = {"id": "held", "name": "Look", "after": "dig", "before": "fill", "hours": 0.5, "released_by": "boss"}
        records.update(site_work={"hauling": True}, own_work=[gate, held])

    monkeypatch.setattr(histories, "_base", more)
    histories.site.cache_clear()
    histories._order.cache_clear()
    yield
    histories.site.cache_clear()
    histories._order.cache_clear()


@pytest.mark.usefixtures("with_site_work")
def test_the_answer_about_cover_is_that_of_an_independent_reading() -> None:
    found = [found for seed in range(40) for found in compare(seed)]
    assert [f for f in found if f[2] != f[3]] == []
    assert {f[2] for f in found} >= {"Yes", "No"}
