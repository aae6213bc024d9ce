"""How a hold point can stand, and what is judged for it: one piece of one line, and a look at that."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from scheduler.ledger.event_fields import Seen
from scheduler.ledger.events import HoldReleased, InspectionFailed, InspectionPassed, InspectionPassedWithConditions
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


@dataclass(frozen=True, slots=True)
class Sights:
    """The looks at one piece."""

    passes: list[Sight]
    """Those that passed and were not dated ahead, by when they were made."""
    moments: list[datetime]
    """When each of them was made."""
    ahead: list[TimedEntry]
    """Passes that were dated ahead."""
    failures: list[TimedEntry]

    @classmethod
    def of(cls, looks: Iterable[Sight]) -> Sights:
        """Sort looks."""
        failures, ahead, passes = [], [], []
        for sight in looks:
            if isinstance(sight.event, InspectionFailed):
                failures.append(sight.noted)
            elif sight.noted.ahead:
                ahead.append(sight.noted)
            else:
                passes.append(sight)
        passes.sort(key=lambda k: (k.when, k.noted.number))
        return cls(passes, [k.when for k in passes], ahead, failures)

    def passes_by(self, moment: datetime) -> Iterator[Sight]:
        """Give the passes made by a moment, the latest first."""
        return reversed(self.passes[: bisect_right(self.moments, moment)])


@dataclass(frozen=True, slots=True)
class Given:
    """The releases of one piece by those who may: those preferred come last."""

    whole: list[TimedEntry]
    by_look: dict[int, list[TimedEntry]]
    """By the number of each look that they rest on; 0: those that name none."""

    @classmethod
    def of(cls, releases: Iterable[TimedEntry]) -> Given:
        """Sort releases."""
        whole, by_look = sorted(releases, key=_preferred), dict[int, list[TimedEntry]]()
        for noted in whole:
            for number in _released(noted).rests_on or (0,):
                by_look.setdefault(number, []).append(noted)
        return cls(whole, by_look)

    def resting_on(self, look: TimedEntry) -> list[TimedEntry]:
        """Return those that were given on the strength of a look, or of any, and not before it."""
        found = [*self.by_look.get(look.number, ()), *self.by_look.get(0, ())]
        return sorted((n for n in found if n.when >= look.when), key=_preferred)


def _released(noted: TimedEntry) -> HoldReleased:
    event = noted.entry.event
    assert isinstance(event, HoldReleased)
    return event


def _preferred(noted: TimedEntry) -> tuple[bool, bool, datetime, int]:
    """Order releases: the uncontested after others, those with what was seen after older ones, then by time."""
    return noted.contested_by is None, bool(_released(noted).seen), noted.when, noted.number
