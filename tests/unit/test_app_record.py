"""Pages and the record they rest on: one that cannot be read, grew elsewhere or lost entries, and an unsure writing."""

from __future__ import annotations

from contextlib import closing
from datetime import timedelta
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

import app
from app.components.told import UNKNOWN
from app.jobs import Job
from scheduler.ledger import store
from scheduler.ledger.events import Finished, Started
from scheduler.ledger.ground_events import CoverReported, Rained
from scheduler.ledger.heads import Head, head_of
from scheduler.ledger.place import place_of
from scheduler.ledger.store import Journal, read_entry
from scheduler.solve.outcome import Options
from tests.unit.test_app_live import SMALL, case, page, place, texts, tuesday, written

__all__ = ["place"]


@pytest.mark.parametrize(
    "screen", ["today", "record", "schedule", "critical", "inspections", "trench", "delay", "conflicts", "paper"]
)
def test_a_journal_that_cannot_be_read_is_a_no_on_every_page(place, screen):
    Path(place.where).write_bytes(b"this is no database, and was never one" * 50)
    at = page(screen, person="r-amsel")
    assert not at.exception
    assert "No. The record cannot be read: do not cover anything." in texts(at)
    assert "The journal of this site cannot be used just now." in texts(at)
    assert "is no journal that can be used" in texts(at)
    assert "Covered before its release: not known." in texts(at)


def test_an_entry_written_elsewhere_is_seen_and_one_that_is_gone_is_missed(place):
    written(place, Started(activity="orchard-row/dig", when=tuesday(7)))
    at = page("record")
    assert "1 entry, the newest first." in texts(at)
    written(place, Finished(activity="orchard-row/dig", when=tuesday(11)))
    assert "2 entries, the newest first." in texts(at.run())
    Path(place.where).unlink()
    assert "it no longer holds entry 2:" in texts(at.run())
    written(place, Started(activity="orchard-row/dig", when=tuesday(8)), Rained(start=tuesday(8), until=tuesday(9)))
    assert "it no longer holds entry 2:" in texts(at.run())


def test_of_a_record_in_a_database_only_what_was_added_since_is_read(tmp_path, monkeypatch):
    monkeypatch.setenv("JOINTTRENCH_JOURNAL", f"sqlite:///{tmp_path / 'firm.db'}")
    place = place_of(case().site, SMALL)
    with closing(Journal.open(tmp_path / "firm.db")):
        pass
    written(place, Started(activity="orchard-row/dig", when=tuesday(7)))
    at = page("record")
    assert "1 entry, the newest first." in texts(at)
    read = []
    monkeypatch.setattr(store, "read_entry", lambda row: read.append(row.number) or read_entry(row))
    monkeypatch.setattr("app.lately.LATELY_S", 0.0)
    assert "1 entry, the newest first." in texts(at.run())
    assert read == []
    with closing(place.open()) as journal:
        journal.append(Finished(activity="orchard-row/dig", when=tuesday(11)), at=tuesday(11), by="test")
    assert "2 entries, the newest first." in texts(at.run())
    assert set(read) == {2}


def test_a_clock_that_stood_ahead_is_named_at_the_head_of_the_page(place):
    written(place, Started(activity="orchard-row/dig", when=tuesday(7)), at=tuesday(12) + timedelta(days=365))
    written(place, Finished(activity="orchard-row/dig", when=tuesday(11)))
    assert "A clock was wrong: by it, entry 1 was written later" in texts(page("today"))


def test_whether_an_entry_was_written_is_found_out_when_nobody_could_say(place):
    dig = Started(activity="orchard-row/dig", when=tuesday(7))
    written(place, dig)
    first, second = head_of(place.open().entries()), Head(2, "0000-0000-0000")
    at = page("record")
    for sought, words in ((first, "It was written down after all"), (second, "Not known yet whether entry 2:0000")):
        at.session_state[UNKNOWN] = sought
        assert words in texts(at.run())
    written(place, Finished(activity="orchard-row/dig", when=tuesday(11)))
    assert "It was not written down" in texts(at.run())
    (read,) = [b for b in at.button if b.label == "I have read this"]
    assert "It was not written down" not in texts(read.click().run())


def test_what_was_covered_too_early_is_told_also_while_there_is_no_plan_yet(place, monkeypatch):
    monkeypatch.setattr("app.session.current_job", lambda case: Job(case, Options()))
    written(place, CoverReported(alignment="pole-branch", from_ft=0, to_ft=28, when=tuesday(9)))
    at = AppTest.from_file(str(Path(app.__file__).with_name("main.py")), default_timeout=60)
    at.query_params["site"] = "orchard-lane"
    said = texts(at.run())
    assert not at.exception
    assert "Finding the best sequence" in said
    assert "**Covered before its release.**" in said
