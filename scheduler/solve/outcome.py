"""What a solve is asked for, what it reports on the way, and what it returns."""

from __future__ import annotations

import threading
from dataclasses import dataclass
from enum import StrEnum
from typing import Literal

from scheduler.schedule import Schedule

FINISH = "finish"
"""What the first stage is called."""
GIVEN_UP = "proved best, and given up for the aims after it"
"""The kind of a bound that a plan could reach and does not, since more of another aim was allowed to cost it."""


class Status(StrEnum):
    """How a solve ended, as regards the finish of the plan it returns."""

    OPTIMAL = "optimal"
    FEASIBLE = "feasible"
    INFEASIBLE = "infeasible"
    UNKNOWN = "unknown"
    STOPPED = "stopped"


@dataclass(frozen=True, slots=True)
class Options:
    """How to search. Efforts are counted work, roughly seconds of one idle core.

    Only efforts bind in a reproducible solve, so that a fast and a slow machine return the
    same plan; `wall_seconds` is a safety net far above. Without that, efforts are wall seconds.
    """

    workers: int = 2
    seed: int = 1
    objective: Literal["staged", "cost"] = "staged"
    only_finish: bool = False
    slack_days: float = 0.0
    """Days by which the finish may pass its best, for the sake of the later stages."""
    reproducible: bool = True
    start_effort: float = 1.0
    """For the first plan, made without the solver; a long job gets more by its length."""
    finish_effort: float = 8.0
    exposure_effort: float = 8.0
    bound_share: float = 1.5
    """Effort for what is proved of the open trench of a long job, as a share of that for the trench itself."""
    money_effort: float = 2.0
    steady_effort: float = 4.0
    """For fewer moves between stretches at no cost in what is weighed before."""
    conflict_effort: float = 2.0
    """For the rules that cannot all hold, of a network without a plan; 0: they are not asked for."""
    wall_seconds: float = 600.0
    free_margin: int = 10
    """Contingency [%] that own work of a job gets where the finish stands with it and its site file asks for none;
    else half of it. 0, or all weighed in money: none. 10 % is common practice."""


@dataclass(frozen=True, slots=True)
class StageReport:
    """One objective: what was reached and what is proved about it."""

    name: str
    value: float
    bound: float
    bound_kind: str
    unit: str
    proved: bool
    seconds: float

    @property
    def gap(self) -> float:
        """How far the value may be from the best possible, as a share of the value."""
        return 0.0 if self.proved or self.value == 0 else max(0.0, (self.value - self.bound) / abs(self.value))


@dataclass(frozen=True, slots=True)
class Progress:
    """A moment of a running solve: the best value of the stage in hand and its bound."""

    seconds: float
    stage: str
    value: float | None
    bound: float | None
    note: str = ""


@dataclass(frozen=True, slots=True)
class SolvedPoint:
    """What an allowance of time past the best finish buys in exposure."""

    slack_days: float
    finish: int
    exposure: float
    bound: float
    proved: bool


@dataclass(frozen=True, slots=True)
class Outcome:
    """The result of a solve. `conflict` names rules that cannot all hold, as (ref, because)."""

    status: Status
    schedule: Schedule | None
    stages: tuple[StageReport, ...] = ()
    seconds: float = 0.0
    finish_bound: int | None = None
    conflict: tuple[tuple[str, str], ...] = ()


def stopped(stop: threading.Event | None) -> bool:
    """Return whether somebody who may stop the work has done so."""
    return stop is not None and stop.is_set()
