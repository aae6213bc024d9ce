"""Does the journal still say what was written? Every entry is read and its hash worked out again.

What can be proved depends on what is at hand outside the journal. With nothing: damage, and changes by
somebody who did not also make every later hash, seal and signature anew. With one head, printed or noted at the time:
any change before it. With the public key of whoever wrote: any change by somebody who has not their key. With the
token of a time-stamp authority (`time_stamps.py`): any change, by anybody, to what stood there at its moment.
"""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from pydantic import ValidationError
from sqlalchemy import Connection, func, select, text
from sqlalchemy.exc import DBAPIError

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.ledger.content import named_content, sound_copy
from scheduler.ledger.entry_body import chained, parted
from scheduler.ledger.events import EVENT
from scheduler.ledger.guards import guard_faults
from scheduler.ledger.heads import Head, code_of
from scheduler.ledger.journal_tables import AGAIN, ATTACHMENTS, ENTRIES, JOBS, SEALS, SIGNATURES
from scheduler.ledger.signing import is_signed
from scheduler.ledger.store import FIRST, Journal

REMEDY = "Keep this file as it is, bring back the last good copy, and find out who changed it."
_HASH = re.compile(r"[0-9a-f]{64}")
_ENTRY = ("site", "number", "at", "by", "body", "previous", "hash")


@dataclass(frozen=True, slots=True)
class EntryRow:
    """One row of the entries as it stands, whatever it holds."""

    values: Mapping[str, Any]

    @property
    def number(self) -> int:
        """Its number."""
        return int(self.values["number"])

    @property
    def hash(self) -> str:
        """The hash that stands in it."""
        return str(self.values["hash"])

    def faults(self) -> Iterator[str]:
        """Yield what is not of the type that it should be."""
        for name in _ENTRY:
            value = self.values[name]
            if name != "number" and not isinstance(value, str):
                yield f"holds no text for '{name}'"
        if isinstance(self.values["at"], str) and not _is_moment(self.values["at"]):
            yield "holds no date and time for when it was written"
        for name in ("previous", "hash"):
            if isinstance(self.values[name], str) and not _HASH.fullmatch(self.values[name]):
                yield f"holds no hash for '{name}'"


def verify(
    journal: Journal, *, head: str = "", heads: Sequence[Head | str] = (), keys: Sequence[str] = ()
) -> list[Finding]:
    """Return everything that shows tampering, damage or a gap, in the order of the entries.

    `heads` were noted outside the journal, as short codes or whole hashes (`head` is one such hash): each must
    still stand in it, and where one does not, the journal was rewritten at that entry or before it, or cut.
    `keys` are public keys: the last entry signed by one of them vouches for all before it, and what comes
    after it is told.
    """
    try:
        with journal.reading() as connection:
            return _Looking(connection, journal.site).findings([*heads, *([head] if head else [])], keys)
    except BadInput as bad:
        return [_finding("journal/damaged", f.where, f.text) for f in bad.findings]
    except (sqlite3.Error, DBAPIError, ValueError, TypeError, OverflowError) as error:  # what a damaged file may say
        return [_finding("journal/damaged", journal.where, f"cannot be read to its end: {error}.")]


def readable_rows(journal: Journal) -> list[Mapping[str, Any]]:
    """Return every row of the entries that can be read, sound or not, in their order; none when nothing can."""
    try:
        with journal.reading() as connection:
            return [row.values for row in _Looking(connection, journal.site).rows()[0] if not list(row.faults())]
    except (BadInput, *_UNREADABLE):
        return []


def _finding(rule: str, where: str, words: str) -> Finding:
    return Finding(rule, Severity.STOP, where, words, remedy=REMEDY)


def _is_moment(said: str) -> bool:
    try:
        return datetime.fromisoformat(said).tzinfo is not None
    except ValueError:
        return False


