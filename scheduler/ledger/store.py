"""The journal itself: entries are added at the end, in one order, and never changed or removed.

The same tables and statements serve SQLite (one file a job, nothing to set up) and PostgreSQL (one
database for a firm with many jobs). One writer at a time; readers wait for nobody. What is told about a
write is true: an entry is acknowledged when it is on disk, and when a commit gives no answer the journal
looks before it says anything.
"""

from __future__ import annotations

import gc
import hashlib
import random
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Protocol, Self

from pydantic import ValidationError
from sqlalchemy import Connection, Engine, Row, func, insert, select

from scheduler.errors import BadInput
from scheduler.ledger.archiving import refuse_archived
from scheduler.ledger.attachments import MAX_BYTES, PLAN_MEDIA, Attachment, checked_media
from scheduler.ledger.connecting import (
    ANSWER_SECONDS,
    CONNECT_SECONDS,
    WAIT_SECONDS,
    engine_of,
    make_whole,
    same_file,
    set_limits,
    understood,
    unusable,
    watched,
)
from scheduler.ledger.content import check_references, put_content, sound_copy
from scheduler.ledger.entry_body import THIS_MACHINE, body_of, chained, parted
from scheduler.ledger.events import EVENT, Event
from scheduler.ledger.heads import code_of
from scheduler.ledger.journal_tables import ATTACHMENTS, ENTRIES, SEALS, SIGNATURES, create, is_made, missing_tables

