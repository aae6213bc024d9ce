"""The journal itself: entries are added at the end, in one order, and never changed or removed.

The same tables and statements serve SQLite (a file beside the site file, nothing to set up) and
PostgreSQL (one database for a firm with many sites). One writer at a time; readers wait for nobody.
"""

from __future__ import annotations

import hashlib
import json
import random
import sqlite3
import time
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Self

from pydantic import ValidationError
from sqlalchemy import Connection, Engine, create_engine, event, func, insert, select, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, NoSuchModuleError, OperationalError

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.ledger.attachments import MAX_BYTES, PLAN_MEDIA, Attachment, checked_media
from scheduler.ledger.events import EVENT, Corrected, Event, HoldReleased, PlanAccepted
from scheduler.ledger.journal_tables import ATTACHMENTS, ENTRIES, SEALS, create, is_made

FIRST = "0" * 64
"""What the first entry carries in place of the hash of one before it."""
HASHED = ("site", "number", "at", "by", "body", "previous")
WAIT_SECONDS = 30.0
"""How long a writer waits for its turn before it gives up."""


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the journal: what happened, when it was written down, and by whom."""

    number: int
    at: datetime
    by: str
    event: Event
    previous: str
    hash: str


def journal_path(site_file: Path) -> Path:
    """Return where the journal of a site file lies when nothing else is said: beside it."""
    return site_file.with_name(f"{site_file.stem}.journal.db")


def canonical(value: Any) -> str:
    """Write JSON in the one form that is hashed: keys in order, no spaces."""
    return json.dumps(value, sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def chained(said: Mapping[str, Any]) -> str:
    """Return the hash of an entry: SHA-256 over all it says, with the hash of the one before.

    `said` has the keys site, number, at, by, body and previous.
    """
    return hashlib.sha256(canonical({k: said[k] for k in HASHED}).encode()).hexdigest()


class Journal:
    """An open journal of one site."""

    def __init__(self, engine: Engine, *, site: str, where: str) -> None:
        self.engine, self.site, self.where = engine, site, where

    @classmethod
    def open(cls, where: str | Path, *, site: str = "") -> Journal:
        """Open a journal, and make it when there is none.

        `where` is a file, or a database URL (`postgresql://...`) where `site` names the job among others.
        Raises BadInput when it cannot be reached or is something else.
        """
        url = str(where) if "://" in str(where) else f"sqlite:///{where}"
        for short in ("postgres://", "postgresql://"):
            if url.startswith(short):
                url = "postgresql+psycopg://" + url.removeprefix(short)
        try:
            parsed = make_url(url)
            lite = parsed.get_backend_name() == "sqlite"
            if lite:
                engine = create_engine(parsed, connect_args={"timeout": WAIT_SECONDS})
                event.listen(engine, "connect", _on_sqlite_connect)
                event.listen(engine, "begin", _on_sqlite_begin)
            else:
                engine = create_engine(parsed, pool_pre_ping=True)
        except (ArgumentError, NoSuchModuleError, ModuleNotFoundError) as error:
            raise _unusable("journal/where", "The journal's address", str(error)) from None
        shown = str(parsed.database) if lite else parsed.render_as_string(hide_password=True)
        journal = cls(engine, site=site, where=shown)
        with journal.reading() as connection:
            made = is_made(connection)
        if not made:
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
        """Add an entry; when this returns, it is on disk and will be found.

        `at` is when it is written down, an aware time; None: now. Raises BadInput when the event
        names an attachment, plan or earlier entry that the journal does not hold.
        """
        if at is not None and at.tzinfo is None:
            raise ValueError("the time of an entry needs an offset from UTC")
        if not by.strip() or not by.isprintable() or len(by) > 200:
            raise _unusable("journal/by", "The entry", "does not say who wrote it down")
        body = canonical(happened.model_dump(mode="json"))
        with self.writing() as connection:
            last = connection.execute(
                select(ENTRIES.c.number, ENTRIES.c.hash)
                .where(ENTRIES.c.site == self.site)
                .order_by(ENTRIES.c.number.desc())
                .limit(1)
            ).first()
            number, previous = (last.number + 1, last.hash) if last else (1, FIRST)
            self._check_references(connection, happened, number)
            moment = (at or datetime.now(UTC)).astimezone(UTC)
            said = {"site": self.site, "number": number, "at": moment.isoformat(), "by": by, "body": body}
            said["previous"] = previous
            digest = chained(said)
            connection.execute(insert(ENTRIES).values(**said, hash=digest))
            connection.execute(insert(SEALS).values(site=self.site, number=number, hash=digest))
        return Entry(number, moment, by, happened, previous, digest)

    def entries(self, up_to: datetime | None = None) -> tuple[Entry, ...]:
        """Return the entries in their order; with `up_to`, those written down by then.

        Raises BadInput when one cannot be read; `verify` then says more.
        """
        with self.reading() as connection:
            rows = connection.execute(
                select(ENTRIES).where(ENTRIES.c.site == self.site).order_by(ENTRIES.c.number)
            ).all()
        out = []
        for row in rows:
            try:
                entry = Entry(
                    row.number,
                    datetime.fromisoformat(row.at),
                    row.by,
                    EVENT.validate_json(row.body),
                    row.previous,
                    row.hash,
                )
            except (ValidationError, ValueError, TypeError):
                raise _unusable("journal/entry", f"Entry {row.number}", "cannot be read; verify the journal") from None
            if up_to is None or entry.at <= up_to:
                out.append(entry)
        return tuple(out)

    def attach(self, content: bytes) -> str:
        """Keep a photo or PDF as evidence; returns its hash. Raises BadInput for anything else."""
        return self._keep(content, checked_media(content))

    def keep_plan(self, plan_json: str) -> str:
        """Keep the text of a plan.json, so that an acceptance can name it; returns its hash."""
        return self._keep(plan_json.encode(), PLAN_MEDIA)

    def attachment(self, digest: str) -> Attachment | None:
        """Return what is kept under a hash, or None."""
        with self.reading() as connection:
            row = connection.execute(select(ATTACHMENTS).where(ATTACHMENTS.c.hash == digest)).first()
        return Attachment(row.hash, row.media, bytes(row.content)) if row else None

    @contextmanager
    def reading(self) -> Iterator[Connection]:
        """One consistent view for reading; waits for no writer."""
        with _understood(self.where), self.engine.connect() as connection, connection.begin():
            yield connection

    @contextmanager
    def writing(self) -> Iterator[Connection]:
        """The one writer's transaction: others wait until it is committed or undone."""
        with _understood(self.where), self.engine.connect() as plain:
            connection = plain.execution_options(journal_writer=True)
            with connection.begin():
                if connection.dialect.name == "postgresql":
                    connection.execute(text(f"SET LOCAL lock_timeout = '{int(WAIT_SECONDS)}s'"))
                    connection.execute(text("SET LOCAL synchronous_commit = on"))
                    connection.execute(select(func.pg_advisory_xact_lock(_lock_key(self.site))))
                yield connection

    def _keep(self, content: bytes, media: str) -> str:
        if len(content) > MAX_BYTES:
            raise _unusable("journal/attachment", "The content", "is too large to keep")
        digest = hashlib.sha256(content).hexdigest()
        with self.writing() as connection:
            _take_turns(connection)
            if not _holds(connection, digest):
                connection.execute(insert(ATTACHMENTS).values(hash=digest, media=media, content=content))
        return digest

    def _check_references(self, connection: Connection, happened: Event, number: int) -> None:
        if isinstance(happened, Corrected) and happened.supersedes >= number:
            raise _unusable("journal/supersedes", f"Entry {happened.supersedes}", "does not exist yet")
        kept = happened.attachment if isinstance(happened, HoldReleased) else None
        if isinstance(happened, PlanAccepted):
            kept = happened.plan
        if kept is not None and not _holds(connection, kept):
            raise _unusable("journal/attachment", f"Content {kept[:12]}", "is not kept in the journal")