class _Looking:
    """One look through a journal's tables."""

    def __init__(self, connection: Connection, site: str) -> None:
        self.connection, self.site = connection, site

    def findings(self, heads: Sequence[Head | str], keys: Sequence[str]) -> list[Finding]:
        found = [*self._file_damage(), *self._guards()]
        rows, unread = self.rows()
        seals = self._numbered(SEALS.c.hash)
        found += [_finding("journal/changed", f"Entry {n}", f"cannot be read: {said}.") for n, said in unread.items()]
        found += self._chain(rows, seals, set(unread))
        found += self._signatures(rows, keys)
        found += self._content(rows)
        found += self._others()
        hashes = {row.number: row.hash for row in rows}
        found += [missed(head, hashes) for head in missing_heads(heads, hashes)]
        return found

    def _file_damage(self) -> list[Finding]:
        if self.connection.dialect.name != "sqlite":
            return []
        try:
            said = [str(row[0]) for row in self.connection.execute(text("PRAGMA integrity_check(20)"))]
        except (DBAPIError, sqlite3.Error) as error:
            said = [_said(error)]
        return [_finding("journal/file", "The journal's file", f"is damaged: {w}.") for w in said if w != "ok"]

    def _guards(self) -> list[Finding]:
        return [_finding("journal/guard", where, words) for where, words in guard_faults(self.connection)]

    def rows(self) -> tuple[list[EntryRow], dict[int, str]]:
        """Return the entries that can be read, and by number what the database says of each that cannot."""
        chosen = (
            select(*(ENTRIES.c[name] for name in _ENTRY)).where(ENTRIES.c.site == self.site).order_by(ENTRIES.c.number)
        )
        try:
            return [_row(r) for r in self.connection.execute(chosen)], {}
        except _UNREADABLE:
            pass  # one damaged entry spoils the whole answer, so each is asked for by itself
        rows, unread = [], {}
        numbers = select(ENTRIES.c.number).where(ENTRIES.c.site == self.site).order_by(ENTRIES.c.number)
        for number in self.connection.execute(numbers).scalars().all():
            try:
                rows.append(_row(self.connection.execute(chosen.where(ENTRIES.c.number == number)).one()))
            except _UNREADABLE as error:
                unread[int(number)] = _said(error)
        return rows, unread

    def _numbered(self, *columns: Any) -> dict[int, Any]:
        table = columns[0].table
        chosen = select(table.c.number, *columns).where(table.c.site == self.site)
        return {r[0]: r[1] if len(r) == 2 else r[1:] for r in self.connection.execute(chosen)}

    def _chain(self, rows: Sequence[EntryRow], seals: dict[int, str], unread: set[int]) -> Iterator[Finding]:
        previous, due = FIRST, 1
        present = {row.number for row in rows} | unread
        for row in rows:
            place = f"Entry {row.number}"
            yield from _gaps(range(due, row.number), present)
            faults = list(row.faults())
            if faults:
                yield _finding("journal/changed", place, f"{'; '.join(faults)}.")
            elif chained(row.values) != row.hash:
                yield _finding("journal/changed", place, "is not what was written.")
            elif row.number == due and row.values["previous"] != previous:
                yield _finding("journal/chain", place, f"does not follow from entry {row.number - 1}.")
            if row.number not in seals:
                yield _finding("journal/seal", place, "has lost its seal.")
            elif seals[row.number] != row.hash:
                yield _finding("journal/seal", place, "does not carry the hash that was sealed.")
            previous, due = row.hash, row.number + 1
        last = max((n for n in seals if isinstance(n, int)), default=0)
        yield from _gaps(range(due, last + 1), present)

    def _signatures(self, rows: Sequence[EntryRow], keys: Sequence[str]) -> Iterator[Finding]:
        signed = self._numbered(SIGNATURES.c.key, SIGNATURES.c.signature)
        first, vouched = min(signed, default=None), 0
        for row in rows:
            n = row.number
            if n in signed:
                key, signature = (str(part) for part in signed.pop(n))
                if not is_signed(key, signature, self.site, n, row.hash):
                    yield _finding("journal/signature", f"Entry {n}", "is not what was signed.")
                elif key in keys:
                    vouched = n
            elif first is not None and n > first:
                yield _finding("journal/signature", f"Entry {n}", "has lost its signature.")
        for n in signed:
            yield _finding("journal/signature", f"Entry {n}", "is signed, but missing.")
        if keys and rows and vouched < rows[-1].number:
            after = f"Entry {vouched + 1} and later" if vouched else "Every entry"
            yield _finding("journal/signature", after, "carries no signature by a key that you named.")

    def _content(self, rows: Sequence[EntryRow]) -> Iterator[Finding]:
        kept, sound = set(), set()
        for digest in self.connection.execute(select(ATTACHMENTS.c.hash).order_by(ATTACHMENTS.c.hash)).scalars().all():
            kept.add(digest)
            try:
                whole = sound_copy(self.connection, digest) is not None
            except _UNREADABLE:
                whole = False
            if whole:
                sound.add(digest)
            else:
                words = "is not what was attached; attach the same file again, or restore a backup."
                yield _finding("journal/attachment", f"Attached content {str(digest)[:12]}", words)
        for row in rows:
            try:
                named = named_content(EVENT.validate_json(parted(row.values["body"])[0]))
            except (ValidationError, ValueError, TypeError):
                yield _finding("journal/entry", f"Entry {row.number}", "is no event that this program knows.")
                continue
            if named is not None and named not in kept:
                words = f"names content {named[:12]}, which is missing."
                yield _finding("journal/attachment", f"Entry {row.number}", words)

    def _others(self) -> Iterator[Finding]:
        """Yield rows in a file that belong to no job of it."""
        if self.connection.dialect.name != "sqlite":
            return
        chains = {self.site, *self.connection.execute(select(JOBS.c.chain)).scalars()}
        for table in (ENTRIES, SEALS, SIGNATURES):
            for site, count in self.connection.execute(select(table.c.site, func.count()).group_by(table.c.site)):
                if site not in chains:
                    words = f"holds {count} rows that belong to no entry of this job."
                    yield _finding("journal/changed", f"The table {table.name}", words)
        for digest in self.connection.execute(select(AGAIN.c.hash)).scalars():
            if self.connection.execute(select(ATTACHMENTS.c.hash).where(ATTACHMENTS.c.hash == digest)).first() is None:
                words = "is a second copy of content that is not there."
                yield _finding("journal/attachment", f"Attached content {str(digest)[:12]}", words)


