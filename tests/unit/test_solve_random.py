"""Whole solves of tiny random networks against trying every combination of starts, judged by the audit."""

from datetime import date
from itertools import product
from random import Random

import pytest

from scheduler.audit import audit
from scheduler.costs.billing import money
from scheduler.measures import exposure, midnights
from scheduler.network.kind import Kind
from scheduler.network.model import (
    Activity,
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
from scheduler.solve.formulation.dated import dated
from scheduler.solve.outcome import GIVEN_UP, Options, Status
from scheduler.solve.run import DAYS_FOR_COST, solve
from scheduler.worktime.calendar import Calendar
from scheduler.worktime.clock import Clock
from tests.slices import slices

DAYS, DAY = 6, 6
"""Days of the horizon, and ticks of four hours in a day."""


def tiny_trench(rng: Random) -> Network:
    """Return a dig, two or three jobs in the trench, a look and a fill, with random rules of every family."""
    clock = Clock(Clock.starting(date(2025, 3, 7), "UTC").origin, "UTC", 24 * 60 // DAY)
    workdays = [d for d in range(DAYS) if d not in (1, 2)]
    calendars = {
        "crew": Calendar("crew", "crew", tuple((DAY * d + 2, DAY * d + 4) for d in workdays)),
        "late": Calendar("late", "late crew", tuple((DAY * d + 2, DAY * d + 5) for d in workdays)),
        "looks": Calendar("looks", "looks", tuple((DAY * d + 3, DAY * d + 5) for d in workdays if rng.random() < 0.7)),
    }
    lays = [f"lay{i}" for i in range(rng.randint(1, 2))]
    jobs = ["dig", *lays, "look", "fill"]
    look_is_last = rng.random() < 0.2
    activities = tuple(
        Activity(
            id=a,
            name=a,
            kind=Kind.INSPECT if a == "look" else Kind.PLAIN,
            work=1 if a == "look" else rng.randint(1, 3),
            calendar="looks" if a == "look" else rng.choice(("crew", "late")),
            one_window=a == "look" or rng.random() < 0.1,
            needs=(("machine", 1),) if a in ("dig", "fill") else (("crew", 1),) if rng.random() < 0.6 else (),
        )
        for a in jobs
    )
    lag_calendar = rng.choice((None, "crew"))
    links = [Link(f"dig-{a}", "dig", a, rng.choice((LinkType.FS, LinkType.SS))) for a in lays]
    links += [Link(f"{a}-fill", a, "fill", rng.choice((LinkType.FS, LinkType.FF)), rng.choice((0, 0, 3))) for a in lays]
    links.append(Link("dig-look", "dig", "look", lag=rng.choice((0, 2)), lag_calendar=lag_calendar))
    if rng.random() < 0.4:
        links.append(Link("stale", "look", "fill", lag=rng.choice((4, 12)), at_most=True))
    if not look_is_last:
        links.append(Link("look-fill", "look", "fill"))
    chance = rng.random
    ticket = Ticket("ticket", "ticket", rng.randint(0, 8), rng.randint(8, 20), ("dig",), (Renewal("more", 3, 30),), 9.0)
    soft = Booking("soft", "soft", (lays[0],), 14, 15, firm=chance() < 0.3, move_cost=5.0)
    wait = DateRule("from", "lay0", rng.randint(0, 20), rng.choice(("start", "finish")))
    return Network(
        name="tiny trench",
        clock=clock,
        data_date=rng.choice((0, 2)),
        horizon=DAYS * DAY,
        calendars=calendars,
        activities=activities,
        links=tuple(links),
        dates=(wait,) if chance() < 0.3 else (),
        resources=(Resource("machine", "machine"), Resource("crew", "crew", capacity=rng.randint(1, 2))),
        spaces=(Space("room", "R", (("dig", "machine"), *((a, a) for a in lays), ("fill", "machine"))),),
        openings=(Opening("open", "R", 10.5, "dig", "fill"), Opening("side", "R", 4.0, lays[0], "fill")),
        open_limits=(OpenLimit("limit", 1, (("side", 1), ("open", 1))),) if chance() < 0.15 else (),
        tickets=(ticket,),
        visit_rules=(VisitRule("visit", "visit", "city", "looks", ("look",), {"look": 10.0}, fee=7.0),),
        holds=(Hold("hold", "hold", "hold", "look", ("fill",)),) if chance() < 0.5 else (),
        bookings=(soft,) if chance() < 0.4 else (),
        mobilisations=(Mobilisation("party", "party", tuple([*lays, "look"]), 20.0, stay_days=rng.randint(0, 1)),),
        target=Target("target", rng.randint(20, DAYS * DAY)) if chance() < 0.3 else None,
        rates=Rates(overhead_per_day=rng.choice((3.0, 40.0)), exposure_per_ft_night=rng.choice((0.1, 2.0))),
    )


def every_plan(network: Network) -> list[Schedule]:
    """Return every schedule of a network that the audit finds nothing against."""
    spans = []
    for a in network.activities:
        calendar = network.calendars[a.calendar]
        found = []
        for start in range(network.data_date, network.horizon):
            finish = calendar.advance(start, a.work)
            window = calendar.window_at(start)
            if window and finish is not None and finish <= network.horizon:
                found.append((start, finish))
        spans.append(found)
    order = {a.id: i for i, a in enumerate(network.activities)}
    pairs = [(order[k.before], order[k.after]) for k in network.links if k.type is LinkType.FS and not k.at_most]
    plans = []
    for combination in product(*spans):
        if all(combination[a][1] <= combination[b][0] for a, b in pairs):
            schedule = dated(network, dict(zip(order, combination, strict=True)))
            if not audit(network, schedule):
                plans.append(schedule)
    return plans


def cost(network: Network, schedule: Schedule) -> float:
    days = 1 + sum(m < schedule.finish for m in midnights(network.clock, network.data_date, network.horizon))
    rates = network.rates
    return (
        rates.overhead_per_day * days
        + rates.exposure_per_ft_night * exposure(network, schedule.dates)
        + money(network, schedule)
    )


@pytest.mark.parametrize("first", slices(0, 60, 10, kept=1))
def test_stages_reach_what_trying_everything_reaches(first: int):
    for seed in range(first, first + 10):
        network = tiny_trench(Random(seed))
        plans = every_plan(network)
        outcome = solve(network, Options(workers=1))
        if not plans:
            assert outcome.status is Status.INFEASIBLE, f"seed {seed}"
            assert outcome.conflict, f"seed {seed}"
            continue
        best = min((p.finish, exposure(network, p.dates), money(network, p)) for p in plans)
        assert outcome.schedule is not None, f"seed {seed}"
        assert audit(network, outcome.schedule) == [], f"seed {seed}"
        stages = {s.name: s for s in outcome.stages}
        assert all(stages[name].proved for name in ("finish", "exposure", "money")), f"seed {seed}"
        reached = (stages["exposure"].value, stages["money"].value)
        assert (outcome.schedule.finish, *reached) == pytest.approx(best), f"seed {seed}"


@pytest.mark.parametrize("first", slices(107, 117, 5, kept=1))
def test_the_whole_cost_is_the_least_there_is(first: int):
    for seed in range(first, first + 5):
        network = tiny_trench(Random(seed))
        plans = every_plan(network)
        outcome = solve(network, Options(workers=1, objective="cost"))
        assert (outcome.schedule is None) == (not plans), f"seed {seed}"
        if outcome.schedule is not None:
            last = min(p.finish for p in plans) + DAYS_FOR_COST * DAY
            best = min(cost(network, p) for p in plans if p.finish <= last)
            assert audit(network, outcome.schedule) == [], f"seed {seed}"
            assert outcome.stages[1].proved, f"seed {seed}"
            assert outcome.stages[1].value == pytest.approx(best, abs=0.02), f"seed {seed}"
            assert cost(network, outcome.schedule) <= best + 0.02, f"seed {seed}"


@pytest.mark.benchmark
def test_a_plan_for_the_least_money_costs_no_more_than_the_one_made_in_stages_and_says_its_own_finish():
    given_up = 0
    for seed in (2, 17, 45):
        network = tiny_trench(Random(seed))
        staged, whole = (solve(network, Options(workers=1, objective=o)) for o in ("staged", "cost"))
        assert whole.schedule is not None, f"seed {seed}"
        assert staged.schedule is not None, f"seed {seed}"
        assert cost(network, whole.schedule) <= cost(network, staged.schedule), f"seed {seed}"
        finish, best = whole.stages[0], staged.stages[0]
        days = (whole.schedule.finish - network.data_date) * network.clock.tick_minutes / 1440
        assert finish.value == pytest.approx(days, abs=1e-4), f"seed {seed}"
        assert finish.proved == (finish.value == best.value) == (whole.status is Status.OPTIMAL), f"seed {seed}"
        given_up += finish.bound_kind == GIVEN_UP
    assert given_up, "a test of nothing"
