"""The last days of a plan searched anew."""

from __future__ import annotations

import pytest

from scheduler.audit import audit
from scheduler.network.model import Network
from scheduler.schedule import Schedule
from scheduler.solve.formulation.constraint_model import schedule_of, starts_of
from scheduler.solve.formulation.engine import Engine
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.improvement.last_days import DAYS, better_end
from scheduler.solve.outcome import Options
from scheduler.solve.run import solve
from tests.networks import trench_network


def put_off(network: Network, plan: Schedule, frame: TimeWindows) -> dict[str, int]:
    """Return a plan's starts with its very last activity some working hours later."""
    starts = starts_of(frame, plan)
    last = max(plan.dates, key=lambda a: (plan.dates[a][1], a))
    spans = frame.spans[last]
    starts[last] = int(spans.starts[spans.starts.searchsorted(starts[last]) + 8])
    assert audit(network, schedule_of(frame, starts)) == []
    return starts


def ended(network: Network, starts: dict[str, int], least: int) -> tuple[dict[str, int], int]:
    frame = TimeWindows(network)
    value = frame.axis.last_end(schedule_of(frame, starts).finish)
    return better_end(Engine(Options()), frame, PrecedenceOrder(network), starts, value=value, least=least, effort=1.0)


@pytest.fixture(scope="module")
def network() -> Network:
    return trench_network(8)


@pytest.fixture(scope="module")
def plan(network: Network) -> Schedule:
    found = solve(network, Options(only_finish=True)).schedule
    assert found is not None
    assert audit(network, found) == []
    return found


def test_work_left_late_at_the_end_is_brought_forward(network: Network, plan: Schedule):
    frame = TimeWindows(network)
    late = put_off(network, plan, frame)
    best = frame.axis.last_end(plan.finish)
    starts, value = ended(network, late, least=best)
    found = schedule_of(frame, starts)
    assert value == best == frame.axis.last_end(found.finish)
    assert audit(network, found) == []
    held = [a for a, (_, end) in plan.dates.items() if end <= found.finish - network.clock.ticks(days=max(DAYS) + 2)]
    assert held
    assert all(starts[a] == late[a] for a in held), "work done long before stays where it is"


def test_a_plan_at_its_bound_is_left_alone(network: Network, plan: Schedule):
    frame = TimeWindows(network)
    starts, value = starts_of(frame, plan), frame.axis.last_end(plan.finish)
    assert ended(network, starts, least=value) == (starts, value)
