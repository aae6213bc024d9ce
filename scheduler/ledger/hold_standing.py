"""How a hold point can stand, and what is judged for it: one piece of one line, and a look at that."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from scheduler.ledger.event_fields import Seen
from scheduler.ledger.events import InspectionFailed, InspectionPassed, InspectionPassedWithConditions
from scheduler.ledger.evidence import Look
from scheduler.ledger.seen import LinePart
from scheduler.ledger.timed import TimedEntry
from scheduler.network.model import Activity, Hold
from scheduler.site.people import Inspection


class HoldStatus(StrEnum):
    """How a hold point stands, the gravest first."""

    FAILED = "failed"
    UNDONE = "worked on or dug open since it was looked at"
    WAITING = "not looked at yet"
    LAPSED = "released, but that has lapsed"
    PASSED = "passed, not released"
    DOUBTFUL = "released, but to be asked again"
    UNATTENDED = "notice given, the witness did not come"
    RELEASED = "released"


GRAVEST_FIRST = tuple(HoldStatus)
CLEAR = (HoldStatus.RELEASED, HoldStatus.UNATTENDED)
"""Work may go on. A witness point does not stop work once its appointed time has passed (common practice)."""
SEEN = (HoldStatus.RELEASED, HoldStatus.PASSED)
"""The work was looked at and found good, and nothing happened since."""


@dataclass(frozen=True, slots=True)
class Stand:
    """How a hold point stands over one piece, and why."""

    status: HoldStatus
    because: str = ""
    since: datetime | None = None
    look: TimedEntry | None = None
    release: TimedEntry | None = None
    good_until: datetime | None = None

    @property
    def rank(self) -> int:
        """Its place among statuses, the gravest 0."""
        return GRAVEST_FIRST.index(self.status)


@dataclass(frozen=True, slots=True)
class HeldPlace:
    """One hold over one piece of one line."""

    hold: Hold
    part: LinePart
    inspection: Inspection
    gates: tuple[Activity, ...]


@dataclass(frozen=True, slots=True)
class Sight:
    """A look that passed, as it was recorded; `seen` is None where it is older than that field."""

    noted: TimedEntry
    seen: Seen | None

    @property
    def when(self) -> datetime:
        """When it was made."""
        return self.noted.when

    @property
    def event(self) -> Look:
        """What was recorded of it."""
        event = self.noted.entry.event
        assert isinstance(event, InspectionPassed | InspectionPassedWithConditions | InspectionFailed)
        return event
