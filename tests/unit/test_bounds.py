"""Bounds on the finish: never above the best finish, tight where one thing is short, and said in plain words."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import networkx as nx
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.network.dates import Propagation
from scheduler.network.kind import Kind
from scheduler.network.model import Activity, Link, Opening, OpenLimit, Resource, Space, Target, VisitRule
from scheduler.solve.bounds.destructive import BY_DATES, NO_DATES, finish_lower_bound, is_refuted
from scheduler.solve.first_plan.generate import generate
from scheduler.solve.first_plan.partial_schedule import plannable
from tests.exact import best_finish
from tests.jobs import at, hours, job, task
from tests.networks import BOTTLENECKS, plain_network, tiny_network, trench_network

CREW = (("crew", 1),)
ONE_CREW = (Resource("crew", "the crew"),)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6))
def test_no_plan_of_a_tiny_network_finishes_before_the_bound(seed: int):
    network = tiny_network(Random(seed))
    best = best_finish(network)
    bound, words = finish_lower_bound(network)
    assert words
    if best is not None:
        assert bound <= best
        assert finish_lower_bound(network, known=best)[0] <= best


@given(st.integers(0, 10**6))
def test_dates_without_resources_are_the_longest_path(seed: int):
    rng = Random(seed)
    works = [rng.randint(0, 9) for _ in range(rng.randint(1, 15))]
    pairs = [(a, b) for b in range(len(works)) for a in range(b) if rng.random() < 0.3]
    graph = nx.DiGraph()
    graph.add_nodes_from(range(-1, len(works)))
    graph.add_weighted_edges_from((a, b, works[a]) for a, b in pairs)
    graph.add_weighted_edges_from((a, -1, works[a]) for a in range(len(works)))
    network = plain_network(works, pairs)
    longest = nx.dag_longest_path_length(graph)
    dates = Propagation(network).forward()
    assert dates is not None
    assert max(f for _, f in dates.values()) == longest
    assert finish_lower_bound(network) == (longest, BY_DATES)


def test_a_crew_can_do_no_more_than_its_hours():
    network = job(*(task(f"t{i}", 5, needs=CREW) for i in range(4)), resources=ONE_CREW)
    # 20 h of work at 8 h a day, from Monday 08:00: Wednesday 12:00.
    assert finish_lower_bound(network) == (at(2, 12), "all the work of the crew")


def test_two_crews_halve_it():
    network = job(
        *(task(f"t{i}", 5, needs=CREW) for i in range(4)), resources=(Resource("crew", "the crew", capacity=2),)
    )
    assert finish_lower_bound(network)[0] == at(1, 10)


def test_what_comes_before_and_after_the_work_counts():
    # The crew cannot begin before 10:00, works 10 h, and the quickest follow-up takes 3 h more.
    network = job(
        task("start", 2),
        *(task(f"t{i}", 5, needs=CREW) for i in range(2)),
        task("after 0", 3),
        task("after 1", 4),
        links=(
            *(Link(f"s{i}", "start", f"t{i}") for i in range(2)),
            *(Link(f"e{i}", f"t{i}", f"after {i}") for i in range(2)),
        ),
        resources=ONE_CREW,
    )
    assert finish_lower_bound(network)[0] == at(1, 16) == best_of(network)


def test_a_crew_kept_while_its_work_waits_for_other_hours_is_counted():
    # 6 h that may be done from 8 to 11 only keep the crew from one morning to the next,
    # over the 5 h in which its other work could have been done.
    mornings = hours("mornings", (0, 1, 2, 3, 4), (8, 11))
    network = job(
        task("split", 6, "mornings", needs=CREW), *(task(f"t{i}", 8, needs=CREW) for i in range(2)), resources=ONE_CREW
    )
    network = replace(network, calendars={**network.calendars, "mornings": mornings})
    assert finish_lower_bound(network)[0] == at(3, 11) == best_of(network)


@pytest.mark.parametrize(("cap", "finish"), [({"max_looks": 2}, at(3, 9.5)), ({"max_ft": 100.0}, at(3, 9.5))])
def test_a_visit_can_see_only_so_much(cap: dict[str, float], finish: int):
    looks = tuple(task(f"look {i}", 0.5, "city", Kind.INSPECT, one_window=True) for i in range(3))
    ids = tuple(a.id for a in looks)
    rule = VisitRule("looks", "the city", "city", "city", ids, dict.fromkeys(ids, 50.0), **cap)  # type: ignore[arg-type]
    bound, words = finish_lower_bound(job(*looks, visit_rules=(rule,)))
    assert bound == finish
    assert "the city" in words


def test_an_inspector_can_make_only_so_many_looks_in_a_window():
    # Four looks of 45 min by one inspector, two hours on Tuesday and two on Thursday: two a window.
    looks = tuple(task(f"look {i}", 0.75, "city", Kind.INSPECT, one_window=True, needs=CREW) for i in range(4))
    rule = VisitRule("looks", "the city", "city", "city", tuple(a.id for a in looks))
    network = job(*looks, resources=ONE_CREW, visit_rules=(rule,))
    assert finish_lower_bound(network)[0] == at(3, 10.5) == best_of(network)


def test_a_room_takes_one_trade_at_a_time():
    network = plain_network([5, 6, 7], [], spaces=(Space("room", "R1", (("0", "a"), ("1", "b"), ("2", "c"))),))
    assert finish_lower_bound(network) == (18, "one trade at a time in reach R1")


def test_people_of_one_trade_may_share_a_room():
    network = plain_network([5, 6, 7], [], spaces=(Space("room", "R1", (("0", "a"), ("1", "a"), ("2", "c"))),))
    assert finish_lower_bound(network)[0] == 13 == best_finish(network)


def test_only_so_much_may_stand_open():
    network = plain_network(
        [3] * 8,
        [(i, i + 4) for i in range(4)],
        openings=tuple(Opening(f"o{i}", "", 1.0, str(i), str(i + 4)) for i in range(4)),
        open_limits=(OpenLimit("one", 1, tuple((f"o{i}", 1) for i in range(4)), because="one stretch open at a time"),),
    )
    assert finish_lower_bound(network) == (24, "one stretch open at a time")


def test_what_must_share_a_party_before_an_activity_raises_its_earliest_start():
    network = plain_network(
        [4, 5, 1],
        [(0, 2), (1, 2)],
        resources=(Resource("crew", "crew"),),
    )
    activities = tuple(replace(a, needs=CREW) if a.id != "2" else a for a in network.activities)
    bound, words = finish_lower_bound(replace(network, activities=activities))
    assert bound == 10, "4 and 5 ticks of one crew, one after the other, and then 1"
    assert "take one thing at a time" in words


def test_the_target_does_not_move_the_bound():
    network = job(task("a", 8))
    assert finish_lower_bound(replace(network, target=Target("target", 1))) == finish_lower_bound(network)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6), st.integers(0, 80))
def test_a_finish_is_refuted_where_the_bound_is_later(seed: int, finish: int):
    network = tiny_network(Random(seed))
    bound, _ = finish_lower_bound(network, finish + 1)
    assert is_refuted(Propagation(plannable(network)), finish) == (bound > finish)


def test_a_network_that_allows_no_dates_says_so():
    network = job(task("a", 8), task("b", 8), links=(Link("wait", "a", "b", lag=at(9, 0)),))
    bound, words = finish_lower_bound(network)
    assert bound > network.horizon
    assert words == NO_DATES


@pytest.mark.parametrize("bottleneck", BOTTLENECKS)
def test_a_known_finish_that_is_best_is_proved_at_once(bottleneck: str):
    network = trench_network(4, seed=2, bottleneck=bottleneck, open_reaches=None)
    bound, _ = finish_lower_bound(network)
    schedule = generate(network, budget_seconds=0.5, enough=bound)
    assert schedule is not None
    assert schedule.finish >= bound
    assert finish_lower_bound(network, known=schedule.finish)[0] == min(bound, schedule.finish)


def best_of(network: object) -> int:
    """The finish of a plan: with a bound equal to it, both are best."""
    schedule = generate(network, budget_seconds=0.1)  # type: ignore[arg-type]
    assert schedule is not None
    return schedule.finish


def test_an_activity_of_no_work_takes_nobody():
    network = plain_network([4, 0], [(0, 1)], resources=(Resource("crew", "crew"),))
    free = (network.by_id["0"], Activity("1", "sign", Kind.MILESTONE, 0, "always", needs=CREW))
    assert finish_lower_bound(replace(network, activities=free))[0] == 4
