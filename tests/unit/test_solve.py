"""The solver on tiny jobs whose best plan is known by hand, or found by an independent exact model."""

from __future__ import annotations

import threading
from dataclasses import replace
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.audit import audit
from scheduler.costs.billing import money
from scheduler.measures import exposure
from scheduler.network.kind import Kind
from scheduler.network.model import (
    Booking,
    DateRule,
    Hold,
    Link,
    LinkType,
    Network,
    Opening,
    OpenLimit,
    Renewal,
    Resource,
    Space,
    Target,
    Ticket,
    VisitRule,
)
from scheduler.network.prices import Mobilisation, Rates
from scheduler.schedule import Schedule
from scheduler.solve.curve import curve
from scheduler.solve.outcome import Options, Outcome, Progress, Status
from scheduler.solve.run import solve
from tests.exact import best_finish
from tests.jobs import at, job, task
from tests.networks import tiny_network, trench_network

CREW = (("gang", 1),)
ONE_GANG = (Resource("gang", "the gang"),)
TWO_GANGS = (Resource("gang", "the gangs", capacity=2),)
FINISH = Options(only_finish=True)
A, B = task("a"), task("b")
GANG_A, GANG_B = task("a", needs=CREW), task("b", needs=CREW)
LOOK = task("look", 0.5, "city", Kind.INSPECT, one_window=True)


def best(network: Network, options: Options = FINISH) -> Outcome:
    outcome = solve(network, options)
    if outcome.schedule is not None:
        assert audit(network, outcome.schedule) == []
    return outcome


@pytest.mark.parametrize("options", [FINISH, Options()])
def test_a_job_without_activities_has_an_empty_plan_and_nothing_to_prove(options: Options) -> None:
    outcome = best(job(), options)
    assert (outcome.status, outcome.schedule) == (Status.OPTIMAL, Schedule({}))
    assert [(s.name, s.value, s.proved) for s in outcome.stages] == [("finish", 0.0, True)]


@pytest.mark.parametrize(
    ("network", "finish"),
    [
        pytest.param(job(A, B), at(0, 10), id="nothing binds: both at once"),
        pytest.param(job(GANG_A, GANG_B, resources=ONE_GANG), at(0, 12), id="one gang"),
        pytest.param(job(GANG_A, GANG_B, resources=TWO_GANGS), at(0, 10), id="two gangs"),
        pytest.param(
            job(A, B, spaces=(Space("s", "r", (("a", "x"), ("b", "y"))),)), at(0, 12), id="two trades, one room"
        ),
        pytest.param(
            job(A, B, spaces=(Space("s", "r", (("a", "x"), ("b", "x"))),)), at(0, 10), id="one trade, one room"
        ),
        pytest.param(job(A, B, links=(Link("k", "a", "b", lag=at(1, 0)),)), at(1, 12), id="a day's cure, elapsed"),
        pytest.param(
            job(A, B, links=(Link("k", "a", "b", lag=4, lag_calendar="crew"),)), at(0, 14), id="an hour's work between"
        ),
        pytest.param(job(A, B, links=(Link("k", "a", "b", LinkType.SS, lag=4),)), at(0, 11), id="start to start"),
        pytest.param(job(task("a", 6)), at(0, 15), id="over the dinner hour"),
        pytest.param(
            job(task("a", 4, one_window=True), dates=(DateRule("d", "a", at(0, 9)),)), at(0, 17), id="in one window"
        ),
        pytest.param(job(A, LOOK, links=(Link("k", "a", "look"),)), at(1, 9.5), id="the inspector's first morning"),
        pytest.param(
            job(A, LOOK, B, holds=(Hold("h", "hold", "h", "look", ("b",)),), links=(Link("k", "a", "look"),)),
            at(1, 11.5),
            id="cover waits for its look",
        ),
        pytest.param(
            job(A, ticket_dig := task("dig"), tickets=(Ticket("t", "ticket", at(1, 8), at(4, 0), ("dig",)),)),
            at(1, 10),
            id="a ticket's clear date",
        ),
        pytest.param(
            job(
                ticket_dig,
                dates=(DateRule("d", "dig", at(2, 8)),),
                tickets=(Ticket("t", "ticket", 0, at(1, 0), ("dig",), (Renewal("r", at(0, 12), at(4, 0)),)),),
            ),
            at(2, 10),
            id="digging after expiry, renewed",
        ),
        pytest.param(
            job(A, bookings=(Booking("b", "b", ("a",), at(3, 8), at(3, 8) + 1, firm=True),)), at(3, 10), id="firm"
        ),
    ],
)
def test_best_finish_by_hand(network: Network, finish: int) -> None:
    outcome = best(network)
    assert outcome.status is Status.OPTIMAL
    assert outcome.schedule is not None
    assert (outcome.schedule.finish, outcome.finish_bound) == (finish, finish)


def test_an_open_limit_makes_stretches_wait_for_each_other() -> None:
    work = [task(f"{step}{i}", 4) for i in (1, 2) for step in ("dig", "fill")]
    links = tuple(Link(f"k{i}", f"dig{i}", f"fill{i}") for i in (1, 2))
    openings = tuple(Opening(f"o{i}", f"r{i}", 60, f"dig{i}", f"fill{i}") for i in (1, 2))
    limit = (OpenLimit("limit", 100, (("o1", 60), ("o2", 60))),)
    free = best(job(*work, links=links, openings=openings))
    bound = best(job(*work, links=links, openings=openings, open_limits=limit))
    assert free.schedule is not None
    assert bound.schedule is not None
    assert (free.schedule.finish, bound.schedule.finish) == (at(0, 17), at(1, 17))