_UNREADABLE = (DBAPIError, sqlite3.Error, ValueError, TypeError, OverflowError)


def _row(row: Any) -> EntryRow:
    return EntryRow(dict(zip(_ENTRY, row, strict=True)))


def _said(error: Exception) -> str:
    cause = error.orig if isinstance(error, DBAPIError) else error
    return (str(cause).splitlines() or ["no answer"])[0]


def _gaps(numbers: range, present: set[int]) -> Iterator[Finding]:
    for number in numbers:
        if number not in present:
            yield _finding("journal/gap", f"Entry {number}", "is missing.")


def missing_heads(heads: Iterable[Head | str], hashes: Mapping[int, str]) -> list[Head | str]:
    """Return the heads that do not stand in a journal, given the hashes of its entries by number."""
    whole = set(hashes.values())

    def stands(head: Head | str) -> bool:
        if isinstance(head, str):
            return head in whole
        digest = hashes.get(head.number, "")
        return bool(_HASH.fullmatch(digest)) and code_of(digest) == head.code

    return [h for h in heads if not stands(h)]


def missed(head: Head | str, hashes: Mapping[int, str]) -> Finding:
    """Return the finding for a head that a journal, given its hashes by number, does not hold."""
    last = max(hashes, default=0)
    if isinstance(head, str):
        words = f"no longer holds the entry noted outside it: {head[:12]}..."
        return _finding("journal/head", "The journal", words)
    if head.number > last:
        words = f"ends at entry {last}: entry {head.number} was noted outside it ({head}) and was cut off."
        return _finding("journal/head", "The end of the journal", words)
    words = f"is not the one noted outside the journal ({head}): it, or an entry before it, was rewritten."
    return _finding("journal/head", f"Entry {head.number}", words)
