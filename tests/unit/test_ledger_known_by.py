"""How the writer of an entry was known stands in the entry, hashed with it, and older entries stay as they were."""

from __future__ import annotations

import json
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import insert, select

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.ledger.day_events import NoteKept
from scheduler.ledger.entry_body import canonical, chained
from scheduler.ledger.identity import JobName, admit
from scheduler.ledger.journal_tables import ENTRIES, SEALS
from scheduler.ledger.lines import check_lines, export_lines
from scheduler.ledger.store import FIRST, Journal
from scheduler.ledger.verify import verify
from tests.journals import START, filled, started

JOB = JobName("JT-7F3K-9QXD-M2TA-40BN", "Garden row", START.date())


def older_entry(journal: Journal) -> None:
    """Write an entry as a version did that knew neither `known_by` nor `despite`."""
    body = {"activity": "R1/dig", "name": "started", "when": START.isoformat()}
    said = {"site": journal.site, "number": 1, "at": START.isoformat(), "by": "test", "body": canonical(body)}
    said["previous"] = FIRST
    with journal.writing() as connection:
        connection.execute(insert(ENTRIES).values(**said, hash=chained(said)))
        connection.execute(insert(SEALS).values(site=journal.site, number=1, hash=chained(said)))


@pytest.fixture
def mixed(tmp_path: Path) -> Journal:
    """An entry of an older version, one that says nothing, and one whose writer came by a link."""
    journal = Journal.open(tmp_path / "job.db", site=JOB.id)
    admit(journal, JOB)
    older_entry(journal)
    journal.append(started(2), at=START, by="test")
    journal.known_by = "personal link and code"
    words = r'he wrote "known_by":"this machine", and {\"known_by\":"x"}'
    journal.append(NoteKept(words=words, when=START), at=START, by="Kim Ode")
    return journal


def test_it_stands_in_the_entry_and_older_ones_say_nothing(mixed: Journal) -> None:
    with closing(mixed):
        entries = mixed.entries()
        assert [e.known_by for e in entries] == ["", "", "personal link and code"]
        assert [e.writer for e in entries] == ["test", "test", "Kim Ode (personal link and code)"]
        assert '"known_by":"this machine"' in entries[2].event.words
        assert verify(mixed) == []


def test_who_changes_it_afterwards_is_found(mixed: Journal) -> None:
    with closing(mixed), mixed.reading() as connection:
        row = connection.execute(select(ENTRIES).where(ENTRIES.c.number == 3)).one()
        said = dict(row._mapping)
        assert chained(said) == row.hash
        said["body"] = said["body"].replace('"known_by":"personal link and code"', '"known_by":"this machine"')
        assert chained(said) != row.hash


def test_export_and_backup_keep_every_entry_as_it_was_hashed(mixed: Journal, tmp_path: Path) -> None:
    with closing(mixed):
        export_lines(mixed, JOB, tmp_path / "job.jsonl")
        assert check_lines(tmp_path / "job.jsonl") == []
        rows = [json.loads(line) for line in (tmp_path / "job.jsonl").read_text().splitlines()]
        assert [r["event"].get("known_by") for r in rows if "entry" in r] == [None, None, "personal link and code"]


def test_whoever_may_not_write_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    def allow(happened: object) -> None:
        raise BadInput([Finding("served/refused", Severity.STOP, "The entry", "is not yours to write.")])

    with Journal.open(tmp_path / "job.db", site=JOB.id) as journal:
        filled(journal, 1)
        journal.allow = allow
        with pytest.raises(BadInput, match="not yours"):
            journal.append(started(2), by="test")
        assert len(journal.entries()) == 1
