"""A week on site, step by step through the command line: after each step every page and `today` say the same.

A look fails, an inspector stays away, it rains, work starts late, a piece is forgotten, a firm says no, a wrong entry
is taken back. What each output shows is held against the one situation, and nobody is ever sent to cover what is not
released.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from icalendar import Calendar
from streamlit.testing.v1 import AppTest

import scheduler
from scheduler import Case, Entry, Options, Planned, Situation
from scheduler.case import bundled_sites
from scheduler.cli import main
from scheduler.cli.site_today import plan_in_force
from scheduler.ledger.events import PlanAccepted
from scheduler.ledger.holds import HoldStatus
from scheduler.ledger.place import place_of
from scheduler.network.kind import Kind
from scheduler.plan import plan_json
from scheduler.situation import WorkStands, WorkState, before_it, verdict, why_not
from tests.papers import read_pdf, squeezed

PAGES = {
    "orchard-lane": ("today", "record", "schedule", "trench", "inspections"),
    "lantern-street": ("today", "inspections"),
}
"""The pages looked at after each step; the pages of the long site take a second each."""


def plain(text: str) -> str:
    """Words without marks, so that a page, a terminal and a sentence can be compared."""
    return " ".join(text.replace("\\", "").replace("*", "").replace("\u2060", "").split())


@dataclass
class Week:
    """One site, its journal, and the commands given so far."""

    path: Path
    folder: Path
    read: Callable[[], str]
    """Gives what the last command printed."""

    @property
    def case(self) -> Case:
        return scheduler.load(self.path)

    def say(self, at: datetime, *words: str) -> str:
        """Give a report at a moment and return what it printed; exits 0 or 1 (something is not as it should be)."""
        assert main(["report", str(self.path), *words, "--now", at.isoformat(), *self._where, "--by", "test"]) in (0, 1)
        return self.read()

    def accept(self, at: datetime) -> None:
        """Put the plan made at the start in force."""
        plan = scheduler.plan(self.case, Options(only_finish=True)).plan
        with closing(place_of(self.case.site, self.case.path, str(self.folder)).open()) as journal:
            kept = journal.keep_plan(plan_json(plan))
            journal.append(PlanAccepted(plan=kept, data_date=plan.data_date, why="The first plan."), at=at, by="test")

    @property
    def _where(self) -> list[str]:
        return ["--journal", str(self.folder)]

    def known(self) -> tuple[tuple[Entry, ...], Planned]:
        return plan_in_force(self.case, place_of(self.case.site, self.case.path, str(self.folder)))

    def situation(self, at: datetime) -> Situation:
        entries, planned = self.known()
        return scheduler.today(self.case, [e for e in entries if e.at <= at], at, planned)

    def on_paper(self, at: datetime) -> tuple[str, list[str]]:
        """Return the words of everybody's look-ahead without spaces, and the titles of everybody's calendar."""
        _, planned = self.known()
        with closing(place_of(self.case.site, self.case.path, str(self.folder)).open()) as journal:
            files = scheduler.export(
                self.case, planned.plan, journal=journal, party="everybody", at=at, first=at.date(), weeks=1
            )
        pdf = next(c for name, c in files.items() if name.startswith("look-ahead"))
        ics = next(c for name, c in files.items() if name.endswith(".ics"))
        titles = [str(e["summary"]) for e in Calendar.from_ical(ics).walk("VEVENT")]
        return squeezed(read_pdf(pdf).text), titles

    def on_terminal(self, at: datetime) -> str:
        assert main(["today", str(self.path), "--at", at.isoformat(), *self._where]) in (0, 1)
        return plain(self.read())

    def on_page(self, screen: str, at: datetime) -> str:
        shown = AppTest.from_function(_script, args=(screen, str(self.path), at.isoformat()), default_timeout=90)
        if screen == "inspections":
            shown.query_params["part"] = "holds"
        shown.run()
        assert not shown.exception, (screen, shown.exception)
        kinds = ("title", "header", "subheader", "markdown", "caption", "error", "warning", "info", "success")
        said = [str(e.value) for k in kinds for e in getattr(shown, k)]
        return plain(" ".join([*said, *(e.label for e in shown.expander)]))


def _script(screen: str, path: str, at: str) -> None:
    from importlib import import_module
    from pathlib import Path

    import streamlit as st

    import scheduler
    from app.in_force import in_force
    from app.live import live_of

    case = scheduler.load(Path(path))
    st.session_state[f"moment of {case.path}"] = at
    job = in_force(live_of(case))
    assert job is not None
    assert job.answer is not None
    import_module(f"app.screens.{screen}").show(job, job.answer)


@pytest.fixture(params=["orchard-lane", "lantern-street"])
def week(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: Any, capsys: Any) -> Week:
    monkeypatch.setenv("JOINTTRENCH_JOURNAL", str(tmp_path))
    monkeypatch.setenv("JOINTTRENCH_HOME", str(tmp_path / "home"))
    return Week(bundled_sites()[request.param], tmp_path, lambda: capsys.readouterr().out)


def test_a_week_on_site(week: Week) -> None:
    case = week.case
    first = case.network.clock.when(case.network.data_date) + timedelta(hours=6)
    week.accept(first)
    _, planned = week.known()
    rows = planned.plan.activities
    look = next(a for a in rows if a.kind is Kind.INSPECT and any(_covers(case, g) for g in _gates(case, a.id)))

    # All as planned until the look; then it fails.
    eve = look.start
    week.say(eve, "as-planned", "--until", eve.isoformat())
    _tests_passed(week, eve)
    _agree(week, eve)
    who = next(h for h in case.network.holds if h.look == look.id).released_by
    faults = ["failed", look.id, "--inspector", who, "--faults", "It leaks", "--repair-hours", "2"]
    week.say(look.finish, *faults, "--when", look.finish.isoformat())
    morning = (look.finish + timedelta(days=1)).replace(hour=6, minute=30)
    now = _agree(week, morning)
    for gate in _gates(case, look.id):
        if _covers(case, gate):
            assert now.work[gate].state is WorkState.BLOCKED
            assert now.work[gate].name in week.on_terminal(morning) or now.work[gate].planned[0].date() > morning.date()
    assert not now.holds_still

    # A wrong entry is taken back: the failure goes, and comes again as an entry of its own.
    number = week.known()[0][-1].number
    week.say(look.finish + timedelta(minutes=5), "wrong", str(number), "--reason", "The other line was meant.")
    assert not any(b.ref == look.id and b.kind == "failed" for b in _agree(week, morning).breaches)
    week.say(look.finish + timedelta(minutes=10), *faults, "--when", look.finish.isoformat())
    assert any(b.ref == look.id and b.kind == "failed" for b in _agree(week, morning).breaches)

    # It rains overnight.
    wet = morning - timedelta(hours=4)
    rain = ["rain", "--start", (wet - timedelta(hours=2)).isoformat(), "--until", wet.isoformat(), "--inches", "0.8"]
    week.say(morning, *rain)
    now = _agree(week, morning)
    assert now.to_inspect

    now = _late_forgotten_missed(week, now, look.id)

    # A firm says no.
    firm = case.site.outside_work[0].by
    until = (now.moment + timedelta(days=20)).isoformat()
    week.say(now.moment, "delayed", firm, "--not-before", until)
    assert any(b.kind == "word" for b in _agree(week, now.moment).breaches)


def _late_forgotten_missed(week: Week, now: Situation, look: str) -> Situation:
    """A piece starts late, another is forgotten, an inspector stays away."""
    morning, (_, planned) = now.moment, week.known()
    late = next(w for w in now.work.values() if w.state is WorkState.PLANNED and w.kind is Kind.DIG and w.planned)
    assert late.planned is not None
    start = late.planned[0] + timedelta(hours=1)
    if start > morning:
        week.say(start, "started", late.id, "--when", start.isoformat(), "--despite", "The record is behind.")
        kinds = {b.kind for b in _agree(week, start).breaches if b.ref == late.id}
        assert kinds & {"late start", "not reported"}
    later = max(start, morning) + timedelta(days=1)
    assert any(b.kind == "not reported" for b in _agree(week, later).breaches)
    rows = planned.plan.activities
    missed = next(a for a in rows if a.kind is Kind.INSPECT and a.id != look and a.finish > morning)
    now = _agree(week, max(later, missed.finish + timedelta(hours=1)))
    assert any(b.ref == missed.id for b in now.breaches)
    return now


def _gates(case: Case, look: str) -> list[str]:
    return [g for h in case.network.holds if h.look == look for g in h.gates]


def _covers(case: Case, gate: str) -> bool:
    return case.network.by_id[gate].kind.buries


def _tests_passed(week: Week, until: datetime) -> None:
    """Report the tests that the plan has by a moment: they are never taken as done."""
    _, planned = week.known()
    for row in planned.plan.activities:
        if row.kind.is_test and row.finish <= until:
            week.say(until, "finished", row.id, "--when", row.finish.isoformat())


def _agree(week: Week, at: datetime) -> Situation:
    """Hold every page and the command against the situation at a moment, and return that."""
    now = week.situation(at)
    terminal = week.on_terminal(at)
    pages = {screen: week.on_page(screen, at) for screen in PAGES[week.path.stem]}
    says = "The plan holds." if now.holds_still else "The plan no longer holds."
    assert says in terminal
    for screen, words in pages.items():
        assert ("The plan no longer holds." in words) == (not now.holds_still), screen
        if not now.holds_still:
            assert plain(why_not(now)[0]) in words, screen
            assert "Proved: no plan finishes earlier" not in words, screen
    for work in now.on_day(at.date()):
        _same(work, terminal, pages["today"])
    for point in now.holds:
        if point.status is HoldStatus.FAILED:
            assert plain(f"Failed · {point.hold.name}") in pages["inspections"]
    for stretch in now.stretches:
        if stretch.failed and "trench" in pages:
            assert plain(now.work[stretch.failed[0]].because) in pages["trench"]
    assert f"{now.open_tonight_ft:.0f} ft" in terminal
    words, titles = week.on_paper(at)
    assert squeezed(verdict(now)) in words
    for work in now.on_day(at.date()):
        if work.kind.buries and work.blocked_by and work.started is None:
            what = work.name.split(",")[0]
            assert any(t.startswith("BLOCKED") and what in t for t in titles), work.name
    return now


def _same(work: WorkStands, terminal: str, today: str) -> None:
    """Hold a line of the day against the record: what must come first stands on both, done work on neither as to do."""
    if not work.kind.takes_time:
        return
    name = plain(work.name)
    assert name in terminal
    assert name in today
    for sentence in before_it(work):
        assert plain(sentence) in terminal, sentence
        assert plain(sentence) in today, sentence
