"""Whether a network has a plan at all: a plan that audits clean, a proof that there is none, or neither."""

from __future__ import annotations

import threading
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import IntEnum

from scheduler.audit import keeps
from scheduler.explain.rules import Rule, without
from scheduler.network.dates import Propagation
from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.network.network_check import check_network
from scheduler.network.open_at_once import open_together
from scheduler.schedule import Schedule
from scheduler.solve.bounds.destructive import is_refuted
from scheduler.solve.first_plan.generate import generate
from scheduler.solve.first_plan.partial_schedule import plannable
from scheduler.solve.formulation.constraint_model import build, schedule_of
from scheduler.solve.formulation.engine import Engine
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.outcome import Options, stopped

QUICK_SECONDS = 0.05
LONGER_SECONDS = 0.15
EFFORT = 0.2
"""Of one search, in solver units of about a second of one core."""


@dataclass(frozen=True, slots=True)
class PossiblePlan:
    """A plan that audits clean, or whether it is proved that there is none."""

    schedule: Schedule | None
    impossible: bool

    @property
    def known(self) -> bool:
        """Whether the question is decided."""
        return self.impossible or self.schedule is not None


OPEN = PossiblePlan(None, impossible=False)
"""The answer to a question that is not decided."""


@dataclass(frozen=True, slots=True)
class Change:
    """A changed network with a plan that keeps all its rules; what was changed, and what it costs if known."""

    rule: Rule
    network: Network
    schedule: Schedule
    text: str
    cost: float | None


class Care(IntEnum):
    """How much is done to decide a question."""

    QUICK = 0
    """Counting, and a few quick plans."""
    LONGER = 1
    """More of those plans."""
    SEARCH = 2
    """Then a search within an effort."""


@dataclass
class Ask:
    """Asks of networks whether they have a plan, some rules left out of each; the last plan is tried on the next."""

    left_out: Sequence[Rule]
    care: Care
    stop: threading.Event | None = None
    _last: tuple[Schedule, ...] = ()

    def __call__(self, network: Network) -> PossiblePlan:
        """Return whether a network has a plan without the rules that are left out."""
        answer = possible(without(network, self.left_out), self.care, self._last, stop=self.stop)
        if answer.schedule is not None:
            self._last = (answer.schedule,)
        return answer


def possible(
    network: Network,
    care: Care = Care.SEARCH,
    plans: Iterable[Schedule] = (),
    *,
    bettered: bool = True,
    stop: threading.Event | None = None,
) -> PossiblePlan:
    """Return whether a network has a plan, as far as that can be said with a given care.

    `plans` were made for like questions: one that audits clean here too is the answer. A plan
    that only has to exist need not be `bettered`. Setting `stop` leaves the question open.
    """
    if stopped(stop):
        return OPEN
    last = network.horizon if network.target is None else network.target.at
    if check_network(network) or _too_much(network) or open_together(network):
        return PossiblePlan(None, impossible=True)
    if (known := next((p for p in plans if keeps(network, p)), None)) is not None:
        return PossiblePlan(known, impossible=False)
    propagation = Propagation(plannable(network))
    if is_refuted(propagation, last):
        return PossiblePlan(None, impossible=True)
    seconds = QUICK_SECONDS if care is Care.QUICK else LONGER_SECONDS
    plan = generate(network, budget_seconds=seconds, enough=last, bettered=bettered, stop=stop, propagation=propagation)
    if plan is not None and keeps(network, plan):
        return PossiblePlan(plan, impossible=False)
    return _searched(network, stop) if care is Care.SEARCH and not stopped(stop) else OPEN


def _too_much(network: Network) -> bool:
    """Return whether one piece of work needs more at once than there is, or one look more than a visit sees."""
    normal = lower(network)
    return any(use.units > c.units for c in normal.capacities for use in c.uses) or any(
        g.most_ft is not None and feet > g.most_ft for g in normal.look_groups for feet in g.ft.values()
    )


def _searched(network: Network, stop: threading.Event | None) -> PossiblePlan:
    frame = TimeWindows(network)
    if not frame.narrow():
        return PossiblePlan(None, impossible=True)
    found = Engine(Options(), None, stop).run(build(frame, PrecedenceOrder(network)), effort=EFFORT)
    if found.starts is None:
        return PossiblePlan(None, impossible=found.impossible)
    schedule = schedule_of(frame, found.starts)
    return PossiblePlan(schedule if keeps(network, schedule) else None, impossible=False)
