"""The serial generator: every plan keeps every rule, the traps are got out of, nothing depends on chance."""

from __future__ import annotations

from dataclasses import replace
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.audit import audit
from scheduler.network.kind import Kind
from scheduler.network.model import (
    Booking,
    DateRule,
    Link,
    LinkType,
    Network,
    Opening,
    OpenLimit,
    Renewal,
    Resource,
    Target,
    Ticket,
    VisitRule,
)
from scheduler.schedule import Schedule
from scheduler.solve.first_plan.generate import generate
from tests.exact import best_finish
from tests.jobs import at, job, task
from tests.networks import BOTTLENECKS, plain_network, tiny_network, trench_network


def planned(network: Network, budget_seconds: float = 0.1) -> Schedule:
    schedule = generate(network, budget_seconds=budget_seconds)
    assert schedule is not None, f"no plan for {network.name}"
    assert [str(f) for f in audit(replace(network, target=None), schedule)] == []
    return schedule


@pytest.mark.parametrize("bottleneck", BOTTLENECKS)
@pytest.mark.parametrize("reaches", [1, 6, 15])
def test_a_plan_of_a_trench_keeps_every_rule(reaches: int, bottleneck: str):
    planned(trench_network(reaches, seed=reaches, bottleneck=bottleneck))


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 10**6))
def test_plans_of_tiny_networks_keep_every_rule_and_never_beat_the_best(seed: int):
    network = tiny_network(Random(seed))
    schedule, best = generate(network, budget_seconds=0.02), best_finish(network)
    if schedule is not None:
        assert [str(f) for f in audit(network, schedule)] == []
        assert best is not None
        assert schedule.finish >= best


def test_tiny_networks_nearly_always_get_their_best_finish():
    networks = [tiny_network(Random(seed)) for seed in range(40)]
    best = [best_finish(n) for n in networks]
    found = [generate(n, budget_seconds=0.02) for n in networks]
    missed = sum(s is None or s.finish > b for s, b in zip(found, best, strict=True) if b is not None)
    assert missed <= 2


def test_the_same_network_gives_the_same_plan():
    network = trench_network(7, seed=3)
    assert generate(network, budget_seconds=0.2, seed=4) == generate(network, budget_seconds=0.2, seed=4)


def test_more_effort_never_gives_a_later_finish():
    network = trench_network(8, seed=1, bottleneck="power")
    finishes = [planned(network, budget).finish for budget in (0.02, 0.2, 1.0)]
    assert finishes == sorted(finishes, reverse=True)


def test_a_target_that_cannot_be_met_does_not_stop_the_plan():
    network = trench_network(3)
    assert planned(replace(network, target=Target("target", 10))).finish > 10


def test_no_more_is_opened_than_can_be_covered():
    # Each cover needs a neighbour dug too, and three may stand open: a dig begun at the wrong
    # place would leave every cover waiting for a dig that the limit forbids.
    works = [4] * 12
    digs, covers = range(6), range(6, 12)
    network = plain_network(
        works,
        [(d, d + 6) for d in digs] + [(d, (d ^ 1) + 6) for d in digs],
        openings=tuple(Opening(f"o{d}", "", 10.0, str(d), str(c)) for d, c in zip(digs, covers, strict=True)),
        open_limits=(OpenLimit("three", 3, tuple((f"o{d}", 1) for d in digs)),),
    )
    # The network's own order begins one dig of each pair, were it followed blindly.
    shuffled = tuple(network.by_id[str(i)] for i in (0, 2, 4, 1, 3, 5, *covers))
    planned(replace(network, activities=shuffled))


def test_a_limit_that_no_order_can_keep_gives_no_plan():
    network = plain_network(
        [2, 2, 2, 2],
        [(0, 2), (1, 2), (0, 3), (1, 3)],
        openings=(Opening("a", "", 1.0, "0", "2"), Opening("b", "", 1.0, "1", "3")),
        open_limits=(OpenLimit("one", 1, (("a", 1), ("b", 1))),),
    )
    assert generate(network, budget_seconds=0.05) is None


def test_a_look_waits_so_that_its_pass_is_still_good_when_cover_goes_on():
    look = task("look", 1, "city", Kind.INSPECT, one_window=True)
    other = task("other", 24, needs=(("crew", 1),))
    cover = task("cover", 2, needs=(("crew", 1),))
    network = job(
        other,
        look,
        cover,
        links=(
            Link("hold", "look", "cover"),
            Link("stale", "look", "cover", lag=at(1, 0), at_most=True),
            Link("late", "other", "cover"),
        ),
        resources=(Resource("crew", "crew"),),
        visit_rules=(VisitRule("looks", "looks", "city", "city", ("look",)),),
    )
    # `other` holds the crew until Wednesday evening, so Tuesday's look would be stale on Friday.
    assert planned(network).dates["look"][0] == at(3, 9)


def test_what_is_booked_keeps_its_crew_free():
    crew = (("crew", 1),)
    network = job(
        task("long", 8, needs=crew),
        task("booked", 2, needs=crew),
        task("more", 4, needs=crew),
        resources=(Resource("crew", "crew"),),
        bookings=(Booking("date", "date", ("booked",), at(1, 10), at(1, 10) + 1, firm=True),),
    )
    schedule = planned(network)
    assert schedule.dates["booked"] == (at(1, 10), at(1, 12))
    assert schedule.finish == at(1, 17)


def test_work_before_a_latest_date_goes_first():
    crew = (("crew", 1),)
    network = job(
        *(task(f"any {i}", 4, needs=crew) for i in range(4)),
        task("first", 4, needs=crew),
        task("due", 4, needs=crew),
        links=(Link("order", "first", "due"),),
        dates=(DateRule("by", "due", at(1, 12), "finish", "max"),),
        resources=(Resource("crew", "crew"),),
    )
    assert planned(network).dates["due"][1] <= at(1, 12)


def test_renewals_are_used_only_as_far_as_digs_need_them():
    digs = tuple(task(f"dig {i}", 8, kind=Kind.DIG, needs=(("machine", 1),)) for i in range(4))
    ticket = Ticket(
        "ticket",
        "ticket",
        at(0, 0),
        at(2, 0),
        tuple(d.id for d in digs),
        (Renewal("second", at(1, 0), at(3, 0)), Renewal("third", at(2, 0), at(5, 0)), Renewal("fourth", 0, at(9, 0))),
    )
    schedule = planned(job(*digs, resources=(Resource("machine", "machine"),), tickets=(ticket,)))
    assert schedule.renewals == ("second", "third")


def test_looks_of_one_window_make_one_visit_and_its_cap_is_kept():
    looks = tuple(task(f"look {i}", 0.5, "city", Kind.INSPECT, one_window=True) for i in range(3))
    rule = VisitRule("looks", "looks", "city", "city", tuple(a.id for a in looks), max_looks=2)
    schedule = planned(job(*looks, visit_rules=(rule,)))
    assert [len(v.looks) for v in schedule.visits] == [2, 1]


def test_a_network_without_any_plan_gives_none():
    late = job(task("a", 8), task("b", 8), links=(Link("wait", "a", "b", lag=at(9, 0)),))
    assert generate(late) is None
    ring = plain_network([1, 1], [(0, 1), (1, 0)])
    assert generate(ring) is None


def test_an_empty_network_has_an_empty_plan():
    assert generate(job()) == Schedule({})


@pytest.mark.parametrize("type_", list(LinkType))
def test_every_type_of_link_is_kept(type_: LinkType):
    network = job(task("a", 6), task("b", 3), links=(Link("k", "a", "b", type_, lag=5, lag_calendar="crew"),))
    planned(network)
