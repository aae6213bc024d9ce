"""What stretches must stand open together: never more than in a plan, and often more than each alone."""

from __future__ import annotations

from pathlib import Path
from random import Random

import pytest

from scheduler.case import load
from scheduler.measures import exposure
from scheduler.network.lowering import among, lower
from scheduler.network.model import Network
from scheduler.solve.bounds.least_exposure import least_exposure, nights_alone
from scheduler.solve.bounds.least_of_blocks import (
    blocks_of,
    least_of_block,
    least_of_blocks,
    sum_of_blocks,
    work_between,
)
from scheduler.solve.formulation.engine import Engine
from scheduler.solve.formulation.nights import PER_FOOT
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.goals import Exposure
from scheduler.solve.outcome import Options
from scheduler.solve.run import allowing, solve
from tests.benchmarks.site_generator import make_site, random_small_site
from tests.unit.test_solve_random import every_plan, tiny_trench

STREET = Path(__file__).parents[2] / "scenarios" / "lantern-street.yaml"


def engine() -> Engine:
    return Engine(Options(workers=1))  # anew: its limit on wall time runs from when it is made


def frame_of(network: Network, finish: int) -> TimeWindows:
    frame = TimeWindows(network)
    assert frame.narrow()
    return allowing(frame, frame.axis.last_end(finish), 0.0)


def test_no_plan_of_a_tiny_trench_goes_below() -> None:
    reached = 0
    for seed in range(12):
        network = tiny_trench(Random(seed))
        plans = every_plan(network)
        if not plans:
            continue
        frame = frame_of(network, max(p.finish for p in plans))
        alone = nights_alone(frame)
        bound = least_of_block(engine(), frame, network.openings, alone, 5.0)
        best = min(Exposure().amount(network, plan) for plan in plans)
        assert least_exposure(frame) <= bound <= best, seed
        reached += bound == best
    assert reached


@pytest.mark.parametrize("seed", range(4))
def test_no_plan_found_of_a_small_site_goes_below(seed: int) -> None:
    network = load(random_small_site(Random(seed), 3) if seed < 3 else make_site(4, seed)).network
    quick = Options(workers=1, start_effort=0.1, finish_effort=0.3, exposure_effort=0.5, money_effort=0.0)
    plan = solve(network, quick).schedule
    assert plan is not None
    frame = frame_of(network, plan.finish)
    bound = least_of_blocks(engine(), frame, plan, 4.0)
    assert least_exposure(frame) <= bound <= Exposure().amount(network, plan)


def test_a_reach_of_the_street_is_looked_at_with_its_branches_and_no_stretch_counts_twice() -> None:
    network = load(STREET).network
    blocks = [[o.id for o in block] for block in blocks_of(network)]
    assert ["lots-3-4", "front-of-lot-3", "front-of-lot-4"] in blocks
    assert ["west-end:1", "west-end:2", "front-of-lot-1"] in blocks
    assert {o.id for o in network.openings} == {o for block in blocks for o in block}
    one = {o.id: 1 for o in network.openings}
    twice = {frozenset({"lots-1-2", "front-of-lot-1"}): 2000, frozenset({"lots-1-2", "front-of-lot-2"}): 2000}
    feet = {o.id: o.length_ft for o in network.openings}
    # 55 ft that both blocks share over three nights more; in parts of nights less would do.
    assert sum_of_blocks(network, one, twice) == round(PER_FOOT * (sum(feet.values()) + 3 * feet["lots-1-2"]))


def test_the_street_must_stand_open_for_longer_than_each_stretch_alone() -> None:
    network = load(STREET).network
    plan = solve(network, Options(only_finish=True, start_effort=0.5, finish_effort=0.5)).schedule
    assert plan is not None
    frame = frame_of(network, plan.finish)
    bound = least_of_blocks(engine(), frame, plan, 2.4)
    assert 1.1 * least_exposure(frame) < bound <= PER_FOOT * exposure(network, plan.dates)


def test_rules_of_a_part_speak_of_its_activities_alone() -> None:
    network = load(STREET).network
    block = blocks_of(network)[1]
    kept = work_between(network, block)
    part = among(network, kept)
    assert {a.id for a in part.activities} == kept >= {end for o in block for end in (o.opens, o.closes)}
    rules = lower(part)
    assert {a for c in rules.capacities for u in c.uses for a in (u.first, u.last)} <= kept
    assert {a for k in rules.links for a in (k.before, k.after)} <= kept
    assert {a for g in rules.look_groups for a in g.looks} | {b.activity for b in rules.bounds} <= kept
