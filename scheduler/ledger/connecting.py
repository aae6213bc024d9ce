"""Connections to the journal's database: made with time limits, and given up when the other side is silent.

SQLite connections remember which file they opened, so that one that was replaced underneath is noticed.
"""

from __future__ import annotations

import os
import random
import socket
import sqlite3
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any
from urllib.parse import quote

from sqlalchemy import Connection, Engine, NullPool, QueuePool, create_engine, event, text
from sqlalchemy.engine import make_url
from sqlalchemy.exc import ArgumentError, DBAPIError, InvalidRequestError, NoSuchModuleError, OperationalError

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity

WAIT_SECONDS = 30.0
"""How long a writer waits for its turn before it gives up."""
CONNECT_SECONDS = 5
"""How long a database server may take to let us in."""
ANSWER_SECONDS = 10.0
"""How long a database server may take to answer, when it is not our turn that we wait for."""
FILE = "journal file"
"""Under which a SQLite connection remembers its file."""


def engine_of(where: str) -> tuple[Engine, str, Path | None]:
    """Return an engine for a file or a database URL, how to show its address, and the file if it is one.

    Raises BadInput for an address that means nothing here.
    """
    if "://" not in where:
        path = Path(where)
        return _file_engine(path), str(path), path
    for short in ("postgres://", "postgresql://"):
        if where.startswith(short):
            where = "postgresql+psycopg://" + where.removeprefix(short)
    try:
        parsed = make_url(where)
        if parsed.get_backend_name() == "sqlite":
            path = Path(parsed.database or "")
            return _file_engine(path), str(path), path
        given = {"connect_timeout": CONNECT_SECONDS} if "connect_timeout" not in parsed.query else {}
        engine = create_engine(parsed, poolclass=NullPool, connect_args=given)
    except (ArgumentError, NoSuchModuleError, ModuleNotFoundError) as error:
        raise unusable("journal/where", "The journal's address", str(error)) from None
    return engine, parsed.render_as_string(hide_password=True), None


def shown(where: str) -> str:
    """Return an address without the password that may stand in it."""
    return engine_of(where)[1] if "://" in where else where


def file_id(path: Path) -> tuple[int, int] | None:
    """Return what tells one file from another that stands under the same name later; None when there is none."""
    try:
        said = path.stat()
    except OSError:
        return None
    return said.st_dev, said.st_ino


def same_file(connection: Connection, path: Path) -> bool:
    """Tell whether a SQLite connection still has the file that stands under its name now."""
    return bool(connection.info.get(FILE) == file_id(path))


def _file_engine(path: Path) -> Engine:
    # mode=rw: a file that is not there is never made by looking for it.
    address = f"file:{quote(str(path))}?mode=rw"

    def connect() -> sqlite3.Connection:
        return sqlite3.connect(address, uri=True, timeout=WAIT_SECONDS, check_same_thread=False)

    engine = create_engine("sqlite://", creator=connect, poolclass=QueuePool)

    def on_connect(raw: Any, record: Any) -> None:
        record.info[FILE] = file_id(path)
        _set_up(raw)
        if record.info[FILE] != file_id(path):
            raise sqlite3.OperationalError("the file was replaced while it was opened")

    event.listen(engine, "connect", on_connect)
    event.listen(engine, "begin", _on_sqlite_begin)
    return engine


def _set_up(raw: Any) -> None:
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


def set_limits(connection: Connection) -> None:
    """Tell a database server how long a statement of this transaction may take, and to write it through."""
    connection.execute(text(f"SET LOCAL statement_timeout = '{int(1000 * ANSWER_SECONDS)}ms'"))
    connection.execute(text("SET LOCAL synchronous_commit = on"))


@contextmanager
def watched(connection: Connection, seconds: float) -> Iterator[None]:
    """Cut a connection to a database server that is silent for longer than this; a file needs no such watch.

    A server that is frozen, or behind a dead network, keeps none of the time limits it was given.
    """
    if connection.dialect.name == "sqlite":
        yield
        return
    ours = socket.fromfd(connection.connection.driver_connection.fileno(), socket.AF_INET, socket.SOCK_STREAM)  # type: ignore[union-attr]
    cut = threading.Timer(seconds, _cut, (ours,))
    cut.daemon = True
    cut.start()
    try:
        yield
    finally:
        cut.cancel()
        ours.close()


def _cut(ours: socket.socket) -> None:
    with suppress(OSError):
        ours.shutdown(socket.SHUT_RDWR)


@contextmanager
def understood(where: str) -> Iterator[None]:
    """Turn what a database says into words for whoever keeps the journal."""
    try:
        yield
    except (DBAPIError, sqlite3.Error, InvalidRequestError, UnicodeDecodeError) as error:
        cause = error.orig if isinstance(error, DBAPIError) else error
        words = (str(cause).splitlines() or ["no answer"])[0]
        if isinstance(error, OperationalError | sqlite3.OperationalError):
            raise unusable("journal/reach", where, f"cannot be used just now: {words}") from error
        raise unusable("journal/database", where, f"is no journal that can be used: {words}") from error


def unusable(rule: str, where: str, words: str) -> BadInput:
    """Return the refusal of something about a journal, as the one finding it is."""
    return BadInput([Finding(rule, Severity.STOP, where, words.rstrip(".") + ".")])


def make_whole(path: Path, fill: Callable[[Connection], None]) -> None:
    """Make a SQLite file whole under another name, then give it this one; one that is there by then is left alone.

    `fill` writes into it inside one transaction. A process that is killed leaves no half-made journal behind.
    """
    aside = path.with_name(f".{path.name}.{os.getpid()}-{random.randrange(10**9)}")
    try:
        aside.touch()
        engine = _file_engine(aside)
        with engine.connect() as plain:
            connection = plain.execution_options(journal_writer=True)
            with connection.begin():
                fill(connection)
        engine.dispose()  # the last connection to a file puts everything into the file itself
        put_in_place(aside, path)
    except OSError as error:
        raise unusable("journal/reach", str(path), f"cannot be made: {error.strerror or error}") from error
    finally:
        for tail in ("", "-wal", "-shm"):
            Path(f"{aside}{tail}").unlink(missing_ok=True)


def put_in_place(aside: Path, path: Path) -> bool:
    """Give a whole file a name that no file has; return False, and leave both, when another has it by then."""
    try:
        os.link(aside, path)
    except FileExistsError:
        return False
    except OSError:  # a file system that knows no second names
        if path.exists():
            return False
        os.rename(aside, path)
    sync_folder(path.parent)
    return True


def sync_folder(folder: Path) -> None:
    """See to it that the names in a folder are on disk; some systems cannot be asked."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
