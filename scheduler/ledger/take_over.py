"""Taking over a journal of the version before, which knew a job by its site file's name alone.

Its entries stay as they are, hash by hash, so that heads noted of them still hold.
"""

from __future__ import annotations

import os
import shutil
import sqlite3
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import quote

from sqlalchemy import select

from scheduler.errors import BadInput
from scheduler.findings import Finding
from scheduler.ledger.connecting import put_in_place, sync_folder, unusable
from scheduler.ledger.identity import JobName, claim, has_entries, kept_jobs
from scheduler.ledger.journal_tables import JOBS
from scheduler.ledger.noted import Noted, note
from scheduler.ledger.older import TAKEN
from scheduler.ledger.place import JournalPlace
from scheduler.ledger.store import Entry, Journal
from scheduler.ledger.verify import verify


@dataclass(frozen=True, slots=True)
class Older:
    """A journal of the version before, as it was looked at."""

    source: str
    entries: tuple[Entry, ...]
    found: tuple[Finding, ...]
    """What is wrong with it."""

    def strangers(self, known: set[str]) -> list[str]:
        """Return the ids that its entries name and the site does not know: of another job, or renamed since."""
        out: dict[str, None] = {}
        for entry in self.entries:
            body = entry.event.model_dump()
            named = [body[k] for k in ("activity", "hold", "alignment", "line") if isinstance(body.get(k), str)]
            named += body.get("looks", ())
            out |= dict.fromkeys(i for i in named if i not in known)
        return list(out)


def sources(place: JournalPlace) -> list[str]:
    """Return the journals of the version before that may be this job's: files, or the database itself."""
    found = [str(path) for path in place.older]
    if "://" in place.where or (Path(place.where).is_file() and place.job is not None):
        with closing(Journal.open(place.where, make=False)) as journal, journal.reading() as connection:
            chain = place.stem if journal.file is None else ""
            chains = {k.chain for k in kept_jobs(connection).values()}
            if chain not in chains and has_entries(connection, chain):
                found.append(place.where)
    return found


def look_at(place: JournalPlace, source: str) -> Older:
    """Return what stands in an old journal, without changing it."""
    with _opened(place, source) as journal:
        found = tuple(verify(journal))
        try:
            return Older(source, journal.entries(), found)
        except BadInput as bad:
            return Older(source, (), (*found, *bad.findings))


def take_over(place: JournalPlace, older: Older, job: JobName) -> Path | None:
    """Make an old journal the job's own; returns where the old file is now, if it was one.

    Raises BadInput, and changes nothing, when it is damaged, or when the job has a journal with entries already.
    """
    if older.found:
        raise BadInput(older.found)
    if older.source == place.where and "://" in place.where:
        with closing(_in_database(place)) as journal:
            with journal.writing() as connection:
                claim(connection, job, place.stem)
            _note(job, journal, older)
        return None
    if "://" in place.where:
        words = "is a file; take it over into a file first, without naming a database"
        raise unusable("take-over/place", older.source, words)
    return _from_file(place, older, job)


def _from_file(place: JournalPlace, older: Older, job: JobName) -> Path:
    source, target = Path(older.source), Path(place.where)
    target.parent.mkdir(parents=True, exist_ok=True)
    if target.exists() and not (source.exists() and target.samefile(source)):
        _check_empty(target, job)
    with tempfile.TemporaryDirectory(prefix=".take-over-", dir=target.parent) as inside:
        fresh = Path(inside) / "journal.db"
        _copy(source, fresh)
        with closing(Journal.open(fresh, make=False)) as journal:
            with journal.writing() as connection:
                claim(connection, job, "")
            found = verify(journal)
            if found or journal.entries() != older.entries:
                raise BadInput(
                    found or unusable("take-over/changed", older.source, "was written to meanwhile").findings
                )
        kept = source.with_name(f"{source.name}{TAKEN}")
        if kept.exists():
            raise unusable("take-over/kept", str(kept), "is there already; put it somewhere else first")
        if target.exists() and not target.samefile(source):
            os.rename(target, target.with_name(f"{target.name}.empty"))
        if target.exists():
            os.rename(source, kept)
        if not put_in_place(fresh, target):
            raise unusable("take-over/place", str(target), "was made by somebody else meanwhile")
        if source.exists() and source != target:
            os.rename(source, kept)
        for tail in ("-wal", "-shm"):
            if Path(f"{source}{tail}").exists():
                os.rename(f"{source}{tail}", f"{kept}{tail}")
        sync_folder(source.parent)
    with closing(Journal.open(target, make=False)) as journal:
        _note(job, journal, older)
    return kept


def _check_empty(target: Path, job: JobName) -> None:
    with closing(Journal.open(target, make=False)) as journal, journal.reading() as connection:
        chains = connection.execute(select(JOBS.c.chain).where(JOBS.c.job == job.id)).scalars().all()
        if not chains or any(has_entries(connection, chain) for chain in chains):
            words = (
                "has entries already, or is another job's; two records are never mixed. If the old one is another "
                "job's, say so with --not-this-job"
            )
            raise unusable("take-over/both", str(target), words)


def _note(job: JobName, journal: Journal, older: Older) -> None:
    last = older.entries[-1] if older.entries else None
    if not job.invented:
        note(job, Noted(journal.where, last.number if last else 0, last.hash if last else ""), afresh=True)


@contextmanager
def _opened(place: JournalPlace, source: str) -> Iterator[Journal]:
    if "://" in source:
        journal = _in_database(place)
        with closing(journal):
            yield journal
        return
    with tempfile.TemporaryDirectory(prefix="jointtrench-") as inside:
        copy = Path(inside) / "journal.db"
        _copy(Path(source), copy)
        with closing(Journal.open(copy, make=False)) as journal:
            yield journal


def _in_database(place: JournalPlace) -> Journal:
    return Journal.open(place.where, site=place.stem, make=False)


def _copy(source: Path, to: Path) -> None:
    address = f"file:{quote(str(source))}?mode=ro"
    try:
        with closing(sqlite3.connect(address, uri=True, timeout=30)) as old, closing(sqlite3.connect(to)) as new:
            old.backup(new)
    except sqlite3.Error:
        shutil.copyfile(source, to)  # it is damaged, and says so when it is verified
