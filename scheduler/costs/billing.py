"""The bill of a plan, line by line, and its sum in whole cents."""

from __future__ import annotations

from dataclasses import dataclass

from scheduler.costs.charges import CENTS, Charge, charges
from scheduler.costs.counted import count
from scheduler.network.model import Network
from scheduler.schedule import Schedule
from scheduler.spoken import amount as said
from scheduler.units import told_measure


@dataclass(frozen=True, slots=True)
class BillLine:
    """One line of a bill."""

    id: str
    words: str
    quantity: float
    unit: str
    rate: float
    """Dollars for one of the unit."""
    amount: float
    """Dollars."""
    where: str
    """The place of the rate in the site file, such as `trades, plumber: day_rate`."""
    is_money: bool = True
    """Whether the stage of money weighs it; the finish and the open trench have stages of their own."""


@dataclass(frozen=True, slots=True)
class Bill:
    """What a plan costs [dollars]."""

    lines: tuple[BillLine, ...]
    """Whatever is charged for and occurs, in the order of the site file's parts."""
    left_out: tuple[str, ...]
    """What occurs but has no rate in the site file: a sentence for each."""

    @property
    def total(self) -> float:
        """The sum of all lines [dollars]."""
        return sum(round(CENTS * line.amount) for line in self.lines) / CENTS


def bill(network: Network, schedule: Schedule) -> Bill:
    """Return what a schedule costs, line by line.

    Of a job under way it holds what is still to come: work that is done, looks that were made and stretches that are
    covered cost nothing more.
    """
    lines, left_out = [], []
    for charge in charges(network):
        counted = count(network, schedule, charge.counted)
        if not counted:
            continue
        quantity = counted / charge.per
        if charge.rate is None:
            left_out.append(no_rate(charge.words, quantity, charge.unit, charge.where))
        elif charge.rate > 0:
            amount = _cents(network, schedule, charge) / CENTS
            lines.append(
                BillLine(
                    charge.id, charge.words, quantity, charge.unit, charge.rate, amount, charge.where, charge.is_money
                )
            )
    return Bill(tuple(lines), tuple(left_out))


def no_rate(words: str, quantity: float, unit: str, where: str) -> str:
    """Return the sentence for what occurs and has no rate: what, how many of a unit, and where the rate would stand."""
    told, unit = told_measure(quantity, unit)
    return f"{words}, {said(told)} {unit}{'s' * (told != 1)}: no rate given ({where}); left out of the sum."


def money(network: Network, schedule: Schedule) -> float:
    """Return the sum of what the stage of money weighs [dollars]: all but overhead, damages and open trench."""
    return cents_of(network, schedule, whole=False) / CENTS


def cents_of(network: Network, schedule: Schedule, *, whole: bool) -> int:
    """Return the sum of all charges of a schedule, or only of those that the stage of money weighs [cents]."""
    return sum(_cents(network, schedule, c) for c in charges(network) if c.costs and (whole or c.is_money))


def _cents(network: Network, schedule: Schedule, charge: Charge) -> int:
    cents, counted = charge.priced
    return cents * count(network, schedule, counted)
