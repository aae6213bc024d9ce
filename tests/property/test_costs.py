"""One cost model: the bill, what a stage calls its value, and the expression of a search say the same of every plan."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from random import Random

import pytest

from scheduler.costs import Bill, bill
from scheduler.costs.billing import money
from scheduler.measures import days_on_site
from scheduler.network.derive import derive
from scheduler.network.model import Network, ResourceKind
from scheduler.schedule import Schedule
from scheduler.solve.formulation.constraint_model import build, starts_of
from scheduler.solve.formulation.engine import Engine
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.goals import Cost, Goal, Money, express
from scheduler.solve.outcome import Options
from scheduler.solve.run import solve
from tests.benchmarks import cost_aims
from tests.benchmarks.cost_aims import priced
from tests.slices import slices

pytestmark = pytest.mark.property

SITES = 8
BLOCK = 4
QUICK = Options(workers=1, start_effort=0.01, finish_effort=0.02, exposure_effort=0.05, money_effort=0.05)
GOALS: tuple[Goal, ...] = (Money(), Cost())


def expressed(network: Network, schedule: Schedule, goal: Goal) -> int:
    """Return what a search makes of a goal when every date is held where a plan has it."""
    frame = TimeWindows(network)
    assert frame.narrow()
    starts = starts_of(frame, schedule)
    held = frame.part({a: spans.between(starts[a], starts[a]) for a, spans in frame.spans.items()})
    search = build(held, PrecedenceOrder(network))
    aim = express(search, goal)
    search.model.minimize(aim)
    found = Engine(QUICK, None, None).run(search, effort=1.0)
    assert found.value is not None
    return round(found.value)


def days_by_hand(network: Network, schedule: Schedule, party: str) -> int:
    """Return the days on which a crew or a machine has some work in hand in open hours, counted day by day."""
    days = set()
    for a in (a for a in network.activities if a.work and party in dict(a.needs)):
        start, finish = schedule.dates[a.id]
        for opens, closes in network.calendar_of(a.id).windows:
            if opens < finish and closes > start:
                days.update(
                    range(
                        *(d + i for i, d in enumerate(days_on_site(network, (max(opens, start), min(closes, finish)))))
                    )
                )
    return len(days)


@pytest.mark.parametrize("first", slices(0, SITES, BLOCK, kept=1))
def test_bill_goal_and_search_say_the_same(first: int) -> None:
    for seed in range(first, first + BLOCK):
        network = derive(priced(Random(seed)))
        plans = [solve(network, replace(QUICK, objective=o)).schedule for o in ("staged", "cost")[: 1 + seed % 2]]
        for schedule in plans:
            assert schedule is not None, f"seed {seed}"
            made = bill(network, schedule)
            assert made.total == Cost().amount(network, schedule) / 100, f"seed {seed}"
            assert sum(n.amount for n in made.lines if n.is_money) == pytest.approx(money(network, schedule))
            assert money(network, schedule) == Money().amount(network, schedule) / 100
            for goal in GOALS:
                amount = goal.amount(network, schedule)
                assert expressed(network, schedule, goal) == amount, f"seed {seed}: {goal.name}"
                frame = TimeWindows(network)
                assert frame.narrow()
                assert goal.least(frame) <= amount, f"seed {seed}: {goal.name}"
            _is_by_hand(network, schedule, made)


def _is_by_hand(network: Network, schedule: Schedule, made: Bill) -> None:
    """Check the days at work of every party, and that a party without a rate is named."""
    lines = {line.id: line for line in made.lines}
    rented = {r.id for r in network.rentals}
    for party in network.resources:
        if party.kind in (ResourceKind.CREW, ResourceKind.MACHINE) and party.id not in rented:
            days = days_by_hand(network, schedule, party.id)
            if party.day_rate:
                assert lines[f"days/{party.id}"].quantity == days * party.capacity
            elif party.day_rate is None:
                assert any(said.startswith(f"{party.name}, days at work") for said in made.left_out)


def test_nights_open_and_unpaved_never_overlap_and_join() -> None:
    """A stretch is open until its fill and bare from then on: no night counts as both."""
    seen = 0
    for seed in range(12):
        network = derive(priced(Random(seed)))
        schedule = solve(network, replace(QUICK, only_finish=True)).schedule
        assert schedule is not None
        for bare in network.unpaved:
            fills = [o for o in network.openings if o.closes == bare.opens]
            for o in fills:
                ends = schedule.dates[o.opens][0], schedule.dates[o.closes][1], schedule.dates[bare.closes][1]
                assert all(a <= b for a, b in pairwise(ends))
                seen += 1
    assert seen, "a test of nothing"


def test_the_plan_for_the_least_money_is_dearer_than_no_other(capsys: pytest.CaptureFixture[str]) -> None:
    assert cost_aims.main(["--from", "0", "--count", "1"]) == 0
    assert "1 as wanted, 0 with faults" in capsys.readouterr().out
