"""Whole plans: every generated site's plan audits clean, and damage to a plan is caught by name."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date
from pathlib import Path
from random import Random

import pytest

import scenarios
from scheduler.audit import audit
from scheduler.network.derive import derive
from scheduler.site.files import load_site, read_site
from tests import derived
from tests.benchmarks.random_sites import QUICK, missed, planned
from tests.benchmarks.site_extras import filled_the_same_day, with_second_ticket
from tests.benchmarks.site_generator import random_small_site
from tests.damage import DAMAGES
from tests.networks import BOTTLENECKS, trench_network
from tests.slices import slices
from tests.small_site import SMALL_SITE

pytestmark = pytest.mark.property

SITES = 200
BLOCK = 25
FULL = replace(QUICK, only_finish=False, start_effort=0.1, exposure_effort=0.2, money_effort=0.1, finish_effort=0.2)
"""Every stage, or all in money, for one site each in every BLOCK."""


@pytest.mark.parametrize("first", slices(0, SITES, BLOCK, kept=2))
def test_every_generated_site_has_a_plan_that_breaks_no_rule_and_hides_no_damage(first: int):
    tried: Counter[str] = Counter()
    for seed in range(first, first + BLOCK):
        network = derive(random_small_site(Random(seed)))
        options = {first: FULL, first + 1: replace(FULL, objective="cost")}.get(seed, QUICK)
        schedule = planned(network, options)
        assert [str(f) for f in audit(network, schedule)] == [], f"seed {seed}"
        assert missed(network, schedule, tried) == [], f"seed {seed}"
    assert len(tried) >= 10


@pytest.mark.parametrize("first", slices(0, 2 * BLOCK, BLOCK, kept=1))
def test_sites_with_two_tickets_over_one_ground_have_plans_that_keep_to_both(first: int):
    tried: Counter[str] = Counter()
    for seed in range(first, first + BLOCK):
        network = derive(with_second_ticket(random_small_site(Random(seed))))
        assert set(network.tickets[-1].digs) >= {d for t in network.tickets for d in t.digs}
        schedule = planned(network)
        assert [str(f) for f in audit(network, schedule)] == [], f"seed {seed}"
        assert missed(network, schedule, tried) == [], f"seed {seed}"
    assert tried["dig_before_clear"] == tried["dig_after_expiry"] == BLOCK


def test_drives_that_are_filled_the_same_day_have_plans_that_keep_to_it():
    tried: Counter[str] = Counter()
    for seed in range(4 * BLOCK):
        network = filled_the_same_day(random_small_site(Random(seed)))
        if any(shut.kind == "way" for shut in network.kept_shut):
            schedule = planned(network)
            assert [str(f) for f in audit(network, schedule)] == [], f"seed {seed}"
            assert missed(network, schedule, tried) == [], f"seed {seed}"
    assert tried["open_when_it_may_not"] >= BLOCK


@pytest.mark.parametrize("bottleneck", BOTTLENECKS)
def test_plans_of_hand_made_trenches_break_no_rule_and_hide_no_damage(bottleneck: str):
    tried: Counter[str] = Counter()
    for seed in range(5):
        network = trench_network(3, seed, bottleneck=bottleneck)
        schedule = planned(network)
        assert [str(f) for f in audit(network, schedule)] == [], f"seed {seed}"
        assert missed(network, schedule, tried) == [], f"seed {seed}"
    assert len(tried) >= 10


def test_every_kind_of_damage_is_caught_by_name_on_the_bundled_sites_and_a_long_trench():
    tried: Counter[str] = Counter()
    bundled = [derive(load_site(p)) for p in sorted(Path(scenarios.__file__).parent.glob("*.yaml"))]
    season = derived.network(derived.closed_for_a_season(date(2026, 6, 19), date(2026, 11, 20)))
    step = "id: ok, name: Engineer's yes, after: bed, before: lay, hours: 1, released_by: boss"
    least, shut = "  least_start_minutes: 30", "id: fair, name: the fair, from: 07-04, to: 07-06, stops: [dig]"
    own = derive(read_site(f"{SMALL_SITE}{least}\nown_work: [{{{step}}}]\nseasons: [{{{shut}}}]\n", file="own.yaml"))
    behind = derived.network(derived.behind_the_dig)
    for network in (*bundled, own, behind, trench_network(12), season):  # the long one outlives its locate ticket
        schedule = planned(network)
        assert [str(f) for f in audit(network, schedule)] == []
        assert missed(network, schedule, tried) == []
    assert {damage.__name__ for damages in DAMAGES.values() for damage in damages} - set(tried) == set()
