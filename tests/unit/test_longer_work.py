"""How much longer all own work may take in a plan's own order: worked by hand, and against every plan there is."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from random import Random

import pytest

import scheduler
from scheduler import Planned, bundled_sites
from scheduler.audit import audit
from scheduler.explain import margin_borne, next_upsets, who_has_margin
from scheduler.explain.longer_work import MOST_PERCENT, borne_percent, finish_with_longer_work
from scheduler.network.contingency import own_work, with_contingency
from scheduler.network.kind import Kind
from scheduler.network.model import Network
from scheduler.plan import plan_json, plan_read
from scheduler.schedule import Schedule
from scheduler.solve.outcome import Options
from tests.networks import plain_network
from tests.unit.test_solve_random import every_plan, tiny_trench

QUICK = Options(start_effort=0.3, finish_effort=0.3, exposure_effort=0.05, money_effort=0.05, conflict_effort=0.1)


@cache
def small() -> Planned:
    return scheduler.plan(scheduler.load(bundled_sites()["orchard-lane"]), QUICK)


def two_pieces_then_a_look(wait: int) -> tuple[Network, Schedule]:
    """Return two pieces of ten ticks, one after the other, and a look of two ticks so long after them."""
    network = plain_network([10, 10, 2], [(0, 1), (1, 2)])
    one, two, look = network.activities
    look = replace(look, kind=Kind.INSPECT)
    network = replace(network, activities=(one, two, look))
    return network, Schedule({"0": (0, 10), "1": (10, 20), "2": (20 + wait, 22 + wait)})


@pytest.mark.parametrize(("wait", "percent"), [(0, 0), (1, 5), (3, 15), (4, 20), (9, 45), (10, 50), (40, MOST_PERCENT)])
def test_work_may_take_as_much_longer_as_the_look_after_it_leaves(wait: int, percent: int):
    network, schedule = two_pieces_then_a_look(wait)
    assert audit(network, schedule) == []
    assert borne_percent(network, schedule) == percent


def test_with_longer_work_the_finish_moves_by_what_does_not_fit():
    network, schedule = two_pieces_then_a_look(4)
    ends = [finish_with_longer_work(network, schedule, percent) for percent in (5, 20, 25, 50, 100)]
    assert ends == [26, 26, 27, 32, 42]
    # From the second piece on only that one takes longer: its half of what both get.
    assert finish_with_longer_work(network, schedule, 100, begin=10) == 32
    assert finish_with_longer_work(network, schedule, 100, begin=11) == 26


def test_margin_that_is_planned_in_counts():
    network, schedule = two_pieces_then_a_look(4)
    wide = with_contingency(network, 10)
    dates = schedule.dates | {"0": (0, 11), "1": (11, 22)}
    assert audit(wide, Schedule(dates)) == []
    assert borne_percent(wide, Schedule(dates)) == 20
    full = with_contingency(network, 20)
    assert borne_percent(full, Schedule(dates | {"0": (0, 12), "1": (12, 24)})) == 20


@pytest.mark.benchmark
def test_of_tiny_jobs_no_plan_is_said_to_bear_what_no_plan_does():
    bearing = 0
    for seed in range(60):
        network = replace(tiny_trench(Random(seed)), target=None)
        plans = every_plan(network)
        if not plans or audit(network, best := min(plans, key=lambda p: p.finish)):
            continue
        percent = borne_percent(network, best)
        if percent:
            bearing += 1
            assert any(p.finish <= best.finish for p in every_plan(with_contingency(network, percent))), seed
        if percent < MOST_PERCENT:
            moved = finish_with_longer_work(network, best, percent)
            assert moved is None or moved <= best.finish, seed
    assert bearing > 5, "a test of nothing"


def test_a_plan_says_who_has_how_much_and_what_it_bears():
    case, margin = small().case, small().plan.margin
    assert margin is not None
    work = own_work(case.network)
    assert {(s.trade, s.kind): s.work_minutes for s in margin.shares} == {
        key: sum(a.work for a in group) * 15 for key, group in work.items()
    }
    assert not any(s.contingency_minutes for s in margin.shares)
    assert who_has_margin(small().plan, {}) == ""
    wide = scheduler.plan(case.with_margin(10), replace(QUICK, only_finish=True)).plan
    assert wide.margin is not None
    assert wide.margin.borne_percent >= 10
    assert sum(s.contingency_minutes for s in wide.margin.shares) == sum(a.contingency_minutes for a in wide.activities)
    told = who_has_margin(wide, {t.id: t.name for t in case.site.trades})
    assert all(t.name in told for t in case.site.trades if any(s.trade == t.id for s in wide.margin.shares))
    assert scheduler.audit(case, plan_read(plan_json(wide))) == []


def test_words_tell_what_is_borne_and_where_it_ends():
    plan = small().plan
    assert plan.margin is not None

    def said(**changed: object) -> str:
        assert plan.margin is not None
        return margin_borne(plan.model_copy(update={"margin": plan.margin.model_copy(update=changed)}))

    assert "the finish moves as soon as" in said(borne_percent=0)
    assert "With 10 % more time all is finished" in said(borne_percent=0, longer_finish=plan.finish)
    assert "may take 7 % longer than quantities give: the finish stands. With 10 %" in said(borne_percent=7)
    assert said(borne_percent=12).endswith("the finish stands.")
    assert "no longer fits into the hours known" in said(borne_percent=0, longer_finish=None)
    assert margin_borne(plan.model_copy(update={"margin": None})) == ""


def test_slow_work_is_told_among_what_would_upset_the_plan():
    planned = small()
    assert planned.schedule is not None
    network = planned.case.network
    first_day = network.clock.when(network.data_date).date()
    *_, (what, finish) = next_upsets(network, planned.schedule, first_day)
    assert what.startswith("All own work from then on takes 10 % longer")
    assert finish is None or finish >= planned.schedule.finish
