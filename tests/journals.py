"""Journals for tests: a file, or real PostgreSQL when JOINTTRENCH_TEST_POSTGRES names a database."""

from __future__ import annotations

import os
import sqlite3
import uuid
from datetime import UTC, datetime, timedelta
from pathlib import Path

from scheduler.ledger.events import Started
from scheduler.ledger.store import Journal

POSTGRES = os.environ.get("JOINTTRENCH_TEST_POSTGRES", "")
START = datetime(2027, 3, 8, 7, tzinfo=UTC)


def new_journal(kind: str, folder: Path) -> Journal:
    """Return an empty journal on 'sqlite' or 'postgresql'."""
    if kind == "postgresql":
        return Journal.open(POSTGRES, site=f"test-{uuid.uuid4().hex}")
    return Journal.open(folder / "site.journal.db")


def started(n: int) -> Started:
    """Return the n-th of many like events."""
    return Started(activity=f"R{n}/dig", when=START + timedelta(hours=n))


def filled(journal: Journal, count: int) -> Journal:
    """Add `count` events, one an hour."""
    for n in range(1, count + 1):
        journal.append(started(n), at=START + timedelta(hours=n), by="test")
    return journal


def unguarded(path: Path) -> sqlite3.Connection:
    """Return a connection to a journal's file with its triggers removed, as a tamperer would."""
    raw = sqlite3.connect(path)
    for (name,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        raw.execute(f'DROP TRIGGER "{name}"')
    raw.commit()
    return raw
