"""Plans put piece by piece: a pass can be taken back, and no party is kept waiting for nothing."""

from __future__ import annotations

from random import Random

import pytest

from scheduler.audit import audit
from scheduler.network.dates import Propagation
from scheduler.network.model import Network, Resource
from scheduler.solve.first_plan.calendar_fit import CalendarFit
from scheduler.solve.first_plan.partial_schedule import PartialSchedule, plannable
from scheduler.solve.first_plan.priority import PriorityOrder, PriorityRules
from scheduler.solve.first_plan.rolling_horizon import RollingHorizon
from scheduler.solve.first_plan.serial_generation import SerialGeneration
from scheduler.solve.formulation.dated import dated
from tests.jobs import CREW, at, hours, job, task
from tests.networks import BOTTLENECKS, trench_network

LANE = hours("lane", (0, 1, 2, 3, 4), (10, 12))


class Begun:
    """A pass over a network that nothing has been taken in hand of."""

    def __init__(self, network: Network) -> None:
        self.job = plannable(network)
        propagation = Propagation(self.job)
        forward, latest = propagation.forward(), propagation.backward(self.job.horizon)
        assert forward is not None
        assert latest is not None
        self.fits = CalendarFit(self.job)
        self.orders = PriorityRules(self.job, propagation, self.fits, forward, latest)
        self.order: PriorityOrder = self.orders.by_rules()[0]
        self.partial = PartialSchedule(self.job, propagation, self.fits)
        self.made = SerialGeneration(self.job, self.partial, self.orders, self.order, self.orders.needed())


def test_a_pass_taken_back_goes_on_as_if_nothing_had_been():
    straight, begun = Begun(trench_network(6)), Begun(trench_network(6))
    straight.made.run()
    begun.made.run(15)
    mark, spans, taken = begun.made.mark(), dict(begun.partial.spans), list(begun.made.taken)
    begun.made.go_on(PriorityOrder({a: (float(-i), i) for i, a in enumerate(begun.order.keys)}))
    begun.made.run(20)
    assert begun.partial.spans != spans
    begun.made.back(mark)
    assert (begun.partial.spans, begun.made.taken) == (spans, taken)
    begun.made.run()
    assert begun.made.complete
    assert begun.partial.spans == straight.partial.spans


def test_only_what_is_named_is_taken_in_hand():
    begun = Begun(trench_network(6))
    begun.made.run(10)
    before = list(begun.made.taken)
    twin = Begun(trench_network(6))
    twin.made.run(30)
    part = frozenset(twin.made.taken[10:])
    begun.made.go_on(begun.order, part)
    begun.made.run(len(part))
    assert set(begun.made.taken) == set(before) | part
    begun.made.go_on(begun.order)
    begun.made.run()
    assert begun.made.complete


def whole_starts(network: Network) -> dict[str, int]:
    """Return the starts at which one pass over a network puts everything."""
    begun = Begun(network)
    begun.made.run()
    assert begun.made.complete
    return {a: start for a, (start, _) in begun.partial.spans.items()}


@pytest.mark.parametrize("bottleneck", BOTTLENECKS)
def test_a_plan_put_piece_by_piece_keeps_every_rule(bottleneck: str):
    network = trench_network(12, bottleneck=bottleneck)
    starts = whole_starts(network)
    begun = Begun(network)
    pieces = RollingHorizon(begun.job, begun.orders.busiest(), begun.fits, Random(0))
    puts = pieces.complete(begun.made, begun.orders.following(starts), 20, starts, 10_000)
    assert begun.made.complete
    assert puts > len(network.activities), "some piece was tried in more orders than one"
    assert [str(f) for f in audit(network, dated(network, begun.partial.spans))] == []


def test_when_enough_has_been_put_no_more_orders_are_tried():
    network = trench_network(12, bottleneck=BOTTLENECKS[0])
    starts = whole_starts(network)
    begun = Begun(network)
    pieces = RollingHorizon(begun.job, begun.orders.busiest(), begun.fits, Random(0))
    puts = pieces.complete(begun.made, begun.orders.following(starts), 20, starts, 0)
    assert begun.made.complete
    assert puts == len(network.activities)


def test_what_is_not_to_come_sooner_stands_where_it_stood():
    network = trench_network(6)
    starts = whole_starts(network)
    begun = Begun(network)
    begun.made.go_on(begun.orders.following(starts))
    later = {a: start + network.clock.ticks(days=7) for a, start in starts.items()}
    begun.made.not_before = later
    begun.made.run()
    assert begun.made.complete
    assert all(begun.partial.spans[a][0] >= start for a, start in later.items())


@pytest.mark.parametrize(
    ("from_hour", "start"),
    [
        (10, at(0, 10)),  # there is room before the lane opens to traffic again
        (11, at(1, 10)),  # an hour later than if begun at once, and the crew is not kept for the six between
    ],
)
def test_nobody_begins_a_short_bit_before_long_closed_hours(from_hour: float, start: int):
    crew = (("crew", 1),)
    network = job(
        task("in the lane", 2, "lane", needs=crew),
        task("elsewhere", 4, needs=crew),
        calendars={c.id: c for c in (CREW, LANE)},
        resources=(Resource("crew", "crew"),),
    )
    partial = Begun(network).partial
    assert partial.earliest("in the lane", at(0, from_hour)) == at(0, from_hour)
    partial.thrifty = True
    assert partial.earliest("in the lane", at(0, from_hour)) == start
