"""Trying a delay, or another firm, on the page of delays: worked out, and nothing written down."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

import scheduler
from app.replans import ASKED, replans
from scheduler.cli.replan import told
from scheduler.ledger.events import Delayed
from scheduler.ledger.place import JournalPlace, place_of
from scheduler.ledger.trade_events import TakenOver
from scheduler.replan.moves_told import by_party, moves_said
from scheduler.replan.replan_records import Replanning, TakenAsDone
from scheduler.spoken import count
from tests.unit.test_app_live import ANY_PLAN, SMALL, case, page, planned, texts, tuesday, written


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


def test_page_and_command_count_work_people_and_calls_the_same(
    place: JournalPlace, monkeypatch: pytest.MonkeyPatch
) -> None:
    late = Delayed(who="electrician", not_before=tuesday() + timedelta(days=6))
    found = scheduler.replan(case(), [], tuesday(), before=planned().plan, supposing=(late,), options=ANY_PLAN)
    monkeypatch.setattr("app.replans.scheduler.replan", lambda *_, **__: found)
    at = page("delay", person="r-amsel")
    (who,) = [s for s in at.selectbox if s.label == "Who cannot come?"]
    who.select("Electrician").run()
    press(at, "Try it without writing it down")
    shown, printed = texts(settled(at)), " ".join(told(found).split())
    assert found.alternatives
    assert f"Calls to make ({len(found.alternatives[0].phone_calls)})" in shown
    for one in found.alternatives:
        d, calls = one.differences, one.phone_calls
        assert d.moved + d.new + d.longer == len(one.moves) == sum(len(p.moves) for p in by_party(one.moves))
        assert d.people_moved == tuple(sorted({m.trade or "site" for m in one.moves if m.was and m.later_minutes}))
        assert set(d.people_called) == {call.to for call in calls}
        who_moves = f"Work at another time for {len(d.people_moved)}: "
        assert f"Work: **{moves_said(d)}" in shown
        assert f"{who_moves}**{', '.join(d.people_moved)}**" in shown
        assert f"Calls to make: **{len(calls)}" in shown
        assert f"; {moves_said(d)}. {who_moves}{', '.join(d.people_moved)}. " in printed
        assert f"What moves ({moves_said(d)}):" in printed
        assert f"Calls to make today ({count(len(calls), 'call')}):" in printed
        assert all(" ".join(call.said.split()) in printed for call in calls)


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