FIRST = "0" * 64
"""What the first entry carries in place of the hash of one before it."""
ROW = ("number", "at", "by", "body", "previous", "hash")
"""What is read of an entry, whose chain is known."""
LOOK_SECONDS = 15.0
"""How long it is tried to find out whether an entry was written, when the commit gave no answer."""
MOVED_ON = "journal/moved-on"  # the rule by which nothing is written since others have written first
LOOKING = "It is not known whether this was written; looking ..."


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the journal: what happened, when it was written down, and by whom."""

    number: int
    at: datetime
    by: str
    event: Event
    previous: str
    hash: str
    known_by: str = ""
    """How it was known who wrote it, such as 'this machine'; part of what is hashed. Empty: older than this."""

    @property
    def writer(self) -> str:
        """Who wrote it, with how that was known where they did not just name themselves."""
        return self.by if self.known_by in ("", THIS_MACHINE) else f"{self.by} ({self.known_by})"


class Signer(Protocol):
    """Signs entries with a key that is kept outside the journal."""

    @property
    def public(self) -> str:
        """The public key, as text."""

    def sign(self, chain: str, number: int, digest: str) -> str:
        """Return the signature of an entry, as text."""


class Journal:
    """An open journal of one job.

    `site` is the name of its chain of entries. `tell` is told what is going on when something takes long.
    """

    def __init__(self, engine: Engine, *, site: str, where: str, file: Path | None) -> None:
        self.engine, self.site, self.where, self.file = engine, site, where, file
        self.signer: Signer | None = None
        self.tell: Callable[[str], None] = lambda _: None
        self.known: tuple[int, str] | None = None
        """Number and hash of an entry that is known to have been written: it must still be there."""
        self.noted: Callable[[Entry], None] = lambda _: None
        """Is told of every entry that is written."""
        self.known_by = ""
        """How it is known who writes; stands in every entry that is written."""
        self.allow: Callable[[Sequence[Event]], None] = lambda _: None
        """Raises BadInput where whoever writes may not write these; asked before every write. None: content is kept."""

    @classmethod
    def open(cls, where: str | Path, *, site: str = "", make: bool = True) -> Journal:
        """Open a journal; with `make`, make it when there is none.

        `where` is a file, or a database URL (`postgresql://...`) where `site` names the job among others.
        Raises BadInput when it cannot be reached or is something else; a file that is there and holds no
        journal was damaged or is another's, and is never made one.
        """
        engine, shown, file = engine_of(str(where))
        journal = cls(engine, site=site, where=shown, file=file)
        if file is not None and make and not file.exists():
            with understood(shown):
                make_whole(file, create)
        with journal.reading() as connection:
            made, missing = is_made(connection), missing_tables(connection)
        if not made and (file is not None or not make):
            raise unusable("journal/missing", shown, "holds no journal; if one was there, bring back the last backup")
        if missing:
            with journal.writing() as connection:
                _take_turns(connection)
                create(connection)
        return journal

    def close(self) -> None:
        """Let go of every connection."""
        self.engine.dispose()

    def __enter__(self) -> Self:
        """Return the journal, to be closed at the end of a `with` block."""
        return self

    def __exit__(self, *_: object) -> None:
        """Close it."""
        self.close()

    def append(self, happened: Event, *, at: datetime | None = None, by: str) -> Entry:
        """Add an entry; when this returns, it is on disk and will be found. Else as `append_all`."""
        return self.append_all([happened], at=at, by=by)[0]

    def append_all(
        self, happened: Sequence[Event], *, at: datetime | None = None, by: str, after: int | None = None
    ) -> tuple[Entry, ...]:
        """Add entries in one transaction, all of them or none; when this returns, they are on disk.

        `at` is when they are written down, an aware time; None: now. With `after`, they are written only while the
        journal ends with the entry of that number. Raises BadInput when an event names an attachment, plan or earlier
        entry that the journal does not hold, and when they could not be written: by the rule `journal/unknown` where
        even looking could not tell whether they were.
        """
        if at is not None and at.tzinfo is None:
            raise ValueError("the time of an entry needs an offset from UTC")
        if not by.strip() or not by.isprintable() or len(by) > 200:
            raise unusable("journal/by", "The entry", "does not say who wrote it down")
        moment = (at or datetime.now(UTC)).astimezone(UTC)
        new: list[Entry] = []
        whole = False
        try:
            with self.writing() as connection:
                refuse_archived(connection, self.site)
                number, previous = self._next(connection)
                if after is not None and number != after + 1:
                    raise unusable(MOVED_ON, self.where, "has later entries by now; look at them first")
                self.allow(happened)  # last, as it uses up a code that was typed for this entry
                for event in happened:
                    check_references(connection, event, number)
                    new.append(self._entry(event, moment, by, number, previous))
                    self._insert(connection, new[-1])
                    number, previous = number + 1, new[-1].hash
                whole = True  # from here on only the commit is left, and its answer may get lost
            if not self._still_there():
                raise unusable("journal/reach", self.where, "was replaced while this was written")
        except BadInput as bad:
            if not whole or not new:
                raise
            self._look_for(new[-1], bad)
        for entry in new:
            self.known = (entry.number, entry.hash)
            self.noted(entry)
        return tuple(new)

    def entries(self, up_to: datetime | None = None, *, held: tuple[Entry, ...] = ()) -> tuple[Entry, ...]:
        """Return the entries in their order; with `up_to`, those written down by then.

        Every hash is worked out again. `held` are all entries from the first on that were returned before: where the
        last of them still stands in the journal, only what comes after it is read and checked. Raises BadInput when an
        entry cannot be read, is not what was written, or is missing; `verify` then says more.
        """
        begun = held[-1].number if held else 0
        chosen = select(*(ENTRIES.c[name] for name in ROW)).where(ENTRIES.c.site == self.site)
        seals = select(SEALS.c.number, SEALS.c.hash).where(SEALS.c.site == self.site)
        with self.reading() as connection:
            last = connection.execute(chosen.where(ENTRIES.c.number == begun)).first() if held else None
            if last is None or last.hash != held[-1].hash:
                held, begun = (), 0
            rows = connection.execute(chosen.where(ENTRIES.c.number > begun).order_by(ENTRIES.c.number)).all()
            sealed = connection.execute(seals.order_by(SEALS.c.number.desc()).limit(1)).first()
        with without_collecting():
            out = list(held)
            for row in rows:
                out.append(self._next_entry(row, out))
        if (sealed.number, sealed.hash) != (len(out), out[-1].hash if out else FIRST) if sealed else out:
            raise unusable("journal/entry", f"The end, entry {len(out)}", "is not what was sealed; verify the journal")
        self._check_known({e.number: e.hash for e in out})
        return tuple(e for e in out if up_to is None or e.at <= up_to)

    def _next_entry(self, row: Row[Any], before: list[Entry]) -> Entry:
        """Return the entry that a row says; raises BadInput when it is not the one written after those before it."""
        due, previous = len(before) + 1, before[-1].hash if before else FIRST
        entry = read_entry(row)
        said = {"site": self.site, **dict(zip(ROW, row, strict=True))}
        if (entry.number, entry.previous, entry.hash) != (due, previous, chained(said)):
            raise unusable("journal/entry", f"Entry {due}", "is missing or not what was written; verify it")
        return entry

    def attach(self, content: bytes) -> str:
        """Keep a photo or PDF as evidence; returns its hash. Raises BadInput for anything else.

        Content whose copy in the journal is damaged is kept once more, beside the damaged one.
        """
        return self._keep(content, checked_media(content))

    def keep_plan(self, plan_json: str) -> str:
        """Keep the text of a plan.json, so that an acceptance can name it; returns its hash."""
        return self._keep(plan_json.encode(), PLAN_MEDIA)

    def attachment(self, digest: str) -> Attachment | None:
        """Return what is kept under a hash, or None; raises BadInput when every copy of it is damaged."""
        with self.reading() as connection:
            row = connection.execute(select(ATTACHMENTS.c.media).where(ATTACHMENTS.c.hash == digest)).first()
            if row is None:
                return None
            content = sound_copy(connection, digest)
        if content is None:
            what = f"Attached content {digest[:12]}"
            raise unusable("journal/attachment", what, "is damaged; attach the same file again, or restore a backup")
        return Attachment(digest, row.media, content)

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One consistent view for reading; waits for no writer."""
        with (
            understood(self.where),
            self._connected() as connection,
            watched(connection, ANSWER_SECONDS),
            connection.begin(),
        ):
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """The one writer's transaction: others wait until it is committed or undone."""
        with understood(self.where), self._connected() as plain:
            connection = plain.execution_options(journal_writer=True)
            with connection.begin() as transaction:
                if connection.dialect.name == "postgresql":
                    self._take_turn(connection)
                with watched(connection, ANSWER_SECONDS):
                    yield connection
                    transaction.commit()

    def _take_turn(self, connection: Connection) -> None:
        """Wait for the turn to write at a database server, asking again and again: one that is frozen is noticed."""
        deadline = time.monotonic() + WAIT_SECONDS
        asked = select(func.pg_try_advisory_xact_lock(_lock_key(self.site)))
        with watched(connection, ANSWER_SECONDS):
            set_limits(connection)
        while True:
            with watched(connection, ANSWER_SECONDS):
                if connection.execute(asked).scalar_one():
                    return
            if time.monotonic() > deadline:
                raise unusable("journal/reach", self.where, "cannot be used just now: others kept writing")
            time.sleep(random.uniform(0.002, 0.012))

    @contextmanager
    def _connected(self) -> Iterator[Connection]:
        connection = self.engine.connect()
        if self.file is not None and not same_file(connection, self.file):
            connection.close()
            self.engine.dispose()  # another file stands there now; the old one is nobody's record
            connection = self.engine.connect()
        with connection:
            yield connection

    def _still_there(self) -> bool:
        """Tell whether the file that was just written is the one that stands under its name."""
        if self.file is None:
            return True
        with understood(self.where), self.engine.connect() as connection:
            return same_file(connection, self.file)

    def _next(self, connection: Connection) -> tuple[int, str]:
        """Return the number and the previous hash of the next entry."""
        chain = select(ENTRIES.c.number, ENTRIES.c.hash).where(ENTRIES.c.site == self.site)
        if self.known is not None:
            number = self.known[0]
            self._check_known({r.number: r.hash for r in connection.execute(chain.where(ENTRIES.c.number == number))})
        last = connection.execute(chain.order_by(ENTRIES.c.number.desc()).limit(1)).first()
        return (last.number + 1, last.hash) if last else (1, FIRST)

    def _check_known(self, hashes: Mapping[int, str]) -> None:
        if self.known is not None and hashes.get(self.known[0]) != self.known[1]:
            number, digest = self.known
            words = f"no longer holds entry {number} ({code_of(digest)}), which was written: it was cut, or replaced"
            raise unusable("journal/missing", self.where, words)

    def _entry(self, happened: Event, moment: datetime, by: str, number: int, previous: str) -> Entry:
        said = {"number": number, "at": moment.isoformat(), "by": by, "previous": previous}
        said |= {"site": self.site, "body": body_of(happened, self.known_by)}
        return Entry(number, moment, by, happened, previous, chained(said), self.known_by)

    def _insert(self, connection: Connection, new: Entry) -> None:
        place = {"site": self.site, "number": new.number}
        said = {"at": new.at.isoformat(), "by": new.by, "body": body_of(new.event, new.known_by)}
        connection.execute(insert(ENTRIES).values(**place, **said, previous=new.previous, hash=new.hash))
        connection.execute(insert(SEALS).values(**place, hash=new.hash))
        if self.signer is not None:
            signature = self.signer.sign(self.site, new.number, new.hash)
            connection.execute(insert(SIGNATURES).values(**place, key=self.signer.public, signature=signature))

    def _look_for(self, entry: Entry, bad: BadInput) -> None:
        """Find out whether an entry was written; raises BadInput when it was not, or when nobody can tell yet."""
        self.tell(LOOKING)
        deadline = time.monotonic() + LOOK_SECONDS
        head, why = f"Entry {entry.number} ({code_of(entry.hash)})", bad.findings[0].text
        while True:
            self.engine.dispose()
            try:
                with self._settled() as connection:
                    row = connection.execute(
                        select(ENTRIES.c.hash).where(ENTRIES.c.site == self.site, ENTRIES.c.number == entry.number)
                    ).first()
                break
            except BadInput:
                if time.monotonic() + CONNECT_SECONDS > deadline:
                    words = (
                        f"it is not known whether this was written ({why}) Look for this entry before writing it again"
                    )
                    raise unusable("journal/unknown", head, words) from bad
                time.sleep(0.3)
        if row is None or row.hash != entry.hash:
            raise unusable("journal/not-written", head, f"was not written: {why}") from bad

    @contextmanager
    def _settled(self) -> Iterator[Connection]:
        """A view in which a commit of ours that is still under way has come to its end.

        A server may still be busy with it after the connection broke; it then holds the writer's turn.
        """
        with self.writing() if self.file is None else self.reading() as connection:
            yield connection

    def _keep(self, content: bytes, media: str) -> str:
        if len(content) > MAX_BYTES:
            raise unusable("journal/attachment", "The content", "is too large to keep")
        self.allow(())
        digest = hashlib.sha256(content).hexdigest()
        with self.writing() as connection:
            refuse_archived(connection, self.site)
            _take_turns(connection)
            put_content(connection, digest, media, content)
        return digest


def read_entry(row: Any) -> Entry:
    """Return the entry that a row of the table says; raises BadInput when it says none."""
    try:
        at = datetime.fromisoformat(row.at)
        if at.tzinfo is None:
            raise ValueError("no offset")
        body, known_by = parted(row.body)
        return Entry(row.number, at, row.by, EVENT.validate_json(body), row.previous, row.hash, known_by)
    except (ValidationError, ValueError, TypeError):
        raise unusable("journal/entry", f"Entry {row.number}", "cannot be read; verify the journal") from None


@contextmanager
def without_collecting() -> Iterator[None]:
    """Put off the search for garbage while many records are made, all of which stay: it takes longer than they do."""
    on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if on:
            gc.enable()


def _lock_key(site: str) -> int:
    return int.from_bytes(hashlib.sha256(f"journal of {site}".encode()).digest()[:8], "big", signed=True)


def _take_turns(connection: Connection) -> None:
    """Let writers for different sites take turns at what all sites of a database share."""
    if connection.dialect.name == "postgresql":
        connection.execute(select(func.pg_advisory_xact_lock(_lock_key("every site, what they share"))))
