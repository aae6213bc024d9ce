"""Copies of a journal, made while it is in use, and bringing one back.

A backup is one SQLite file whatever the journal lies in, with the digest of that file beside it in the form of
`sha256sum`. It holds the entries, their seals and signatures, and all attached content. It is verified when it is made
and again before it is brought back.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from urllib.parse import quote

from sqlalchemy import Connection, insert, select

from scheduler.errors import BadInput
from scheduler.ledger.connecting import make_whole, put_in_place, unusable
from scheduler.ledger.content import named_content
from scheduler.ledger.entry_body import parted
from scheduler.ledger.events import EVENT
from scheduler.ledger.heads import Head, head_of
from scheduler.ledger.identity import JobName, Kept, kept_jobs
from scheduler.ledger.journal_tables import AGAIN, ARCHIVINGS, ATTACHMENTS, ENTRIES, JOBS, SEALS, SIGNATURES, create
from scheduler.ledger.store import Entry, Journal
from scheduler.ledger.verify import verify
from scheduler.spoken import stamp
from scheduler.whole_files import write_whole

DIGEST = ".sha256"
ENDING = ".backup.db"


@dataclass(frozen=True, slots=True)
class Backup:
    """A backup that was verified."""

    path: Path
    kept: Kept
    entries: tuple[Entry, ...]

    @property
    def head(self) -> Head | None:
        """Its last entry."""
        return head_of(self.entries)


def back_up(journal: Journal, job: JobName, to: Path) -> Backup:
    """Copy a journal into a folder, or a file that is not there yet, while it is in use; returns what was copied.

    Raises BadInput, and leaves no file, when the journal or the copy does not verify.
    """
    folder = to if to.is_dir() else to.parent
    if not folder.is_dir() or (to.exists() and not to.is_dir()):
        raise unusable("backup/where", str(to), "is neither a folder that is there nor the name of a new file in one")
    with tempfile.TemporaryDirectory(prefix=".backup-", dir=folder) as inside:
        copy = Path(inside) / "journal.db"
        _copy(journal, copy)
        backup = _examined(copy, job)
        with closing(sqlite3.connect(copy)) as raw:
            raw.execute("PRAGMA journal_mode = DELETE")  # one file, nothing beside it
        made = stamp(datetime.now(UTC))
        last = backup.entries[-1].number if backup.entries else 0
        path = to / f"{job.id}-{made}-entry-{last}{ENDING}" if to.is_dir() else to
        with copy.open("rb") as stream:
            os.fsync(stream.fileno())
        digest = hashlib.sha256(copy.read_bytes()).hexdigest()
        write_whole(Path(f"{path}{DIGEST}"), f"{digest}  {path.name}\n")
        if not put_in_place(copy, path):
            raise unusable("backup/where", str(path), "is there already; a backup never replaces one")
    with opened_backup(path, job) as (again, _):
        return again


@contextmanager
def opened_backup(path: Path, job: JobName) -> Iterator[tuple[Backup, Journal]]:
    """Verify a backup of a job and open a copy of it, so that the backup itself stays as it is.

    Raises BadInput with everything that is wrong with it.
    """
    if not path.is_file():
        raise unusable("backup/file", str(path), "is no file")
    said = Path(f"{path}{DIGEST}")
    if said.is_file():
        words = said.read_text(encoding="utf-8", errors="replace").split()
        if not words or hashlib.sha256(path.read_bytes()).hexdigest() != words[0]:
            raise unusable("backup/digest", str(path), "is not the file that was backed up: its digest is another")
    with tempfile.TemporaryDirectory(prefix="jointtrench-") as inside:
        copy = Path(inside) / "journal.db"
        shutil.copyfile(path, copy)
        backup = _examined(copy, job)
        with closing(Journal.open(copy, site=backup.kept.chain, make=False)) as journal:
            yield Backup(path, backup.kept, backup.entries), journal


def _examined(copy: Path, job: JobName) -> Backup:
    with closing(Journal.open(copy, make=False)) as journal:
        with journal.reading() as connection:
            kept = kept_jobs(connection).get(job.id)
        if kept is None:
            raise unusable("journal/another", str(copy.name), f"is no backup of this job ({job.id})")
        journal.site = kept.chain
        found = verify(journal)
        if found:
            raise BadInput(found)
        return Backup(copy, kept, journal.entries())


def _copy(journal: Journal, to: Path) -> None:
    if journal.file is None:
        with journal.reading() as source:
            make_whole(to, lambda target: _fill(source, target, journal.site))
        return
    try:
        # SQLite's online backup: a consistent copy, started anew by itself when somebody writes meanwhile.
        address = f"file:{quote(str(journal.file))}?mode=ro"
        with closing(sqlite3.connect(address, uri=True, timeout=30)) as source, closing(sqlite3.connect(to)) as target:
            source.backup(target)
    except sqlite3.Error as error:
        raise unusable("journal/reach", str(journal.file), f"cannot be copied: {error}") from error


def _fill(source: Connection, target: Connection, chain: str) -> None:
    """Copy one job out of a database of many into a file of its own."""
    create(target)
    for table, key in ((JOBS, JOBS.c.chain), *((t, t.c.site) for t in (ENTRIES, SEALS, SIGNATURES, ARCHIVINGS))):
        order = table.c.number
        for row in source.execute(select(table).where(key == chain).order_by(order)):
            target.execute(insert(table).values(**row._mapping))
    bodies = source.execute(select(ENTRIES.c.body).where(ENTRIES.c.site == chain)).scalars()
    named = dict.fromkeys(named_content(EVENT.validate_json(parted(body)[0])) for body in bodies)
    for table in (ATTACHMENTS, AGAIN):
        for digest in filter(None, named):
            for row in source.execute(select(table).where(table.c.hash == digest)):
                target.execute(insert(table).values(**row._mapping))
