"""The plan to work by, joined to the job that it was made for."""

from __future__ import annotations

from dataclasses import dataclass

from scheduler.network.model import Network
from scheduler.plan import Plan
from scheduler.schedule import Schedule


@dataclass(frozen=True)
class PlanInForce:
    """A plan with dates, and what it was made from."""

    plan: Plan
    network: Network
    """The network that it keeps: of an accepted plan, the job as it stood then."""
    schedule: Schedule | None
    """Its dates in ticks; None where it has none."""
    accepted: bool = False
    """Whether somebody accepted it; else it is the plan made at the start."""
    proposal: bool = False
    """Nobody put any plan in force yet: it is shown, but nothing is late against it."""
