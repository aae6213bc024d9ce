"""Heads, signatures, backups and exports: what can be proved with something at hand outside the journal."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from scheduler.errors import BadInput
from scheduler.ledger.attachments import MOST_PIXELS
from scheduler.ledger.backup import DIGEST, back_up, opened_backup
from scheduler.ledger.entry_body import chained
from scheduler.ledger.events import HoldReleased
from scheduler.ledger.folders import key_folder
from scheduler.ledger.heads import Head, code_of, head_of, read_heads
from scheduler.ledger.identity import JobName, admit
from scheduler.ledger.lines import check_lines, export_lines
from scheduler.ledger.restoring import look_at_restoring, restore
from scheduler.ledger.signing import checked_public, own_signer
from scheduler.ledger.store import FIRST, Journal
from scheduler.ledger.verify import verify
from tests.journals import PDF, POSTGRES, START, filled, guarded_again, new_journal, photo, rewritten, unguarded

JOB = JobName("JT-7F3K-9QXD-M2TA-40BN", "Garden row", (START + timedelta(days=9)).date())
KINDS = ["sqlite", pytest.param("postgresql", marks=pytest.mark.skipif(not POSTGRES, reason="no PostgreSQL named"))]


def kept(journal: Journal, count: int = 6) -> Journal:
    """Take a new journal as that of a job, signed, with some entries and a release that has its photo."""
    journal.signer = own_signer()
    filled(journal, count)
    seen = journal.attach(photo())
    journal.append(
        HoldReleased(hold="h", person="p", role="inspector", evidence="Seen.", attachment=seen, when=START), by="p"
    )
    return journal


@pytest.fixture
def journal(tmp_path: Path) -> Iterator[Journal]:
    opened = Journal.open(tmp_path / "job.db", site=JOB.id)
    admit(opened, JOB)
    yield kept(opened)
    opened.close()


def rules(found: list) -> set[str]:
    return {f.rule for f in found}


class TestHeads:
    def test_a_head_is_read_from_any_text_also_misread(self) -> None:
        digest = "c51605e941b3c782519b5aea732929d5eebefcf968d39994dc5aa0d0f577c62b"
        # By hand: the first 60 bits c51605e941b3c78, five at a time: 11000 10100 01011 00000 01011 11010 01010 00001
        # 10110 01111 00011 11000 are the letters 24, 20, 11, 0, 11, 26, 10, 1, 22, 15, 3, 24.
        assert code_of(digest) == "RMB0-BTA1-PF3R"
        text = f"Record at 12:rmbo-BTAI-PF3R, and 13:0000-0000-0000. {digest}"
        assert read_heads(text) == (Head(12, "RMB0-BTA1-PF3R"), Head(13, "0000-0000-0000"), digest)
        assert read_heads("no head: 10:30, 2027-03-09") == ()

    def test_a_rewritten_history_is_found_by_one_head_at_its_place(self, journal: Journal) -> None:
        heads = [Head(e.number, code_of(e.hash)) for e in journal.entries()]
        forge(journal, 3)
        assert rules(verify(journal, heads=heads[:2])) == {"journal/signature"}
        found = [f for f in verify(journal, heads=heads) if f.rule == "journal/head"]
        assert [f.where for f in found] == [f"Entry {n}" for n in range(3, 8)]

    def test_a_cut_end_is_found_by_a_head(self, journal: Journal) -> None:
        head = head_of(journal.entries())
        assert head is not None
        cut(journal, 5)
        (found,) = verify(journal, heads=[head])
        assert (found.rule, found.where) == ("journal/head", "The end of the journal")
        assert "entry 7 was noted outside it" in found.text


def forge(journal: Journal, number: int, *, signed: bool = False) -> None:
    """Rewrite an entry and every later hash and seal, and make the guards anew, as somebody may who holds the file."""
    journal.close()
    raw = unguarded(Path(journal.where))
    rewritten(raw, journal.site, number, own_signer() if signed else None)
    guarded_again(raw)
    raw.close()


def cut(journal: Journal, last: int) -> None:
    journal.close()
    raw = unguarded(Path(journal.where))
    for table in ("journal_entries", "journal_seals", "journal_signatures"):
        raw.execute(f"DELETE FROM {table} WHERE number > {last}")
    guarded_again(raw)
    raw.close()


class TestSignatures:
    def test_a_key_is_made_once_and_kept_from_others(self) -> None:
        public = own_signer().public
        assert own_signer().public == public == checked_public(f" {public}\n")
        (file,) = key_folder().iterdir()
        assert file.stat().st_mode & 0o077 == 0
        with pytest.raises(BadInput, match="no public key"):
            checked_public("jt-key:abc")

    def test_every_entry_is_signed_and_one_key_vouches_for_all(self, journal: Journal) -> None:
        assert verify(journal, keys=[own_signer().public]) == []

    def test_a_forger_without_the_key_is_found(self, journal: Journal) -> None:
        forge(journal, 4)
        found = verify(journal, keys=[own_signer().public])
        assert [f.where for f in found][:2] == ["Entry 4", "Entry 5"]
        assert "Entry 4 and later" in {f.where for f in found}

    def test_a_forger_with_a_key_of_his_own_is_found_by_whoever_has_the_true_one(
        self, journal: Journal, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        true = own_signer().public
        monkeypatch.setenv("JOINTTRENCH_HOME", str(tmp_path / "forger"))
        forge(journal, 4, signed=True)
        assert verify(journal) == [], "without a head or key nobody can tell"
        assert [f.where for f in verify(journal, keys=[true])] == ["Entry 4 and later"]

    def test_a_lost_signature_is_missed(self, journal: Journal) -> None:
        journal.close()
        raw = unguarded(Path(journal.where))
        raw.execute("DELETE FROM journal_signatures WHERE number = 5")
        guarded_again(raw)
        raw.close()
        assert [(f.rule, f.where) for f in verify(journal)] == [("journal/signature", "Entry 5")]


class TestGuards:
    @pytest.mark.parametrize("kind", KINDS)
    def test_a_dropped_trigger_is_missed(self, kind: str, tmp_path: Path) -> None:
        journal = filled(new_journal(kind, tmp_path), 1)
        name = "journal_seals_no_update" if kind == "sqlite" else "journal_seals_no_change"
        on = "" if kind == "sqlite" else " ON journal_seals"
        with journal.engine.begin() as connection:
            connection.exec_driver_sql(f"DROP TRIGGER {name}{on}")
            found = verify_inside(connection, journal) if kind == "postgresql" else []
            if kind == "postgresql":
                connection.rollback()
        found = found or verify(journal)
        assert [(f.rule, f.where) for f in found] == [("journal/guard", f"The trigger {name}")]

    def test_a_trigger_that_does_something_else_is_told(self, journal: Journal) -> None:
        with journal.engine.begin() as connection:
            connection.exec_driver_sql("DROP TRIGGER journal_entries_no_delete")
            connection.exec_driver_sql(
                "CREATE TRIGGER journal_entries_no_delete BEFORE DELETE ON journal_entries BEGIN SELECT 1; END"
            )
        assert [f.where for f in verify(journal)] == ["The trigger journal_entries_no_delete"]


def verify_inside(connection: object, journal: Journal) -> list:
    from scheduler.ledger.verify import _Looking

    return _Looking(connection, journal.site).findings([], [])  # type: ignore[arg-type]


class TestEvidence:
    def test_a_damaged_photo_is_told_and_mended_by_attaching_it_again(self, journal: Journal) -> None:
        digest = journal.entries()[-1].event.attachment  # type: ignore[union-attr]
        journal.close()
        raw = unguarded(Path(journal.where))
        raw.execute("UPDATE journal_attachments SET content = x'00'")
        guarded_again(raw)
        raw.close()
        assert [f.rule for f in verify(journal)] == ["journal/attachment"]
        with pytest.raises(BadInput, match="attach the same file again"):
            journal.attachment(digest)
        assert journal.attach(photo()) == digest
        again = journal.attachment(digest)
        assert again is not None
        assert again.content == photo()
        assert verify(journal) == []

    def test_every_kind_of_photo_is_decoded(self, journal: Journal) -> None:
        for kind in ("JPEG", "PNG", "WEBP", "HEIF"):
            assert journal.attach(photo(kind))
        assert journal.attach(PDF)

    @pytest.mark.parametrize(
        ("content", "why"),
        [
            (photo()[:200], "cannot be decoded"),
            (photo("PNG")[:-40], "cannot be decoded"),
            (b"\xff\xd8\xff made up", "cannot be decoded"),
            (photo("PNG", colour=(90, 80, 70)), "blank"),
            (PDF[:20], "cut off"),
        ],
    )
    def test_what_shows_nothing_is_no_evidence(self, journal: Journal, content: bytes, why: str) -> None:
        with pytest.raises(BadInput, match=why):
            journal.attach(content)

    def test_a_small_file_that_decodes_to_a_huge_picture_is_refused_unseen(self, journal: Journal) -> None:
        from io import BytesIO

        from PIL import Image

        out = BytesIO()
        side = int(MOST_PIXELS**0.5) + 100
        Image.new("1", (side, side)).save(out, "PNG")
        assert len(out.getvalue()) < 100_000
        with pytest.raises(BadInput, match="too many pixels"):
            journal.attach(out.getvalue())


class TestBackup:
    @pytest.mark.parametrize("kind", KINDS)
    def test_it_holds_everything_and_is_one_file(self, kind: str, tmp_path: Path) -> None:
        job = JOB
        if kind == "sqlite":
            journal = Journal.open(tmp_path / "job.db", site=job.id)
        else:
            job = replace(JOB, id=new_journal(kind, tmp_path).site)
            journal = Journal.open(POSTGRES, site=job.id)
        admit(journal, job)
        kept(journal)
        (tmp_path / "out").mkdir()
        made = back_up(journal, job, tmp_path / "out")
        assert made.entries == journal.entries()
        assert sorted(p.name for p in (tmp_path / "out").iterdir()) == [made.path.name, f"{made.path.name}{DIGEST}"]
        with opened_backup(made.path, job) as (again, copy):
            assert again.head == head_of(journal.entries())
            assert copy.attachment(copy.entries()[-1].event.attachment) is not None  # type: ignore[union-attr]
            assert verify(copy, keys=[own_signer().public]) == []
        with pytest.raises(BadInput):
            back_up(journal, job, made.path)

    def test_every_flipped_byte_of_it_is_found(self, journal: Journal, tmp_path: Path) -> None:
        made = back_up(journal, JOB, tmp_path / "b.db")
        sound = made.path.read_bytes()
        for at in range(0, len(sound), len(sound) // 25):
            made.path.write_bytes(sound[:at] + bytes([sound[at] ^ 4]) + sound[at + 1 :])
            with pytest.raises(BadInput), opened_backup(made.path, JOB):
                pass

    def test_another_jobs_backup_is_refused(self, journal: Journal, tmp_path: Path) -> None:
        made = back_up(journal, JOB, tmp_path / "b.db")
        with pytest.raises(BadInput, match="no backup of this job"), opened_backup(made.path, replace(JOB, id="x")):
            pass
        with opened_backup(made.path, JOB) as (backup, _), pytest.raises(BadInput, match="first day"):
            look_at_restoring(backup, tmp_path / "new.db", replace(JOB, name="Another"), 0)

    def test_a_damaged_journal_is_brought_back_with_every_later_entry_that_can_be_read(
        self, journal: Journal, tmp_path: Path
    ) -> None:
        made = back_up(journal, JOB, tmp_path / "b.db")
        filled(journal, 4)
        later, where = journal.entries(), Path(journal.where)
        journal.close()
        raw = unguarded(where)
        raw.execute("UPDATE journal_entries SET \"by\" = 'me' WHERE number = 2")
        guarded_again(raw)
        raw.close()
        with opened_backup(made.path, JOB) as (backup, _):
            planned = look_at_restoring(backup, where, JOB, len(later))
        assert (planned.there, len(planned.saved), planned.lost) == ("damaged", 4, 0)
        aside = restore(planned, where, JOB)
        assert aside is not None
        assert aside.exists()
        with closing(Journal.open(where, site=JOB.id)) as again:
            assert again.entries() == later
            assert verify(again, keys=[own_signer().public]) == []

    def test_what_is_lost_is_counted_and_a_whole_journal_is_left_alone(self, journal: Journal, tmp_path: Path) -> None:
        made = back_up(journal, JOB, tmp_path / "b.db")
        with opened_backup(made.path, JOB) as (backup, _):
            assert look_at_restoring(backup, Path(journal.where), JOB, 7).there == "whole"
            planned = look_at_restoring(backup, tmp_path / "gone.db", JOB, 9)
        assert (planned.there, planned.lost) == ("nothing", 2)
        assert restore(planned, tmp_path / "gone.db", JOB) is None
        with closing(Journal.open(tmp_path / "gone.db", site=JOB.id)) as again:
            assert again.entries() == journal.entries()


class TestExport:
    def test_it_is_read_by_a_program_of_a_few_lines(self, journal: Journal, tmp_path: Path) -> None:
        assert export_lines(journal, JOB, tmp_path / "x.jsonl") == 7
        assert check_lines(tmp_path / "x.jsonl", heads=[head_of(journal.entries())], keys=[own_signer().public]) == []  # type: ignore[list-item]
        rows = [json.loads(line) for line in (tmp_path / "x.jsonl").read_text("utf-8").splitlines()]
        previous = FIRST
        for row in (r for r in rows if "entry" in r):
            body = json.dumps(row["event"], sort_keys=True, separators=(",", ":"), ensure_ascii=False)
            said = {"site": rows[0]["chain"], "number": row["entry"], "at": row["at"], "by": row["by"], "body": body}
            assert chained({**said, "previous": previous}) == row["hash"]
            previous = row["hash"]

    def test_every_changed_line_is_told_by_its_number(self, journal: Journal, tmp_path: Path) -> None:
        export_lines(journal, JOB, tmp_path / "x.jsonl")
        sound = (tmp_path / "x.jsonl").read_text("utf-8").splitlines(keepends=True)
        for at, line in enumerate(sound):
            for changed in ("", line.replace("1", "2", 1), line[:-10] + "\n"):
                (tmp_path / "y.jsonl").write_text("".join([*sound[:at], changed, *sound[at + 1 :]]), "utf-8")
                assert check_lines(tmp_path / "y.jsonl"), (at, changed)
        shutil.copy(tmp_path / "x.jsonl", tmp_path / "y.jsonl")
        assert rules(check_lines(tmp_path / "y.jsonl", heads=[Head(3, "0000-0000-0000")])) == {"journal/head"}


def test_a_database_of_nothing_is_no_traceback(tmp_path: Path) -> None:
    sqlite3.connect(tmp_path / "x.db").close()
    with pytest.raises(BadInput):
        Journal.open(tmp_path / "x.db")
