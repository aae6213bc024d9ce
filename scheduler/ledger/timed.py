"""Entries with the moment by which they were certainly written, whatever their own clocks said."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta

from scheduler.ledger.ground_events import Rained
from scheduler.ledger.store import Entry

CLOCK_SLACK = timedelta(minutes=5)
"""Clocks of phones and servers differ by a few minutes; more than this is a wrong clock, or a fact still to come."""


@dataclass(frozen=True, slots=True)
class TimedEntry:
    """An entry that counts."""

    entry: Entry
    by_then: datetime
    """By when it was certainly written, whatever its own clock said; like `when` in UTC."""
    contested_by: int | None = None
    """Number of a correction by somebody who may not take it back."""
    when: datetime = field(init=False)
    """When the thing happened; where nothing else is said, when it was written."""
    ahead: bool = field(init=False)
    """Whether it claims to have happened after it was written; it then approves nothing."""

    def __post_init__(self) -> None:
        event = self.entry.event
        by_then = self.by_then.astimezone(UTC)  # moments of one zone are compared several times as fast
        when = event.start if isinstance(event, Rained) else getattr(event, "when", by_then)
        object.__setattr__(self, "by_then", by_then)
        object.__setattr__(self, "when", when.astimezone(UTC))
        object.__setattr__(self, "ahead", self.when - by_then > CLOCK_SLACK)

    @property
    def number(self) -> int:
        """The entry's number."""
        return self.entry.number

    def felt(self, moment: datetime) -> datetime:
        """Return since when something that stands against covering counts: what is dated ahead, from its writing."""
        return self.by_then if self.ahead and self.when > moment else self.when


def ordered(entries: Iterable[Entry], now: datetime | None = None) -> list[TimedEntry]:
    """Return entries in their order, each with the moment by which it must have been written.

    An entry was written before the ones that follow it and before now, whatever the clock beside it claimed.
    """
    out: list[TimedEntry] = []
    by_then = now
    for entry in sorted(entries, key=lambda e: e.number, reverse=True):
        by_then = entry.at if by_then is None else min(entry.at, by_then)
        out.append(TimedEntry(entry, by_then))
    out.reverse()
    return out
