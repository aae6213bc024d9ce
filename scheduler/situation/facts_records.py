"""What the journal says of each activity at a moment, as records: done, begun, failed, to be done again."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol

from scheduler.ledger.holds import HoldPoint
from scheduler.ledger.state import State
from scheduler.network.model import Activity, Network
from scheduler.site.site_record import Site

JOURNAL = "journal"
"""The source of what the journal says."""
START_AFTER = "its start on record"
"""How a note begins on work whose start lies after its finish."""


@dataclass(frozen=True, slots=True)
class DoneWork:
    """When something was done, and how that is known."""

    start: datetime
    finish: datetime
    because: str
    assumed: bool = False
    """Nobody reported it; what came after it shows it."""


@dataclass(frozen=True, slots=True)
class Begun:
    """Work in progress."""

    start: datetime
    remaining: int
    """Ticks of its calendar left from now on, at least one."""


class Failure(Protocol):
    """What the journal says of something that failed."""

    @property
    def when(self) -> datetime:
        """When it failed."""

    @property
    def faults(self) -> str:
        """What was wrong."""

    @property
    def repair_hours(self) -> float:
        """Working hours to mend it; 0: nothing to mend, or nobody said."""


@dataclass(frozen=True, slots=True)
class Failed:
    """A look that was turned down, or a test that did not hold, and has not passed since."""

    activity: str
    times: int
    last: Failure


@dataclass
class JobFacts:
    """Everything that the journal says about the work at a moment."""

    site: Site
    network: Network
    state: State
    as_of: datetime
    done: dict[str, DoneWork] = field(default_factory=dict)
    begun: dict[str, Begun] = field(default_factory=dict)
    left: dict[str, int] = field(default_factory=dict)
    """Ticks of work left on what has not begun, where somebody reported that."""
    failed: dict[str, Failed] = field(default_factory=dict)
    again: dict[str, str] = field(default_factory=dict)
    """Looks and tests to be made once more, and the sentence that says why."""
    tested_again: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """By what failed: the tests still to be made again once it is mended, before it is looked at again."""
    looked_again: dict[str, tuple[str, ...]] = field(default_factory=dict)
    """By a test that failed, or was made before something was mended: the looks to be made once it was made again."""
    unreleased: dict[str, HoldPoint] = field(default_factory=dict)
    """Passed holds that their authority has yet to release, by id."""
    notes: list[str] = field(default_factory=list)

    @property
    def taken_as_done(self) -> tuple[str, ...]:
        """Activities that nobody reported, taken as done because what follows has begun; never a test or a look."""
        return tuple(a for a, d in self.done.items() if d.assumed)

    @property
    def now(self) -> int:
        """The first tick at which anything new can start."""
        return self.network.clock.tick(self.as_of, up=True)


def repair_id(look: str, times: int) -> str:
    """Return the id of the repair after a look has failed for the n-th time; only re-plans have it."""
    return f"repair/{look.removeprefix('look/')}/{times}"


def rain_look_id(reach: str) -> str:
    """Return the id of the look at the open trench of a reach after rain; only re-plans have it."""
    return f"rain/{reach}"


def remaining_ticks(facts: JobFacts, activity: Activity, start: datetime) -> int:
    """Return the ticks left on begun work: as last estimated, else as planned, less what was worked since.

    The tick in hand counts as worked, as the rest is planned from its end.
    """
    clock, known = facts.network.clock, facts.state.actual(activity.id)
    calendar, since, whole = facts.network.calendars[activity.calendar], start, activity.work
    if known.remaining_hours is not None and known.remaining_at is not None and known.remaining_at <= facts.as_of:
        since, whole = max(start, known.remaining_at), clock.ticks(hours=known.remaining_hours)
    return max(1, whole - calendar.open_ticks(clock.tick(since), facts.now))
