"""What a stage makes small: a number of a schedule, the same as an expression in a search, and what none goes below.

A solve and a re-plan both are lists of these goals, pursued one after the other (see `stages`):
staged, or lexicographic, optimisation.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar, Protocol

from ortools.sat.python import cp_model

from scheduler.costs.billing import cents_of
from scheduler.costs.charges import CENTS, Charge, charges
from scheduler.costs.counted import count, visits_and_trips
from scheduler.measures import exposure
from scheduler.network.model import Network
from scheduler.schedule import Schedule
from scheduler.solve.bounds.least_exposure import least_exposure
from scheduler.solve.bounds.least_spent import least_of, least_spent
from scheduler.solve.formulation.nights import PER_FOOT, Nights, exposure_of
from scheduler.solve.formulation.spending import counts_of, spent_on
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
    in_steps: ClassVar[bool]
    """Whether it grows by whole nights, visits or moves, and not by cents or minutes."""

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
    in_steps: ClassVar = True

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
    """What a plan costs but for the days to its finish and its open trench, which are weighed before."""

    name: ClassVar = "money"
    unit: ClassVar = "dollars"
    per_unit: ClassVar = CENTS
    bound_kind: ClassVar = "counted visits and parties"
    in_steps: ClassVar = False

    def least(self, frame: TimeWindows) -> int:
        """Return what visits, comings, days at work and nights must take, each counted alone [cents]."""
        return least_spent(frame, _weighed(frame.network))

    def amount(self, network: Network, schedule: Schedule) -> int:
        """Return the money a schedule takes [cents]."""
        return cents_of(network, schedule, whole=False)

    def express(self, search: Search, nights: Nights) -> Expr:
        """Return the money as an expression."""
        return spent_on(search, nights, _weighed(search.frame.network))


@dataclass(frozen=True, slots=True)
class Cost:
    """Everything in money: the sum of the bill."""

    name: ClassVar = "cost"
    unit: ClassVar = "dollars"
    per_unit: ClassVar = CENTS
    bound_kind: ClassVar = "counted visits and parties"
    in_steps: ClassVar = False

    def least(self, frame: TimeWindows) -> int:
        """Return what all that is charged for must take, each thing counted alone [cents]."""
        return least_spent(frame, charges(frame.network))

    def amount(self, network: Network, schedule: Schedule) -> int:
        """Return the whole cost of a schedule [cents]."""
        return cents_of(network, schedule, whole=True)

    def express(self, search: Search, nights: Nights) -> Expr:
        """Return the whole cost as an expression."""
        return spent_on(search, nights, charges(search.frame.network))


def _weighed(network: Network) -> list[Charge]:
    """Return the charges that the stage of money weighs."""
    return [charge for charge in charges(network) if charge.is_money]


@dataclass(frozen=True, slots=True)
class VisitsAndTrips:
    """How many visits inspectors make, and how often parties come to site."""

    name: ClassVar = "visits and trips"
    unit: ClassVar = "visits and trips"
    per_unit: ClassVar = 1
    bound_kind: ClassVar = "counted visits and parties"
    in_steps: ClassVar = True

    def least(self, frame: TimeWindows) -> int:
        """Return the fewest days of each inspector for all looks, and each party once or as often as it must."""
        return sum(least_of(frame, counted) for counted in visits_and_trips(frame.network))

    def amount(self, network: Network, schedule: Schedule) -> int:
        """Return the visits and trips of a schedule."""
        return sum(count(network, schedule, counted) for counted in visits_and_trips(network))

    def express(self, search: Search, nights: Nights) -> Expr:
        """Return the visits and trips as an expression."""
        return cp_model.LinearExpr.sum([0, *counts_of(search, nights, visits_and_trips(search.frame.network))])


EVERY_GOAL: tuple[Goal, ...] = (Exposure(), Money(), Cost(), VisitsAndTrips())


def express(search: Search, goal: Goal, kept: tuple[tuple[Goal, int], ...] = ()) -> Expr:
    """Return a goal's expression in a search in which other goals keep to their limits."""
    nights = Nights(search)
    for other, limit in kept:
        search.model.add(cp_model.LinearExpr.sum([other.express(search, nights)]) <= limit)
    aim = goal.express(search, nights)
    nights.chain()
    return aim
