"""Trying a delay, or another firm, on the page of delays: worked out, and nothing written down."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from app.replans import ASKED, replans
from scheduler.ledger.events import Delayed
from scheduler.ledger.place import JournalPlace, place_of
from scheduler.ledger.trade_events import TakenOver
from scheduler.replan.replan_records import Replanning, TakenAsDone
from tests.unit.test_app_live import SMALL, case, page, planned, texts, tuesday, written


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> JournalPlace:
    """Return where the small site's journal lies for this test."""
    monkeypatch.setenv("JOINTTRENCH_JOURNAL", str(tmp_path))
    return place_of(case().site, SMALL)


def answer(supposing: tuple[Delayed | TakenOver, ...]) -> Replanning:
    """An answer with nothing in it but what is asked about here."""
    taken = (TakenAsDone("orchard-row/bed", "Bed Orchard row", "Site crew"),)
    return Replanning(tuesday(), taken, case().network, (), planned().plan, (), (), ("A note.",), {}, supposing)


def settled(at: AppTest) -> AppTest:
    """Return the page once what was asked is worked out."""
    job = replans().asked(at.session_state[ASKED])
    assert job is not None
    assert job.future is not None
    job.future.result()
    return at.run()


def press(at: AppTest, label: str) -> None:
    (button,) = [b for b in at.button if b.label == label]
    button.click().run()
    assert not at.exception


def test_a_delay_is_tried_and_not_written_down(place: JournalPlace, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.replans.scheduler.replan", lambda *_, supposing, **__: answer(supposing))
    at = page("delay", person="r-amsel")
    (who,) = [s for s in at.selectbox if s.label == "Who cannot come?"]
    who.select("Plumber").run()
    press(at, "Try it without writing it down")
    (tried,) = at.session_state[ASKED][4]
    assert isinstance(tried, Delayed)
    assert tried.who == "Plumber"
    said = texts(settled(at))
    assert "What if. Nothing of this is written down" in said
    assert "Plumber cannot come before Tue 2 Mar 08:00 for anything of theirs." in said
    assert "Work by this plan" not in [b.label for b in at.button]
    assert not place.made


def test_what_is_taken_as_done_is_read_first(place: JournalPlace, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.replans.scheduler.replan", lambda *_, supposing, **__: answer(supposing))
    written(place, Delayed(who="Plumber", not_before=tuesday() + timedelta(days=3)))
    at = page("delay", person="r-amsel")
    press(at, "See what can be done")
    said = texts(settled(at))
    assert "Taken as done, because what follows has begun." in said
    assert "Bed Orchard row, Site crew" in said
    assert "What if." not in said


def test_another_firm_is_tried(place: JournalPlace, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("app.replans.scheduler.replan", lambda *_, supposing, **__: answer(supposing))
    at = page("delay", person="r-amsel")
    (trade,) = [s for s in at.selectbox if s.label == "Which trade leaves?"]
    trade.select("plumber")
    (firm,) = [t for t in at.text_input if t.label == "Which firm does its open work?"]
    firm.input("Brook Pipe")
    press(at, "Try the take-over without writing it down")
    (tried,) = at.session_state[ASKED][4]
    assert isinstance(tried, TakenOver)
    said = texts(settled(at))
    assert "Brook Pipe does the open work of Plumber from Tue 2 Mar 08:00" in said
    assert not place.made
