"""Faults are told truly: what is acknowledged is there, what is called not written is not, and the rest is unknown."""

from __future__ import annotations

import os
import shutil
import socket
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import text
from sqlalchemy.exc import OperationalError

from scheduler.errors import BadInput
from scheduler.ledger.store import FIRST, LOOKING, Entry, Journal
from scheduler.ledger.verify import verify
from tests.journals import POSTGRES, START, filled, new_journal, started

KINDS = ["sqlite", pytest.param("postgresql", marks=pytest.mark.skipif(not POSTGRES, reason="no PostgreSQL named"))]


@pytest.fixture(params=KINDS)
def journal(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Journal]:
    opened = filled(new_journal(request.param, tmp_path), 2)
    yield opened
    opened.close()


def break_next_commit(journal: Journal, monkeypatch: pytest.MonkeyPatch, *, after: bool) -> None:
    """Let the next commit break off without an answer, after or before the database has done it."""
    dialect = journal.engine.dialect
    whole, left = dialect.do_commit, [1]

    def broken(connection: Any) -> None:
        if not left:
            whole(connection)
            return
        left.clear()
        if after:
            whole(connection)
        raise dialect.dbapi.OperationalError("server closed the connection unexpectedly")  # type: ignore[union-attr]

    monkeypatch.setattr(dialect, "do_commit", broken)


def rule(bad: pytest.ExceptionInfo[BadInput]) -> str:
    return bad.value.findings[0].rule


def test_a_commit_whose_answer_was_lost_is_looked_for_and_acknowledged(
    journal: Journal, monkeypatch: pytest.MonkeyPatch
) -> None:
    said: list[str] = []
    journal.tell = said.append
    break_next_commit(journal, monkeypatch, after=True)
    entry = journal.append(started(3), by="test")
    assert entry in journal.entries()
    assert said == [LOOKING]
    assert verify(journal) == []


