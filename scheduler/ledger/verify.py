"""Does the journal still say what was written? Every entry is read and its hash worked out again."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from typing import Any

from pydantic import ValidationError
from sqlalchemy import Connection, Row, select, text
from sqlalchemy.exc import DBAPIError

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.ledger.events import EVENT, HoldReleased, PlanAccepted
from scheduler.ledger.journal_tables import ATTACHMENTS, ENTRIES, SEALS
from scheduler.ledger.store import FIRST, Journal, chained

REMEDY = "Keep this file as it is, bring back the last good copy, and find out who changed it."


def verify(journal: Journal, *, head: str = "") -> list[Finding]:
    """Return everything that shows tampering, damage or a gap, in the order of the entries.

    `head` is the hash of some entry noted outside the journal: it must still stand in it. Only
    such a note can show that the end of a journal was cut off by someone who also cut the seals.
    """
    try:
        with journal.reading() as connection:
            found = _file_damage(connection)
            rows, unread = _rows(connection, journal.site)
            seals = {n: h for n, h in connection.execute(_of_site(SEALS.c.number, SEALS.c.hash, site=journal.site))}
            found += [
                _finding("journal/changed", f"Entry {n}", f"cannot be read: {said}.") for n, said in unread.items()
            ]
            found += _chain(rows, seals, set(unread))
            found += _attachments(connection, rows)
    except BadInput as bad:
        return [_finding("journal/damaged", f.where, f.text) for f in bad.findings]
    if head and head not in {row.hash for row in rows}:
        found.append(_finding("journal/head", "The end of the journal", "no longer holds the entry noted outside it."))
    return found


def _finding(rule: str, where: str, words: str) -> Finding:
    return Finding(rule, Severity.STOP, where, words, remedy=REMEDY)


def _of_site(*columns: Any, site: str) -> Any:
    table = columns[0].table
    return select(*columns).where(table.c.site == site).order_by(table.c.number)


def _file_damage(connection: Connection) -> list[Finding]:
    if connection.dialect.name != "sqlite":
        return []
    try:
        said = [row[0] for row in connection.execute(text("PRAGMA integrity_check(20)"))]
    except DBAPIError as error:
        said = [_said(error)]
    return [_finding("journal/file", "The journal's file", f"is damaged: {w}.") for w in said if w != "ok"]


def _said(error: DBAPIError) -> str:
    return str(error.orig).splitlines()[0]


def _rows(connection: Connection, site: str) -> tuple[Sequence[Row[Any]], dict[int, str]]:
    """Return the entries that can be read, and by number what the database says of each that cannot."""
    try:
        return connection.execute(_of_site(*ENTRIES.c, site=site)).all(), {}
    except DBAPIError:
        pass  # one damaged entry spoils the whole answer, so each is asked for by itself
    rows, unread = [], {}
    for number in connection.execute(_of_site(ENTRIES.c.number, site=site)).scalars().all():
        try:
            rows.append(connection.execute(_of_site(*ENTRIES.c, site=site).where(ENTRIES.c.number == number)).one())
        except DBAPIError as error:
            unread[number] = _said(error)
    return rows, unread


def _chain(rows: Sequence[Row[Any]], seals: dict[int, str], unread: set[int]) -> Iterator[Finding]:
    previous, due = FIRST, 1
    present = {row.number for row in rows} | unread
    for row in rows:
        place = f"Entry {row.number}"
        yield from _missing(range(due, row.number), present)
        if chained(row._asdict()) != row.hash:
            yield _finding("journal/changed", place, "is not what was written.")
        elif row.number == due and row.previous != previous:
            yield _finding("journal/chain", place, f"does not follow from entry {row.number - 1}.")
        if row.number not in seals:
            yield _finding("journal/seal", place, "has lost its seal.")
        elif seals[row.number] != row.hash:
            yield _finding("journal/seal", place, "does not carry the hash that was sealed.")
        previous, due = row.hash, row.number + 1
    yield from _missing(range(due, max(seals, default=0) + 1), present)


def _missing(numbers: range, present: set[int]) -> Iterator[Finding]:
    for number in numbers:
        if number not in present:
            yield _finding("journal/gap", f"Entry {number}", "is missing.")


def _attachments(connection: Connection, rows: Sequence[Row[Any]]) -> Iterator[Finding]:
    kept = set()
    for digest in connection.execute(select(ATTACHMENTS.c.hash).order_by(ATTACHMENTS.c.hash)).scalars().all():
        kept.add(digest)
        content = connection.execute(select(ATTACHMENTS.c.content).where(ATTACHMENTS.c.hash == digest)).scalar_one()
        if hashlib.sha256(content).hexdigest() != digest:
            yield _finding("journal/attachment", f"Attached content {digest[:12]}", "is not what was attached.")
    for row in rows:
        try:
            happened = EVENT.validate_json(row.body)
        except ValidationError:
            yield _finding("journal/entry", f"Entry {row.number}", "is no event that this program knows.")
            continue
        named = happened.attachment if isinstance(happened, HoldReleased) else None
        if isinstance(happened, PlanAccepted):
            named = happened.plan
        if named is not None and named not in kept:
            yield _finding(
                "journal/attachment", f"Entry {row.number}", f"names content {named[:12]}, which is missing."
            )
