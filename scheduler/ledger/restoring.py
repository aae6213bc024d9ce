"""Bringing a backup back: what it would do, then doing it, with every later entry that can still be read."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Mapping, Sequence
from contextlib import closing
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlalchemy import insert, select

from scheduler.errors import BadInput
from scheduler.findings import Finding
from scheduler.ledger.backup import Backup, opened_backup
from scheduler.ledger.connecting import put_in_place, unusable
from scheduler.ledger.entry_body import chained
from scheduler.ledger.identity import JobName, another_name
from scheduler.ledger.journal_tables import AGAIN, ATTACHMENTS, ENTRIES, SEALS, SIGNATURES
from scheduler.ledger.store import Journal
from scheduler.ledger.verify import readable_rows, verify
from scheduler.spoken import stamp

TAILS = ("-wal", "-shm")
"""What SQLite keeps beside a file in use."""


@dataclass(frozen=True, slots=True)
class Restoring:
    """What bringing a backup back would do."""

    backup: Backup
    there: str
    """What stands there now: 'nothing', 'damaged', 'another history' or 'whole'."""
    found: tuple[Finding, ...]
    """What is wrong with what stands there."""
    saved: tuple[Mapping[str, Any], ...]
    """Entries after the backup that can still be read there, in an unbroken chain: rows of the table."""
    lost: int
    """How many later entries are known to have been written and cannot be brought back."""

    @property
    def last(self) -> int:
        """The last entry of the backup; 0 when it has none."""
        return self.backup.entries[-1].number if self.backup.entries else 0


def look_at_restoring(backup: Backup, where: Path, job: JobName, known: int) -> Restoring:
    """Return what bringing a backup back to a file would do; `known` is the last entry this machine saw.

    Raises BadInput when the backup is of a job with another name.
    """
    if not backup.kept.is_called(job):
        raise another_name(str(backup.path), job, backup.kept)
    last = backup.entries[-1].number if backup.entries else 0
    if not where.exists():
        return Restoring(backup, "nothing", (), (), max(0, known - last))
    found, rows = _what_is_there(where, backup.kept.chain)
    saved = _following(backup, rows)
    hashes = {row["number"]: row["hash"] for row in rows}
    holds_it = not backup.entries or hashes.get(last) == backup.entries[-1].hash
    there = "damaged" if found else "whole" if holds_it else "another history"
    return Restoring(backup, there, tuple(found), tuple(saved), max(0, known - last - len(saved)))


def restore(planned: Restoring, where: Path, job: JobName) -> Path | None:
    """Bring a backup back; returns where what stood there before was put, if anything did.

    Raises BadInput, and changes nothing, when the backup or what is made of it does not verify.
    """
    where.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix=".restore-", dir=where.parent) as inside:
        fresh = Path(inside) / "journal.db"
        with opened_backup(planned.backup.path, job) as (_, copy):
            assert copy.file is not None
            _add(copy, planned.saved, where)
            found = verify(copy)
            if found:
                raise BadInput(found)
            copy.close()
            shutil.copyfile(copy.file, fresh)
        with fresh.open("rb") as stream:
            os.fsync(stream.fileno())
        aside = _put_aside(where)
        if not put_in_place(fresh, where):
            raise unusable("restore/place", str(where), "was made by somebody else meanwhile; look at it again")
    return aside


def _what_is_there(where: Path, chain: str) -> tuple[list[Finding], list[Mapping[str, Any]]]:
    """Return what is wrong with a file, and every row of its entries that can be read; looks at a copy."""
    with tempfile.TemporaryDirectory(prefix="jointtrench-") as inside:
        copy = Path(inside) / "journal.db"
        shutil.copyfile(where, copy)
        beside = Path(f"{where}-wal")
        if beside.exists():
            shutil.copyfile(beside, f"{copy}-wal")
        try:
            with closing(Journal.open(copy, site=chain, make=False)) as journal:
                return verify(journal), readable_rows(journal)
        except BadInput as bad:
            return list(bad.findings), []


def _following(backup: Backup, rows: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    if not backup.entries:
        return []
    due, previous, out = backup.entries[-1].number + 1, backup.entries[-1].hash, []
    by_number = {row["number"]: row for row in rows}
    while (row := by_number.get(due)) is not None and row["previous"] == previous and chained(row) == row["hash"]:
        out.append(row)
        due, previous = due + 1, row["hash"]
    return out


def _add(copy: Journal, saved: Sequence[Mapping[str, Any]], where: Path) -> None:
    """Put entries that were saved from a damaged file behind those of the backup, as they were written."""
    if not saved:
        return
    numbers = [row["number"] for row in saved]
    with closing(Journal.open(where, site=copy.site, make=False)) as damaged, damaged.reading() as source:
        chosen = select(SIGNATURES).where(SIGNATURES.c.site == copy.site, SIGNATURES.c.number.in_(numbers))
        signatures = source.execute(chosen).all()
        content = [(table, source.execute(select(table)).all()) for table in (ATTACHMENTS, AGAIN)]
    with copy.writing() as target:
        for row in saved:
            target.execute(insert(ENTRIES).values(**row))
            target.execute(insert(SEALS).values(site=copy.site, number=row["number"], hash=row["hash"]))
        for signature in signatures:
            target.execute(insert(SIGNATURES).values(**signature._mapping))
        for table, kept in content:
            there = {tuple(k) for k in target.execute(select(*table.primary_key))}
            for piece in kept:
                if tuple(piece._mapping[c.name] for c in table.primary_key) not in there:
                    target.execute(insert(table).values(**piece._mapping))


def _put_aside(where: Path) -> Path | None:
    """Give what stands in the place another name; nothing of it is thrown away."""
    if not where.exists():
        return None
    aside = where.with_name(f"{where.name}.replaced-{stamp(datetime.now(UTC), fine=True)}")
    os.rename(where, aside)
    for tail in TAILS:
        if Path(f"{where}{tail}").exists():
            os.rename(f"{where}{tail}", f"{aside}{tail}")
    return aside
