"""A record is read again only when it may have changed: pages look every few seconds, thirty of them at once."""

from __future__ import annotations

import os
import time
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

import scheduler
from app import reading
from app.lately import LATELY_S, Lately
from app.reading import forgetting_when_written, marks_of, read
from app.served import visitors
from app.served.visitors import Served, set_up
from scheduler import bundled_sites
from scheduler.ledger import Journal, JournalPlace, set_archived
from scheduler.ledger.day_events import NoteKept
from scheduler.ledger.noted import noted
from scheduler.ledger.place import place_of


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> JournalPlace:
    """The record of a job with one note in it, not touched for a while; nothing of it was read yet."""
    monkeypatch.setattr(reading, "_last", {})
    monkeypatch.setattr(visitors, "_ARCHIVES", visitors._Archives())
    monkeypatch.setattr(reading, "SETTLED_S", 0.05)
    case = scheduler.load(bundled_sites()["orchard-lane"])
    found = place_of(case.site, case.path, str(tmp_path))
    with closing(found.open()) as journal:
        journal.append(NoteKept(when=case.network.clock.when(0), words="Seen."), by="test")
    time.sleep(0.1)
    return found


def counting(place: JournalPlace) -> tuple[JournalPlace, list[int]]:
    """Return a place that counts how often its journal is opened."""
    opened: list[int] = []
    return replace(place, set_up=lambda _: opened.append(1)), opened


def test_what_readers_leave_beside_a_journal_is_no_change_of_it(place: JournalPlace) -> None:
    beside = Path(f"{place.where}-wal")
    before = marks_of(place.where)
    assert before is not None
    beside.touch()
    assert marks_of(place.where) == before
    beside.write_bytes(b"x")
    assert marks_of(place.where) is None, "it changed just now, and may once more"
    time.sleep(0.1)
    assert marks_of(place.where) not in (None, before)
    os.remove(beside)


def test_a_journal_is_opened_again_only_after_somebody_wrote(place: JournalPlace) -> None:
    counted, opened = counting(place)
    assert [len(read(counted)) for _ in range(5)] == [1] * 5
    assert len(opened) == 1
    with closing(place.open()) as journal:
        journal.append(NoteKept(when=journal.entries()[0].at, words="Seen again."), by="test")
    assert [len(read(counted)) for _ in range(2)] == [2, 2]
    time.sleep(0.1)
    assert [len(read(counted)) for _ in range(3)] == [2, 2, 2]
    assert 2 <= len(opened) <= 4


def test_whether_a_job_is_archived_is_seen_within_a_second_though_its_journal_is_not_opened_each_time(
    place: JournalPlace, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(visitors, "_SERVED", [])
    monkeypatch.setattr(visitors, "LOOK_AGAIN_S", 0.0)
    counted, opened = counting(place)
    monkeypatch.setattr(visitors, "place_of", lambda *_: counted)
    here = Served({"lane": bundled_sites()["orchard-lane"]}, None)  # type: ignore[arg-type]
    set_up(here)
    assert [here.archived("lane") for _ in range(5)] == [None] * 5
    assert len(opened) == 1
    with closing(place.open()) as journal:
        set_archived(journal, to=True, by="test")
    found = here.archived("lane")
    assert found is not None
    assert found.by == "test"


def test_of_a_database_what_was_read_a_moment_ago_is_rested_on_until_this_process_writes(
    place: JournalPlace, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A journal in a file, taken for one in a database: it does not show whether it changed."""
    now = [100.0]
    monkeypatch.setattr(reading, "_lately", Lately(lambda: now[0]))
    monkeypatch.setattr(reading, "marks_of", lambda _: None)
    counted, opened = counting(replace(place, where=f"sqlite:///{place.where}"))
    note = NoteKept(when=read(place)[0].at, words="Seen again.")
    asked = forgetting_when_written(counted)
    assert [len(read(asked)) for _ in range(4)] == [1] * 4
    assert len(opened) == 1
    with closing(asked.open()) as journal:
        journal.append(note, by="test")
    assert len(read(asked)) == 2, "its own entry is seen at once"
    with closing(place.open()) as journal:
        journal.append(note, by="somebody elsewhere")
    assert len(read(asked)) == 2
    now[0] += LATELY_S
    assert len(read(asked)) == 3


def test_two_jobs_in_one_database_are_never_taken_for_each_other(
    place: JournalPlace, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Files take the part of a database that holds the records of a whole firm at one address."""
    when = read(place)[0].at

    def opened(asked: JournalPlace, **_: object) -> Journal:
        assert asked.job is not None
        journal = Journal.open(tmp_path / f"{asked.job.id}.db", site=asked.job.id)
        asked.set_up(journal)
        return journal

    monkeypatch.setattr(JournalPlace, "open", opened)
    assert place.job is not None
    one = replace(place, where="postgresql://firm")
    other = replace(one, job=replace(place.job, id=f"{place.job.id}-2"))
    assert one.record != other.record
    for number, mine in enumerate((one, other), start=1):
        with closing(forgetting_when_written(mine).open()) as journal:
            for _ in range(number):
                journal.append(NoteKept(when=when, words=f"Job {number}."), by="test")
    for _ in range(2):
        found = [[e.event.words for e in read(mine)] for mine in (one, other)]  # type: ignore[union-attr]
        assert found == [["Job 1."], ["Job 2."] * 2]


def test_a_reading_that_took_long_does_not_take_the_place_of_a_later_one() -> None:
    now = [0.0]
    lately = Lately(lambda: now[0])

    def slow() -> str:
        now[0] = 0.5
        assert lately.ask("entries", lambda: "five") == "five"
        return "four"

    assert lately.ask("entries", slow) == "four"
    assert lately.ask("entries", lambda: "asked again") == "five"


def test_what_a_real_job_writes_is_noted_beside_it_as_well_as_read_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("JOINTTRENCH_HOME", str(tmp_path / "home"))
    lately = Lately(lambda: 0.0)
    monkeypatch.setattr(reading, "_lately", lately)
    case = scheduler.load(bundled_sites()["orchard-lane"])
    practice = place_of(case.site, case.path, str(tmp_path))
    assert practice.job is not None
    real = replace(practice, job=replace(practice.job, id="real-job", invented=False))
    lately.ask("question", lambda: "before")
    with closing(forgetting_when_written(real).open()) as journal:
        entry = journal.append(NoteKept(when=case.network.clock.when(0), words="Seen."), by="test")
    kept = noted(real.job)  # type: ignore[arg-type]
    assert kept is not None
    assert (kept.number, kept.hash) == (1, entry.hash)
    assert lately.ask("question", lambda: "anew") == "anew"
