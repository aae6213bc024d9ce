"""An archived job: its record is read as before, and nobody writes into it, wherever from, until that is taken back."""

from __future__ import annotations

import shutil
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

import pytest
from icalendar import Calendar
from sqlalchemy import text

import scheduler
from scheduler import BadInput, bundled_sites
from scheduler.cli import main
from scheduler.ledger import Journal, archived, place_of, set_archived, verify
from scheduler.ledger.backup import back_up, opened_backup
from scheduler.ledger.identity import JobName
from tests.journals import POSTGRES, filled, new_journal, photo, started

KINDS = ["sqlite", pytest.param("postgresql", marks=pytest.mark.skipif(not POSTGRES, reason="no PostgreSQL named"))]


@pytest.mark.parametrize("kind", KINDS)
def test_nothing_is_written_while_a_job_is_archived(kind: str, tmp_path: Path) -> None:
    journal = filled(new_journal(kind, tmp_path), 2)
    again = Journal.open(journal.where, site=journal.site) if journal.file else journal
    assert archived(journal) is None
    assert set_archived(journal, to=True, by="Ruth Amsel")
    assert not set_archived(journal, to=True, by="Somebody else")
    found = archived(again)
    assert found is not None
    assert found.by == "Ruth Amsel"
    for write in (
        lambda: again.append(started(3), by="x"),
        lambda: again.attach(photo("PNG")),
        lambda: again.keep_plan("{}"),
    ):
        with pytest.raises(BadInput, match="archived"):
            write()
    assert len(again.entries()) == 2
    assert verify(again) == []
    assert set_archived(again, to=False, by="Ruth Amsel")
    assert archived(journal) is None
    assert journal.append(started(3), by="x").number == 3
    assert verify(journal) == []
    with journal.engine.begin() as raw, pytest.raises(Exception, match="never changed"):
        raw.execute(text("DELETE FROM journal_archivings"))


def test_a_journal_from_before_there_was_archiving_goes_on_and_can_be_archived(tmp_path: Path) -> None:
    with closing(filled(new_journal("sqlite", tmp_path), 2)) as journal:
        where = journal.where
        with journal.engine.begin() as raw:
            raw.execute(text("DROP TABLE journal_archivings"))
    with closing(Journal.open(where)) as journal:
        assert archived(journal) is None
        assert journal.append(started(3), by="x").number == 3
        assert set_archived(journal, to=True, by="Ruth Amsel")
        assert verify(journal) == []


def test_nobody_archives_without_a_name(tmp_path: Path) -> None:
    with closing(new_journal("sqlite", tmp_path)) as journal, pytest.raises(BadInput, match="named"):
        set_archived(journal, to=True, by=" ")


@pytest.fixture
def lane(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("JOINTTRENCH_JOURNAL", str(tmp_path))
    return Path(shutil.copy(bundled_sites()["orchard-lane"], tmp_path / "lane.yaml"))


def archive(file: Path, *, to: bool = True) -> None:
    site = scheduler.load(file).site
    with closing(place_of(site, file).open()) as journal:
        set_archived(journal, to=to, by="Ruth Amsel")


def test_commands_write_nothing_with_whichever_copy_of_the_file(
    lane: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    archive(lane)
    elsewhere = shutil.copy(lane, tmp_path / "another-name.yaml")
    for file in (lane, elsewhere):
        assert main(["report", str(file), "note", "--words", "Hello", "--by", "x"]) == 2
        assert "archived since" in capsys.readouterr().err
        assert main(["journal", str(file), "show"]) == 0, "what was written can be read"
        capsys.readouterr()
    archive(lane, to=False)
    assert main(["report", str(lane), "note", "--words", "Hello", "--by", "x"]) == 0


def test_a_backup_keeps_that_a_job_is_archived(lane: Path, tmp_path: Path) -> None:
    archive(lane)
    site = scheduler.load(lane).site
    job = JobName.of(site)
    assert job is not None
    with closing(place_of(site, lane).open()) as journal:
        made = back_up(journal, job, tmp_path / "kept.db")
    with opened_backup(made.path, job) as (_, journal):
        assert archived(journal) is not None


def test_a_calendar_at_an_address_says_so_and_has_no_date_of_work(lane: Path) -> None:
    archive(lane)
    case = scheduler.load(lane)
    with closing(place_of(case.site, lane).open()) as journal:
        said = scheduler.calendar_at_address(case, journal, "Sorrel Valley Power", now=datetime.now(UTC))
    (entry,) = Calendar.from_ical(said).events
    assert "archived" in entry["summary"]