def test_a_commit_that_was_not_done_is_called_not_written(journal: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    break_next_commit(journal, monkeypatch, after=False)
    with pytest.raises(BadInput, match="was not written") as bad:
        journal.append(started(3), by="test")
    assert rule(bad) == "journal/not-written"
    assert len(journal.entries()) == 2
    assert journal.append(started(3), by="test").number == 3


@pytest.mark.parametrize("after", [True, False])
def test_when_looking_does_not_help_it_is_called_unknown(
    journal: Journal, monkeypatch: pytest.MonkeyPatch, after: bool
) -> None:
    monkeypatch.setattr("scheduler.ledger.store.LOOK_SECONDS", 0.0)
    break_next_commit(journal, monkeypatch, after=after)
    connect = type(journal.engine).connect
    calls = []

    def gone(engine: object) -> object:
        calls.append(1)
        if len(calls) > 1:  # the write itself still gets through
            raise OperationalError("", {}, Exception("connection refused"))
        return connect(engine)  # type: ignore[arg-type]

    monkeypatch.setattr(type(journal.engine), "connect", gone)
    with pytest.raises(BadInput, match="not known whether this was written") as bad:
        journal.append(started(3), by="test")
    assert rule(bad) == "journal/unknown"
    monkeypatch.undo()
    assert len(journal.entries()) == (3 if after else 2)


@pytest.mark.skipif(not POSTGRES, reason="no PostgreSQL named")
def test_a_writer_whose_server_process_dies_is_told_the_truth(tmp_path: Path) -> None:
    journal, killer = new_journal("postgresql", tmp_path), new_journal("postgresql", tmp_path)

    def killed() -> None:
        with journal.writing() as connection:
            pid = connection.execute(text("SELECT pg_backend_pid()")).scalar_one()
            with killer.engine.begin() as other:
                other.execute(text("SELECT pg_terminate_backend(:pid)"), {"pid": pid})
            journal._insert(connection, journal._entry(started(1), START, "test", 1, FIRST))

    for _ in range(3):
        with pytest.raises(BadInput):
            killed()
    assert journal.entries() == ()


def test_a_server_that_says_nothing_is_given_up(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("scheduler.ledger.connecting.CONNECT_SECONDS", 2)
    pytest.importorskip("psycopg")
    with socket.socket() as silent:
        silent.bind(("localhost", 0))
        silent.listen()
        before = time.monotonic()
        with pytest.raises(BadInput) as bad:
            Journal.open(f"postgresql://tester@localhost:{silent.getsockname()[1]}/x", site="s")
    assert rule(bad) == "journal/reach"
    assert time.monotonic() - before < 20


class TestFile:
    """What may happen to the file under a running program."""

    @pytest.fixture
    def opened(self, tmp_path: Path) -> Journal:
        return filled(new_journal("sqlite", tmp_path), 2)

    def test_one_replaced_by_an_older_copy_takes_no_more_entries(self, opened: Journal, tmp_path: Path) -> None:
        where = Path(opened.where)
        opened.close()
        shutil.copy(where, tmp_path / "older")
        filled(opened, 1)
        opened.close()
        opened.entries()
        os.replace(tmp_path / "older", where)
        with pytest.raises(BadInput, match="no longer holds entry 3"):
            opened.append(started(4), by="test")
        assert len(Journal.open(where).entries()) == 2

    def test_one_replaced_by_a_copy_of_itself_is_written_on(self, opened: Journal, tmp_path: Path) -> None:
        where = Path(opened.where)
        opened.close()
        opened.entries()
        shutil.copy(where, tmp_path / "copy")
        os.replace(tmp_path / "copy", where)
        entry = opened.append(started(3), by="test")
        assert Journal.open(where).entries()[-1] == entry

    def test_what_is_told_of_one_replaced_while_it_is_written_is_true(
        self, opened: Journal, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        where = Path(opened.where)
        shutil.copy(where, tmp_path / "copy")
        insert = Journal._insert

        def replaced(self: Journal, *rest: object) -> None:
            insert(self, *rest)  # type: ignore[arg-type]
            os.replace(tmp_path / "copy", where)

        monkeypatch.setattr(Journal, "_insert", replaced)
        acknowledged = set()
        with suppress(BadInput):
            acknowledged.add(opened.append(started(3), by="test").hash)
        assert acknowledged == {e.hash for e in Journal.open(where).entries()[2:]}

    def test_one_that_was_deleted_is_not_made_again(self, opened: Journal) -> None:
        where = Path(opened.where)
        where.unlink()
        with pytest.raises(BadInput):
            opened.append(started(3), by="test")
        assert not where.exists()

    def test_a_full_disk_loses_nothing(self, opened: Journal) -> None:
        with opened.engine.connect() as connection:
            pages = connection.exec_driver_sql("PRAGMA page_count").scalar()
            connection.exec_driver_sql(f"PRAGMA max_page_count = {pages}")
            connection.rollback()
        written: list[Entry] = []

        def fill() -> None:
            for n in range(3, 200):
                written.append(opened.append(started(n), by="test"))

        with pytest.raises(BadInput, match="full"):
            fill()
        opened.close()
        assert opened.entries()[2:] == tuple(written)
        assert opened.append(started(300), by="test").number == len(written) + 3
        assert verify(opened) == []

    def test_a_writer_that_was_killed_while_making_it_leaves_no_half_journal(self, tmp_path: Path) -> None:
        left = tmp_path / ".a.journal.db.1-2"
        left.touch()
        journal = Journal.open(tmp_path / "a.journal.db")
        assert journal.append(started(1), by="test").number == 1
        assert [p.name for p in tmp_path.iterdir() if p != left and not p.name.startswith("a.journal.db")] == []

    def test_an_empty_file_is_no_journal(self, tmp_path: Path) -> None:
        (tmp_path / "cut.db").touch()
        with pytest.raises(BadInput, match="holds no journal"):
            Journal.open(tmp_path / "cut.db")
