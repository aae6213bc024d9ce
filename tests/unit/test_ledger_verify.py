"""Tampering and damage are found, and the place is named."""

from __future__ import annotations

import sqlite3
from datetime import timedelta
from pathlib import Path
from random import Random

import pytest

from scheduler.ledger.entry_body import chained
from scheduler.ledger.events import HoldReleased, PlanAccepted
from scheduler.ledger.store import Journal
from scheduler.ledger.verify import verify
from tests.journals import PDF, START, filled, guarded_again, new_journal, unguarded


@pytest.fixture
def journal(tmp_path: Path) -> Journal:
    return filled(new_journal("sqlite", tmp_path), 8)


def tampered(journal: Journal, *statements: str) -> set[tuple[str, str]]:
    """Run statements past the guards; return rule and place of what `verify` then finds."""
    journal.close()
    raw = unguarded(Path(journal.where))
    for statement in statements:
        raw.execute(statement)
    guarded_again(raw)
    raw.close()
    return {(f.rule, f.where) for f in verify(journal)}


def test_a_sound_journal_is_silent(journal: Journal) -> None:
    assert verify(journal) == []
    assert tampered(journal) == set()


def test_a_changed_word_is_named(journal: Journal) -> None:
    found = tampered(journal, "UPDATE journal_entries SET body = replace(body, 'R5/', 'R6/') WHERE number = 5")
    assert found == {("journal/changed", "Entry 5")}


@pytest.mark.parametrize("column", ["at", "by", "previous"])
def test_no_part_of_an_entry_escapes(journal: Journal, column: str) -> None:
    found = tampered(journal, f"""UPDATE journal_entries SET "{column}" = 'x' || "{column}" WHERE number = 3""")
    assert ("journal/changed", "Entry 3") in found


@pytest.mark.parametrize("number", [1, 4, 8])
def test_a_deleted_entry_is_missed_even_at_the_end(journal: Journal, number: int) -> None:
    assert tampered(journal, f"DELETE FROM journal_entries WHERE number = {number}") == {
        ("journal/gap", f"Entry {number}")
    }


def test_swapped_entries_are_named(journal: Journal) -> None:
    found = tampered(
        journal,
        "UPDATE journal_entries SET number = 99 WHERE number = 3",
        "UPDATE journal_entries SET number = 3 WHERE number = 6",
        "UPDATE journal_entries SET number = 6 WHERE number = 99",
    )
    assert {("journal/changed", "Entry 3"), ("journal/changed", "Entry 6")} <= found


def test_an_entry_rewritten_with_a_new_hash_breaks_the_chain(journal: Journal) -> None:
    raw = sqlite3.connect(journal.where)
    names = ("site", "number", "at", "by", "body", "previous")
    row = raw.execute("""SELECT site, number, at, "by", body, previous FROM journal_entries WHERE number = 4""")
    said = dict(zip(names, row.fetchone(), strict=True)) | {"by": "somebody else"}
    raw.close()
    change = f"""UPDATE journal_entries SET "by" = 'somebody else', hash = '{chained(said)}' WHERE number = 4"""
    seal = f"UPDATE journal_seals SET hash = '{chained(said)}' WHERE number = 4"
    assert tampered(journal, change, seal) == {("journal/chain", "Entry 5")}
    assert [f.text for f in verify(journal)] == ["does not follow from entry 4."]


def test_a_lost_seal_is_named(journal: Journal) -> None:
    assert tampered(journal, "DELETE FROM journal_seals WHERE number = 2") == {("journal/seal", "Entry 2")}


def test_a_cut_end_is_seen_against_a_note_kept_elsewhere(journal: Journal) -> None:
    head = journal.entries()[-1].hash
    cut = [f"DELETE FROM {t} WHERE number > 6" for t in ("journal_entries", "journal_seals")]
    assert tampered(journal, *cut) == set()
    assert [f.rule for f in verify(journal, head=head)] == ["journal/head"]


