"""Reading the record of a job for pages: in full when it may have changed, else as it was read last.

A page never shows less than it has shown: what this session has seen on record must still be there.
"""

from __future__ import annotations

import os
import time
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path

import streamlit as st

from app.lately import Lately
from scheduler import BadInput, Finding, Severity
from scheduler.ledger import Archived, Entry, Head, Journal, JournalPlace, archived, head_of

SEEN = "record seen"
"""Where a session keeps the last entry it has seen, by the record."""
READ_AGAIN_S = 60.0
"""After which a journal is read in full all the same."""
SETTLED_S = 1.0
"""A file changed less than this ago may change once more without a new time or size [s]."""
KEPT = 32
Marks = tuple[tuple[int, ...], ...]
"""Inode, size and times of change of a journal's file and of the one with what waits to go into it."""


@dataclass(frozen=True)
class _Read:
    entries: tuple[Entry, ...]
    archived: Archived | None
    marks: Marks | None
    at: float


_last: dict[str, _Read] = {}
_lately = Lately(time.monotonic)
"""What was read from databases, which do not show without being asked whether they changed."""


def forgetting_when_written(place: JournalPlace) -> JournalPlace:
    """Return a place after whose writes nothing that was read before is used again."""

    def set_up(journal: Journal) -> None:
        place.set_up(journal)
        noted = journal.noted

        def note(entry: Entry) -> None:
            _lately.forget()
            noted(entry)

        journal.noted = note

    return replace(place, set_up=set_up)


def read(place: JournalPlace) -> tuple[Entry, ...]:
    """Return all entries of a record; raises BadInput or OSError when it cannot be read, or lost what was seen."""
    entries = _read(place).entries if place.made else ()
    seen: dict[str, tuple[Entry, Head]] = st.session_state.setdefault(SEEN, {})
    if place.record in seen:
        entry, head = seen[place.record]
        if entry not in entries[entry.number - 1 : entry.number]:
            words = f"is gone or another: it no longer holds entry {head}, which this page has shown"
            remedy = "Bring the journal back, or find out who changed it; then load the page again."
            raise BadInput([Finding("journal/missing", Severity.STOP, "The journal", f"{words}. {remedy}")])
    last = head_of(entries)
    if last is not None:
        seen[place.record] = entries[-1], last
    return entries


def read_archived(place: JournalPlace, *, at_once: bool = False) -> Archived | None:
    """Return since when the job of a record is archived; None while it is not. Raises as `read`.

    `at_once`: whatever was read a moment ago.
    """
    if at_once:
        _lately.forget()
    return _read(place).archived if place.made else None


def _read(place: JournalPlace) -> _Read:
    """Return a record from the last reading where nothing can have changed since, or a database was read just now."""
    before, marks, now = _last.get(place.record), marks_of(place.where), time.monotonic()
    fresh = before is not None and now - before.at < READ_AGAIN_S
    if before is not None and fresh and marks is not None and before.marks == marks:
        return before

    def again() -> _Read:
        with closing(place.open()) as journal:
            entries = journal.entries(held=before.entries if before is not None and fresh else ())
            found = _Read(entries, archived(journal), marks, before.at if before is not None and fresh else now)
        _last.pop(place.record, None)
        _last[place.record] = found
        while len(_last) > KEPT:
            _last.pop(next(iter(_last)), None)
        return found

    return _lately.ask(place.record, again) if "://" in place.where else again()


def marks_of(where: str) -> Marks | None:
    """Return what tells a journal's content from a later one; None where that cannot be told without opening it."""
    if "://" in where:
        return None
    found = (_stat(Path(where)), _stat(Path(f"{where}-wal")))
    files = [f for f in found if f is not None and f.st_size]  # an empty one is made by whoever reads
    if not files or time.time() - max(f.st_ctime for f in files) < SETTLED_S:
        return None
    return tuple((f.st_ino, f.st_size, f.st_mtime_ns, f.st_ctime_ns) for f in files)


def _stat(path: Path) -> os.stat_result | None:
    try:
        return path.stat()
    except FileNotFoundError:
        return None
