"""Journals for tests: a file, or real PostgreSQL when JOINTTRENCH_TEST_POSTGRES names a database."""

from __future__ import annotations

import io
import os
import sqlite3
import uuid
from datetime import UTC, datetime, timedelta
from pathlib import Path

from PIL import Image

from scheduler.ledger.entry_body import chained
from scheduler.ledger.events import Started
from scheduler.ledger.journal_tables import METADATA, sqlite_guards
from scheduler.ledger.store import FIRST, Journal, Signer

PDF = b"%PDF-1.7 as-built sketch\nstartxref\n0\n%%EOF\n"
POSTGRES = os.environ.get("JOINTTRENCH_TEST_POSTGRES", "")
START = datetime(2027, 3, 8, 7, tzinfo=UTC)


def photo(kind: str = "JPEG", *, colour: tuple[int, int, int] = (200, 120, 40)) -> bytes:
    """Return a small photo: a pipe across a trench."""
    picture = Image.new("RGB", (48, 32), (90, 80, 70))
    picture.paste(colour, (0, 12, 48, 20))
    out = io.BytesIO()
    picture.save(out, kind)
    return out.getvalue()


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


def guarded_again(raw: sqlite3.Connection) -> None:
    """Make a journal's triggers anew, as a tamperer who leaves no trace would."""
    for table in METADATA.sorted_tables:
        for statement in sqlite_guards(table).values():
            raw.execute(statement)
    raw.commit()


def unguarded(path: Path) -> sqlite3.Connection:
    """Return a connection to a journal's file with its triggers removed, as a tamperer would."""
    raw = sqlite3.connect(path)
    for (name,) in raw.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
        raw.execute(f'DROP TRIGGER "{name}"')
    raw.commit()
    return raw


def rewritten(raw: sqlite3.Connection, site: str, number: int, signer: Signer | None = None) -> None:
    """Change who wrote an entry, and make every hash and seal from there on anew; with a key, the signatures too."""
    names = ("site", "number", "at", "by", "body", "previous")
    rows = raw.execute(
        'SELECT site, number, "at", "by", body, previous FROM journal_entries ORDER BY number'
    ).fetchall()
    previous = FIRST
    for row in rows:
        said = dict(zip(names, row, strict=True)) | {"previous": previous}
        if said["number"] == number:
            said["by"] = "somebody else"
        previous = chained(said)
        change = 'UPDATE journal_entries SET "by" = ?, previous = ?, hash = ? WHERE number = ?'
        raw.execute(change, (said["by"], said["previous"], previous, said["number"]))
        raw.execute("UPDATE journal_seals SET hash = ? WHERE number = ?", (previous, said["number"]))
        if signer is not None and said["number"] >= number:
            signature = signer.sign(site, said["number"], previous)
            change = "UPDATE journal_signatures SET key = ?, signature = ? WHERE number = ?"
            raw.execute(change, (signer.public, signature, said["number"]))
    raw.commit()
