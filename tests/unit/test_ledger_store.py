"""The journal keeps what it acknowledged, in one order, and lets nobody change it; on both databases."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import inspect, text
from sqlalchemy.exc import DBAPIError

from scheduler.errors import BadInput
from scheduler.ledger import store
from scheduler.ledger.attachments import MAX_BYTES
from scheduler.ledger.events import Corrected, HoldReleased, PlanAccepted
from scheduler.ledger.store import FIRST, Journal, read_entry
from scheduler.ledger.verify import verify
from tests.journals import POSTGRES, START, filled, new_journal, photo, rewritten, started, unguarded

KINDS = ["sqlite", pytest.param("postgresql", marks=pytest.mark.skipif(not POSTGRES, reason="no PostgreSQL named"))]
PNG = photo("PNG")

WRITER = """
import sys
from scheduler.ledger.store import Journal
from tests.journals import started
where, site, base, count = sys.argv[1], sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
journal = Journal.open(where, site=site)
for n in range(base, base + count):
    entry = journal.append(started(n), by=f"writer {base}")
    print(entry.number, entry.hash, entry.event.activity, flush=True)
"""


def writer(journal: Journal, base: int, count: int) -> subprocess.Popen[str]:
    where = POSTGRES if journal.engine.dialect.name == "postgresql" else journal.where
    command = [sys.executable, "-c", WRITER, where, journal.site, str(base), str(count)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True, cwd=Path(__file__).parents[2])


def acknowledged(lines: str) -> set[tuple[int, str, str]]:
    """Return what a writer was told is written: number, hash, activity."""
    whole = [line.split() for line in lines.splitlines(keepends=True) if line.endswith("\n")]
    return {(int(number), digest, activity) for number, digest, activity in whole}


def written(journal: Journal) -> set[tuple[int, str, str]]:
    return {(e.number, e.hash, e.event.activity) for e in journal.entries()}  # type: ignore[union-attr]


def test_of_what_is_held_only_the_rest_is_read_and_the_same_comes_back(tmp_path, monkeypatch):
    with filled(new_journal("sqlite", tmp_path), 5) as journal:
        whole, read = journal.entries(), []
        monkeypatch.setattr(store, "read_entry", lambda row: read.append(row.number) or read_entry(row))
        assert journal.entries(held=whole[:3]) == whole
        assert read == [4, 5]
        assert journal.entries(held=whole) == whole
        assert journal.entries(START + timedelta(hours=2), held=whole[:3]) == whole[:2]


@pytest.mark.parametrize("number", [4, 5], ids=["one that follows", "the last"])
def test_what_follows_what_is_held_is_checked_like_the_rest(number, tmp_path):
    with filled(new_journal("sqlite", tmp_path), 5) as journal:
        held = journal.entries()[:3]
        with unguarded(tmp_path / "site.journal.db") as raw:
            raw.execute(f"UPDATE journal_entries SET body = replace(body, 'R', 'Q') WHERE number = {number}")
        with pytest.raises(BadInput, match=f"Entry {number}: is missing or not what was written"):
            journal.entries(held=held)
        with unguarded(tmp_path / "site.journal.db") as raw:
            raw.execute("DELETE FROM journal_entries WHERE number = 5")
        with pytest.raises(BadInput):
            journal.entries(held=held)


def test_a_history_rewritten_under_what_is_held_is_read_anew(tmp_path):
    with filled(new_journal("sqlite", tmp_path), 5) as journal:
        held = journal.entries()
        with unguarded(tmp_path / "site.journal.db") as raw:
            rewritten(raw, "", 2)
        journal.known = None  # as if somebody else had written it
        now = journal.entries(held=held[:4])
        assert now == journal.entries() != held
        assert now[1].by == "somebody else"


@pytest.fixture(params=KINDS)
def journal(request: pytest.FixtureRequest, tmp_path: Path):
    opened = new_journal(request.param, tmp_path)
    yield opened
    opened.close()


class TestContract:
    """What holds on every database."""

    def test_entries_come_back_in_order_and_chained(self, journal: Journal) -> None:
        filled(journal, 3)
        entries = journal.entries()
        assert [e.number for e in entries] == [1, 2, 3]
        assert [e.event for e in entries] == [started(n) for n in (1, 2, 3)]
        assert [e.previous for e in entries] == [FIRST, entries[0].hash, entries[1].hash]
        assert verify(journal) == []

    def test_a_past_moment_shows_what_was_written_by_then(self, journal: Journal) -> None:
        filled(journal, 4)
        assert [e.number for e in journal.entries(START + timedelta(hours=2))] == [1, 2]
        assert journal.entries(START) == ()

    def test_an_entry_can_be_neither_changed_nor_removed(self, journal: Journal) -> None:
        filled(journal, 2)
        before = journal.entries()
        for table in ("journal_entries", "journal_seals"):
            for statement in (f"UPDATE {table} SET hash = 'x'", f"DELETE FROM {table}"):
                with pytest.raises(DBAPIError, match="never changed"), journal.engine.begin() as connection:
                    connection.execute(text(statement))
        assert journal.entries() == before

    def test_no_entry_is_slipped_in(self, journal: Journal) -> None:
        filled(journal, 2)
        for number in (1, 2, 4, 9):
            values = f"('{journal.site}', {number}, '', '', '', '', '')"
            with pytest.raises(DBAPIError, match="follow one another"), journal.engine.begin() as connection:
                connection.execute(text(f"INSERT INTO journal_entries VALUES {values}"))

    def test_evidence_is_kept_once_by_its_content(self, journal: Journal) -> None:
        digest = journal.attach(PNG)
        assert journal.attach(PNG) == digest
        kept = journal.attachment(digest)
        assert kept is not None
        assert (kept.media, kept.content) == ("image/png", PNG)
        assert journal.attachment("0" * 64) is None

    @pytest.mark.parametrize(
        "content", [b"", b"#!/bin/sh", b"<svg/>", b"PK\x03\x04", b"GIF89a", b"%PDF-" + b" " * MAX_BYTES]
    )
    def test_only_photos_and_papers_of_a_fair_size_are_evidence(self, journal: Journal, content: bytes) -> None:
        with pytest.raises(BadInput, match="attached file"):
            journal.attach(content)

    def test_an_event_names_only_what_is_there(self, journal: Journal) -> None:
        release = HoldReleased(hold="h", person="p", role="inspector", evidence="seen", attachment="0" * 64, when=START)
        for event in (
            Corrected(supersedes=1, reason="wrong"),
            PlanAccepted(plan="0" * 64, data_date=START),
            release,
        ):
            with pytest.raises(BadInput):
                journal.append(event, by="test")
        assert journal.entries() == ()
        plan = journal.keep_plan("{}")
        assert journal.append(PlanAccepted(plan=plan, data_date=START), by="test").number == 1

    def test_writing_down_needs_a_name_and_a_zone(self, journal: Journal) -> None:
        with pytest.raises(BadInput):
            journal.append(started(1), by="  ")
        with pytest.raises(ValueError, match="offset"):
            journal.append(started(1), at=datetime(2027, 3, 8), by="test")

    def test_four_writers_at_once_lose_nothing(self, journal: Journal) -> None:
        writers = [writer(journal, 100 * k, 25) for k in range(1, 5)]
        said = [acknowledged(w.communicate(timeout=120)[0]) for w in writers]
        assert [w.returncode for w in writers] == [0] * 4
        assert [len(s) for s in said] == [25] * 4
        assert written(journal) == set().union(*said)
        assert verify(journal) == []

    def test_a_killed_writer_loses_nothing_acknowledged(self, journal: Journal) -> None:
        promised: set[tuple[int, str, str]] = set()
        for n in range(3):
            running = writer(journal, 10_000 * (n + 1), 5_000)
            assert running.stdout is not None
            lines = "".join(running.stdout.readline() for _ in range(2 + 3 * n))
            os.kill(running.pid, signal.SIGKILL)
            promised |= acknowledged(lines + running.stdout.read())
            running.wait(timeout=30)
            assert promised <= written(journal)
        assert len(promised) >= 15
        assert verify(journal) == []
        assert journal.append(started(1), by="test").number == len(journal.entries())

    def test_a_reader_waits_for_no_writer(self, journal: Journal) -> None:
        filled(journal, 2)
        with journal.writing():
            assert len(journal.entries()) == 2


class TestFile:
    """What is particular to a file beside the site file."""

    def test_insert_or_replace_is_no_way_round(self, tmp_path: Path) -> None:
        journal = filled(new_journal("sqlite", tmp_path), 2)
        digest = journal.attach(PNG)
        raw = sqlite3.connect(journal.where)  # a plain connection: no recursive triggers
        for statement in (
            "INSERT OR REPLACE INTO journal_entries VALUES ('', 1, '', '', '', '', '')",
            "REPLACE INTO journal_seals VALUES ('', 2, 'x')",
            f"INSERT OR REPLACE INTO journal_attachments VALUES ('{digest}', 'image/png', x'00')",
        ):
            with pytest.raises(sqlite3.IntegrityError):
                raw.execute(statement)
        raw.close()
        assert verify(journal) == []

    def test_columns_hold_what_they_are_for(self, tmp_path: Path) -> None:
        journal = new_journal("sqlite", tmp_path)
        with pytest.raises(DBAPIError, match="cannot store TEXT"), journal.engine.begin() as connection:
            connection.execute(text("INSERT INTO journal_seals VALUES ('', 'one', 'x')"))

    def test_no_column_may_be_left_empty_and_every_row_has_its_key(self, tmp_path: Path) -> None:
        journal = new_journal("sqlite", tmp_path)
        tables = inspect(journal.engine)
        keys = {t: tables.get_pk_constraint(t)["constrained_columns"] for t in tables.get_table_names()}
        assert keys["journal_entries"] == keys["journal_seals"] == ["site", "number"]
        assert keys["journal_attachments"] == ["hash"]
        assert all(keys.values())
        assert not any(column["nullable"] for t in keys for column in tables.get_columns(t))

    def test_it_is_written_through(self, tmp_path: Path) -> None:
        journal = new_journal("sqlite", tmp_path)
        with journal.reading() as connection:
            settings = [connection.execute(text(f"PRAGMA {p}")).scalar() for p in ("journal_mode", "synchronous")]
        assert settings == ["wal", 2]  # 2 is FULL, sqlite.org/pragma.html#pragma_synchronous

    def test_a_writer_that_never_gets_its_turn_is_told(self, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        monkeypatch.setattr("scheduler.ledger.connecting.WAIT_SECONDS", 0.05)
        journal = filled(new_journal("sqlite", tmp_path), 1)
        with journal.writing(), pytest.raises(BadInput, match="cannot be used just now: database is locked"):
            journal.append(started(2), by="test")
        assert journal.append(started(2), by="test").number == 2

    def test_a_writer_waits_for_its_turn(self, tmp_path: Path) -> None:
        journal = filled(new_journal("sqlite", tmp_path), 1)
        with ThreadPoolExecutor(1) as pool:
            with journal.writing():
                second = pool.submit(journal.append, started(2), by="test")
                with pytest.raises(TimeoutError):
                    second.result(timeout=0.2)
            assert second.result(timeout=30).number == 2

    def test_another_file_is_no_journal(self, tmp_path: Path) -> None:
        (tmp_path / "site.yaml").write_text("site: {name: no journal}\n" * 40)
        with pytest.raises(BadInput, match="no journal"):
            Journal.open(tmp_path / "site.yaml")
        with pytest.raises(BadInput):
            Journal.open(tmp_path / "nowhere" / "a.db")
        with pytest.raises(BadInput):
            Journal.open("nosuch://a/b")