def test_changed_and_lost_evidence_is_named(journal: Journal) -> None:
    digest = journal.attach(PDF)
    assert tampered(journal, "UPDATE journal_attachments SET content = x'00'") == {
        ("journal/attachment", f"Attached content {digest[:12]}")
    }


def test_evidence_that_an_entry_names_and_an_entry_that_is_no_event_are_missed(journal: Journal) -> None:
    plan = journal.keep_plan("{}")
    journal.append(PlanAccepted(plan=plan, data_date=START), at=START + timedelta(hours=9), by="test")
    photo = journal.attach(PDF)
    seen = HoldReleased(hold="h", person="p", role="inspector", evidence="seen", attachment=photo, when=START)
    journal.append(seen, at=START + timedelta(hours=9), by="test")
    assert verify(journal) == []
    found = tampered(
        journal, "DELETE FROM journal_attachments", "UPDATE journal_entries SET body = '{}' WHERE number = 2"
    )
    assert {
        ("journal/attachment", "Entry 9"),
        ("journal/attachment", "Entry 10"),
        ("journal/entry", "Entry 2"),
    } <= found
    texts = [f.text for f in verify(journal) if f.rule == "journal/attachment"]
    assert texts == [f"names content {digest[:12]}, which is missing." for digest in (plan, photo)]


def test_a_wrong_seal_and_a_gap_in_the_middle_are_named_each_by_its_entry(journal: Journal) -> None:
    assert tampered(journal, "UPDATE journal_seals SET hash = 'x' WHERE number = 3") == {("journal/seal", "Entry 3")}
    both = [f"DELETE FROM {t} WHERE number IN (5, 6)" for t in ("journal_entries", "journal_seals")]
    assert {("journal/gap", "Entry 5"), ("journal/gap", "Entry 6")} <= tampered(journal, *both)


def test_a_flipped_byte_of_an_entry_is_named(journal: Journal) -> None:
    """Flip each of some bytes of entry 5's body in the file itself, also to what is no text."""
    with journal.engine.connect() as connection:
        connection.exec_driver_sql("COMMIT")
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    journal.close()
    path = Path(journal.where)
    sound = path.read_bytes()
    body = sound.index(b'"R5/dig"')
    random = Random(5)
    for offset in range(8):
        spoiled = bytearray(sound)
        spoiled[body + offset] ^= random.choice([1, 2, 16, 128])
        path.write_bytes(spoiled)
        found = verify(journal)
        assert ("journal/changed", "Entry 5") in {(f.rule, f.where) for f in found}
        assert all(f.remedy for f in found)
        journal.close()


def test_what_the_database_itself_finds_wrong_is_told(journal: Journal) -> None:
    """A digest stands in its row and in the index over it; changed in one of them, the two no longer agree."""
    digest = journal.attach(PDF).encode()
    with journal.engine.connect() as connection:
        connection.exec_driver_sql("COMMIT")
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    journal.close()
    path = Path(journal.where)
    sound = path.read_bytes()
    places = [n for n in range(len(sound)) if sound.startswith(digest, n)]
    assert len(places) > 1
    for place in places:
        path.write_bytes(sound[:place] + b"?" + sound[place + 1 :])
        assert "journal/file" in {f.rule for f in verify(journal)}
        journal.close()


def test_flipped_bits_anywhere_never_end_in_a_traceback(journal: Journal) -> None:
    with journal.engine.connect() as connection:
        connection.exec_driver_sql("COMMIT")
        connection.exec_driver_sql("PRAGMA wal_checkpoint(TRUNCATE)")
    journal.close()
    path = Path(journal.where)
    sound = path.read_bytes()
    random = Random(11)
    for _ in range(40):
        spoiled = bytearray(sound)
        spoiled[random.randrange(len(spoiled))] ^= 1 << random.randrange(8)
        path.write_bytes(spoiled)
        assert isinstance(verify(journal), list)
        journal.close()
