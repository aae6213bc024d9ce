"""Whether a job is archived: its record can be read as before, and nothing is written into it until that is taken back.

It stands in the journal itself and is asked in the transaction of every write, so it holds for whoever writes: from a
page, a mail or a command, with whichever copy of the site file. It is no entry, for it says nothing of the work.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from sqlalchemy import Connection, insert, select

from scheduler.ledger.connecting import unusable
from scheduler.ledger.journal_tables import ARCHIVINGS
from scheduler.spoken import short_day

if TYPE_CHECKING:
    from scheduler.ledger.store import Journal


@dataclass(frozen=True, slots=True)
class Archived:
    """That a job is archived: since when, in UTC, and by whom."""

    at: datetime
    by: str


def archived(journal: Journal) -> Archived | None:
    """Return since when a job is archived; None while it is not. Raises BadInput when the journal cannot be read."""
    with journal.reading() as connection:
        return _standing(connection, journal.site)[1]


def refuse_archived(connection: Connection, site: str) -> None:
    """Raise BadInput where the job of a chain of entries is archived."""
    found = _standing(connection, site)[1]
    if found is not None:
        words = f"is archived since {short_day(found.at)}, by {found.by}: nothing is written into its record"
        raise unusable("journal/archived", "This job", words)


def set_archived(journal: Journal, *, to: bool, by: str) -> bool:
    """Archive a job, or take that back; return whether it was otherwise before. Raises BadInput as a write does."""
    if not by.strip() or not by.isprintable() or len(by) > 200:
        raise unusable("journal/by", "The job", "is archived, or taken back, by somebody; nobody was named")
    with journal.writing() as connection:
        last, found = _standing(connection, journal.site)
        if to == (found is not None):
            return False
        row = {"site": journal.site, "number": last + 1, "at": datetime.now(UTC).isoformat(), "by": by}
        connection.execute(insert(ARCHIVINGS).values(**row, archived=int(to)))
    return True


def _standing(connection: Connection, site: str) -> tuple[int, Archived | None]:
    """Return the number of the last archiving or taking back, and whether it was the former."""
    chosen = select(ARCHIVINGS).where(ARCHIVINGS.c.site == site).order_by(ARCHIVINGS.c.number.desc()).limit(1)
    row = connection.execute(chosen).first()
    if row is None:
        return 0, None
    return row.number, Archived(datetime.fromisoformat(row.at), row.by) if row.archived else None