def test_looks_beyond_a_visits_cap_need_another_morning() -> None:
    looks = [task(f"look{i}", 0.5, "city", Kind.INSPECT, one_window=True) for i in range(3)]
    rule = VisitRule("v", "v", "city", "city", tuple(a.id for a in looks), max_looks=2)
    outcome = best(job(*looks, visit_rules=(rule,)))
    assert outcome.schedule is not None
    assert outcome.schedule.finish == at(3, 9.5)
    assert sorted(len(v.looks) for v in outcome.schedule.visits) == [1, 2]


IMPOSSIBLE = {
    "target": job(GANG_A, GANG_B, resources=ONE_GANG, target=Target("target", at(0, 11), because="the opening day")),
    "bookings": job(
        GANG_A,
        GANG_B,
        resources=ONE_GANG,
        bookings=(
            Booking("b1", "b1", ("a",), at(1, 8), at(1, 8) + 1, firm=True, because="booked"),
            Booking("b2", "b2", ("b",), at(1, 9), at(1, 9) + 1, firm=True, because="booked too"),
        ),
    ),
    "nobody comes": job(A, replace(LOOK, work=12)),
}


@pytest.mark.parametrize(
    ("network", "named"), list(zip(IMPOSSIBLE.values(), ("target", "b1", "city"), strict=True)), ids=IMPOSSIBLE
)
def test_impossible_jobs_are_proved_so_and_say_why(network: Network, named: str) -> None:
    outcome = solve(network, FINISH)
    assert outcome.status is Status.INFEASIBLE
    assert outcome.schedule is None
    assert named in {ref for ref, _ in outcome.conflict}


@settings(max_examples=15, deadline=None)
@given(st.integers(0, 10**6))
def test_the_best_finish_of_a_tiny_network_is_the_exact_one(seed: int) -> None:
    network = tiny_network(Random(seed))
    exact, outcome = best_finish(network), best(network)
    if exact is None:
        assert outcome.status is Status.INFEASIBLE
    else:
        assert outcome.status is Status.OPTIMAL
        assert outcome.schedule is not None
        assert outcome.schedule.finish == exact


def test_stages_report_what_the_plan_amounts_to_and_give_up_nothing_before() -> None:
    network = trench_network(4, 1)
    outcome = best(network, Options())
    assert outcome.schedule is not None
    stage = {s.name: s for s in outcome.stages}
    assert list(stage) == ["finish", "exposure", "steadiness", "earliness"], "nothing costs money here"
    assert stage["exposure"].value == pytest.approx(exposure(network, outcome.schedule.dates))
    assert all(s.bound <= s.value + 1e-6 and s.bound_kind for s in outcome.stages)
    only = best(network)
    assert only.schedule is not None
    assert outcome.schedule.finish == only.schedule.finish


def test_a_later_finish_never_costs_open_trench() -> None:
    points = curve(trench_network(4, 2), (0.0, 1.0, 2.0), Options())
    values = [p.exposure for p in points]
    assert values == sorted(values, reverse=True)
    assert all(p.bound <= p.exposure for p in points)


def test_the_money_objective_trades_days_for_everything_else() -> None:
    network = replace(trench_network(3, 1), rates=Rates(overhead_per_day=500, exposure_per_ft_night=1))
    outcome = best(network, Options(objective="cost"))
    assert outcome.schedule is not None
    assert "cost" in {s.name for s in outcome.stages}


def test_two_comings_are_paid_when_work_lies_far_apart() -> None:
    work = (A, B)
    dates = (DateRule("d", "b", at(4, 8)),)
    network = job(*work, dates=dates, mobilisations=(Mobilisation("m", "m", ("a", "b"), 100, stay_days=1),))
    outcome = best(network, Options())
    assert outcome.schedule is not None
    assert money(network, outcome.schedule) == 100, "the first task waits, so that one coming is enough"


def test_the_same_network_gives_the_same_plan() -> None:
    network = trench_network(5, 3)
    assert solve(network, Options()).schedule == solve(network, Options()).schedule


def test_a_stopped_solve_keeps_the_best_so_far_and_says_so() -> None:
    stop = threading.Event()
    stop.set()
    network = trench_network(6, 1)
    outcome = solve(network, Options(), None, stop)
    assert outcome.status in (Status.STOPPED, Status.OPTIMAL)
    assert outcome.schedule is None or audit(network, outcome.schedule) == []
    assert "money" not in {s.name for s in outcome.stages}


def test_progress_tells_values_and_bounds() -> None:
    heard: list[Progress] = []
    best_outcome = solve(trench_network(4, 1), Options(), heard.append)
    assert best_outcome.schedule is not None
    assert {p.stage for p in heard} >= {"finish"}
    assert any(p.value is not None for p in heard)


def test_a_finish_handed_over_is_not_searched_for_again() -> None:
    network, told = trench_network(4, seed=2), []
    options = Options(finish_effort=0.5, exposure_effort=0.5, money_effort=0.5)
    first = solve(network, replace(options, only_finish=True))
    whole = solve(network, options, told.append, begun=first)
    assert {p.stage for p in told}.isdisjoint({"finish"})
    assert whole.stages[0] is first.stages[0]
    straight = solve(network, options)
    assert (whole.status, whole.schedule, whole.finish_bound) == (
        straight.status,
        straight.schedule,
        straight.finish_bound,
    )
