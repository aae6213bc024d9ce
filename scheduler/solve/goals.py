"""What a stage makes small: a number of a schedule, the same as an expression in a search, and what none goes below.

A solve and a re-plan both are lists of these goals, pursued one after the other (see `stages`):
staged, or lexicographic, optimisation.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Protocol

from ortools.sat.python import cp_model

from scheduler.measures import comings, exposure, midnights, money
from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.schedule import Schedule
from scheduler.solve.bounds.least_exposure import least_exposure, least_nights_times
from scheduler.solve.formulation.constraint_model import add_finish
from scheduler.solve.formulation.nights import PER_FOOT, Nights, exposure_of, night_ticks
from scheduler.solve.formulation.spending import CENTS, comings_of, in_cents, money_of
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.formulation.variables import Expr, Search


class Goal(Protocol):
    """Something to make small."""

    name: ClassVar[str]
    """What people call it."""
    unit: ClassVar[str]
    """What it is counted in."""
    per_unit: ClassVar[int]
    """Whole numbers of the search in one unit."""
    bound_kind: ClassVar[str]
    """What proves `least`, in plain words."""

    def least(self, frame: TimeWindows) -> int:
        """Return what no plan of a frame goes below [units times `per_unit`]."""
        ...

    def amount(self, network: Network, schedule: Schedule) -> int:
        """Return what a schedule amounts to [units times `per_unit`]."""
        ...

    def express(self, search: Search, nights: Nights) -> Expr:
        """Return the same amount as an expression, adding what it needs to the search."""
        ...


@dataclass(frozen=True, slots=True)
class Exposure:
    """Feet of trench left open, summed over the nights."""

    name: ClassVar = "exposure"
    unit: ClassVar = "ft nights"
    per_unit: ClassVar = PER_FOOT
    bound_kind: ClassVar = "each reach alone"

    def least(self, frame: TimeWindows) -> int:
        """Return what each stretch alone must stand open [tenths of ft nights]."""
        return least_exposure(frame)

    def amount(self, network: Network, schedule: Schedule) -> int:
        """Return the exposure of a schedule [tenths of ft nights]."""
        return round(PER_FOOT * exposure(network, schedule.dates))

    def express(self, search: Search, nights: Nights) -> Expr:
        """Return the exposure as an expression."""
        return exposure_of(search, nights)


@dataclass(frozen=True, slots=True)
class Money:
    """What visits, mobilisations, moved bookings, ticket renewals, and plates and fences over nights cost."""

    name: ClassVar = "money"
    unit: ClassVar = "dollars"
    per_unit: ClassVar = CENTS
    bound_kind: ClassVar = "counted visits and parties"

    def least(self, frame: TimeWindows) -> int:
        """Return what one visit for every few looks, each party once, and plates over nights must take [cents]."""
        network = frame.network
        visits = sum(
            round(CENTS * group.price) * (1 if group.most_looks is None else -(-len(group.looks) // group.most_looks))
            for group in lower(network).look_groups
            if group.looks
        )
        nights = least_nights_times(frame, in_cents(network))
        return visits + nights + sum(round(CENTS * party.cost) for party in network.mobilisations if party.activities)

    def amount(self, network: Network, schedule: Schedule) -> int:
        """Return the money a schedule takes [cents]."""
        return round(CENTS * money(network, schedule))

    def express(self, search: Search, nights: Nights) -> Expr:
        """Return the money as an expression."""
        return money_of(search, nights)


@dataclass(frozen=True, slots=True)
class Cost:
    """Everything in money: overhead for each day until the finish, open trench, and the rest."""

    name: ClassVar = "cost"
    unit: ClassVar = "dollars"
    per_unit: ClassVar = CENTS
    bound_kind: ClassVar = "counted visits and parties"

    def least(self, frame: TimeWindows) -> int:
        """Return the least that visits and parties cost: the rest is not bounded by counting [cents]."""
        return Money().least(frame)

    def amount(self, network: Network, schedule: Schedule) -> int:
        """Return the whole cost of a schedule [cents]."""
        days = 1 + sum(m < schedule.finish for m in midnights(network.clock, network.data_date, network.horizon))
        overhead = round(CENTS * network.rates.overhead_per_day) * days
        return (
            overhead
            + self._per_tenth(network) * Exposure().amount(network, schedule)
            + Money().amount(network, schedule)
        )

    def express(self, search: Search, nights: Nights) -> Expr:
        """Return the whole cost as an expression."""
        network = search.frame.network
        least = max(int(s.ends[0]) for s in search.frame.spans.values())
        most = max(int(s.ends[-1]) for s in search.frame.spans.values())
        finish = add_finish(search, least, most)
        overhead = round(CENTS * network.rates.overhead_per_day)
        terms: list[Expr] = [overhead]
        for tick, count in zip(*(x.tolist() for x in night_ticks(search.frame)), strict=True):
            if tick < least:
                terms.append(overhead * count)
            elif tick < most:
                late = search.model.new_bool_var(f"finish after {tick}")
                search.model.add(finish <= tick).only_enforce_if(late.negated())
                terms.append(overhead * count * late)
        exposed = self._per_tenth(network) * exposure_of(search, nights)
        return cp_model.LinearExpr.sum([*terms, exposed, money_of(search, nights)])

    @staticmethod
    def _per_tenth(network: Network) -> int:
        return round(CENTS * network.rates.exposure_per_ft_night / PER_FOOT)


@dataclass(frozen=True, slots=True)
class VisitsAndTrips:
    """How many visits inspectors make, and how often parties come to site."""

    name: ClassVar = "visits and trips"
    unit: ClassVar = "visits and trips"
    per_unit: ClassVar = 1
    bound_kind: ClassVar = "counted visits and parties"

    def least(self, frame: TimeWindows) -> int:
        """Return one visit for every few looks, and each party once."""
        groups = (g for g in lower(frame.network).look_groups if g.looks)
        visits = sum(1 if g.most_looks is None else -(-len(g.looks) // g.most_looks) for g in groups)
        return visits + sum(1 for party in frame.network.mobilisations if party.activities)

    def amount(self, network: Network, schedule: Schedule) -> int:
        """Return the visits and trips of a schedule."""
        return comings(network, schedule)

    def express(self, search: Search, nights: Nights) -> Expr:
        """Return the visits and trips as an expression."""
        return comings_of(search, nights)


EVERY_GOAL: tuple[Goal, ...] = (Exposure(), Money(), Cost(), VisitsAndTrips())


def express(search: Search, goal: Goal, kept: tuple[tuple[Goal, int], ...] = ()) -> Expr:
    """Return a goal's expression in a search in which other goals keep to their limits."""
    nights = Nights(search)
    for other, limit in kept:
        search.model.add(cp_model.LinearExpr.sum([other.express(search, nights)]) <= limit)
    aim = goal.express(search, nights)
    nights.chain()
    return aim