def _lock_key(site: str) -> int:
    return int.from_bytes(hashlib.sha256(f"journal of {site}".encode()).digest()[:8], "big", signed=True)


def _take_turns(connection: Connection) -> None:
    """Let writers for different sites take turns at what all sites of a database share."""
    if connection.dialect.name == "postgresql":
        connection.execute(select(func.pg_advisory_xact_lock(_lock_key("every site, what they share"))))


def _holds(connection: Connection, digest: str) -> bool:
    return connection.execute(select(ATTACHMENTS.c.hash).where(ATTACHMENTS.c.hash == digest)).first() is not None


def _on_sqlite_connect(raw: Any, _: Any) -> None:
    raw.isolation_level = None
    for pragma in ("synchronous = FULL", "recursive_triggers = ON", "trusted_schema = OFF"):
        raw.execute(f"PRAGMA {pragma}")
    # Turning WAL on needs the file alone for a moment and does not wait by itself.
    deadline = time.monotonic() + WAIT_SECONDS
    while raw.execute("PRAGMA journal_mode").fetchone()[0] != "wal":
        try:
            raw.execute("PRAGMA journal_mode = WAL")
        except sqlite3.OperationalError as error:
            if "locked" not in str(error) or time.monotonic() > deadline:
                raise
            time.sleep(0.02)


def _on_sqlite_begin(connection: Connection) -> None:
    if not connection.get_execution_options().get("journal_writer", False):
        connection.exec_driver_sql("BEGIN")
        return
    # SQLite's own waiting sleeps longer the longer it has waited, so that busy writers starve a patient
    # one; short sleeps of random length give every writer its turn.
    cursor = connection.connection.cursor()
    deadline = time.monotonic() + WAIT_SECONDS
    cursor.execute("PRAGMA busy_timeout = 0")
    try:
        while not _begun(cursor, last_try=time.monotonic() > deadline):
            time.sleep(random.uniform(0.002, 0.012))
    finally:
        cursor.execute(f"PRAGMA busy_timeout = {int(1000 * WAIT_SECONDS)}")


def _begun(cursor: Any, *, last_try: bool) -> bool:
    try:
        cursor.execute("BEGIN IMMEDIATE")
    except sqlite3.OperationalError as error:
        if last_try or "locked" not in str(error):
            raise
        return False
    return True


@contextmanager
def _understood(where: str) -> Iterator[None]:
    """Turn what a database says into words for whoever keeps the journal."""
    try:
        yield
    except (DBAPIError, sqlite3.Error, UnicodeDecodeError) as error:
        cause = error.orig if isinstance(error, DBAPIError) else error
        words = (str(cause).splitlines() or ["no answer"])[0]
        if isinstance(error, OperationalError | sqlite3.OperationalError):
            raise _unusable("journal/reach", where, f"cannot be used just now: {words}") from error
        raise _unusable("journal/database", where, f"is no journal that can be used: {words}") from error


def _unusable(rule: str, where: str, words: str) -> BadInput:
    return BadInput([Finding(rule, Severity.STOP, where, words.rstrip(".") + ".")])
