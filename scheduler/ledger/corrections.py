"""Which entries were taken back, and by whom that may be done."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from scheduler.ledger.day_events import LineStruck, TrenchInspected
from scheduler.ledger.events import (
    Corrected,
    HoldReleased,
    InspectionFailed,
    InspectionPassed,
    InspectionPassedWithConditions,
    PassStands,
    Refused,
)
from scheduler.ledger.ground_events import StopWork, StopWorkLifted
from scheduler.ledger.store import Entry

OF_AUTHORITY = (
    InspectionPassed,
    InspectionPassedWithConditions,
    InspectionFailed,
    PassStands,
    HoldReleased,
    StopWork,
    StopWorkLifted,
    TrenchInspected,
    LineStruck,
    Refused,
)
"""What an authority or the competent person said or ordered, what stopped work, or what was refused: only whoever
wrote it down takes it back."""


def superseded(entries: Iterable[Entry]) -> frozenset[int]:
    """Return the numbers of entries that a correction still in force has taken back.

    A correction can itself be corrected; what it took back then counts again. Corrections by somebody who may
    not take the entry back change nothing.
    """
    return frozenset(_corrections(entries)[0])


def contested_by(entries: Iterable[Entry]) -> dict[int, int]:
    """Return entries that somebody took back who may not, with the number of that correction."""
    return _corrections(entries)[1]


def _corrections(entries: Iterable[Entry]) -> tuple[set[int], dict[int, int]]:
    rows = {e.number: e for e in entries}
    gone: set[int] = set()
    contested: dict[int, int] = {}
    for number in sorted(rows, reverse=True):
        entry = rows[number]
        if isinstance(entry.event, Corrected) and number not in gone and entry.event.supersedes < number:
            wrong = rows.get(entry.event.supersedes)
            if wrong is None or may_correct(wrong, rows, entry.by, contractor=entry.event.right == "contractor"):
                gone.add(entry.event.supersedes)
            else:
                contested[wrong.number] = number
    return gone, contested


def may_correct(wrong: Entry, rows: Mapping[int, Entry], by: str, *, contractor: bool) -> bool:
    """Tell whether somebody may take an entry back: whoever wrote it, or the contractor.

    What an authority said, or ordered, is never the contractor's to take back; nor a correction of it.
    """
    if wrong.by.strip().casefold() == by.strip().casefold():
        return True
    about: Entry | None = wrong
    while about is not None and isinstance(about.event, Corrected):
        about = rows.get(about.event.supersedes) if about.event.supersedes < about.number else None
    return contractor and about is not None and not isinstance(about.event, OF_AUTHORITY)
