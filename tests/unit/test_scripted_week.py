"""A week on site, step by step through the command line: after each step all that people read says the same.

What each page, paper, tag, calendar and command shows is held against the one situation, and nobody is ever sent to
cover what is not released.
"""

from __future__ import annotations

from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

import scheduler
from scheduler import Situation
from scheduler.case import bundled_sites
from scheduler.cli.main import main
from scheduler.export import PaperFacts
from tests import site_week
from tests.outputs import by_the_record, calendar_says, look_ahead_says, table_says
from tests.pages_say import page_agrees, printed_agree, terminal_agrees
from tests.site_week import SiteWeek, steps

PAGES = {
    "orchard-lane": ("today", "record", "schedule", "trench", "holds", "visits", "paper"),
    "lantern-street": ("today", "holds"),
}
"""The pages looked at after each step; the pages of the long site take a second each."""
PARTS = {"holds": "inspections", "visits": "inspections"}
"""By part of a page, the page."""
WORDS = ("title", "header", "subheader", "markdown", "caption", "error", "warning", "info", "success")


@dataclass
class Walk:
    """The week of one site, and how its commands are given and its outputs read."""

    week: SiteWeek
    folder: Path
    read: Callable[[], str]
    """Gives what the last command printed."""

    def run(self, *words: str, code: tuple[int, ...] = (0,)) -> str:
        """Give a command about the site and return what it printed."""
        command, *rest = words
        assert main([command, str(self.week.path), *rest, "--journal", str(self.folder)]) in code
        return self.read()

    def say(self, at: datetime, *words: str) -> str:
        """Give a report at a moment; exits 0 or 1 (something is not as it should be)."""
        return self.run("report", *words, "--now", at.isoformat(), "--by", "test", code=(0, 1))

    def take_step(self, name: str) -> None:
        """Write down what happens next in the week."""
        week, at = self.week, self.week.morning
        failed = ["failed", week.look.id, "--inspector", week.inspector, "--faults", site_week.FAULTS]
        failed += ["--repair-hours", str(site_week.REPAIR_HOURS), "--when", week.look.finish.isoformat()]
        match name:
            case "a piece forgotten":
                eve = week.eve.isoformat()
                self.say(week.eve, "as-planned", "--until", eve, "--leave", week.forgotten.id)
                for test in week.tests_until(week.eve):
                    self.say(week.eve, "finished", test.id, "--when", test.finish.isoformat())
            case "a failed look":
                self.say(week.look.finish, *failed)
            case "a wrong entry taken back":
                number = str(week.known()[0][-1].number)
                self.say(at, "wrong", number, "--reason", "The other line was meant.")
            case "the failed look again":
                self.say(at, *failed)
            case "rain":
                start, until = (t.isoformat() for t in week.rain)
                self.say(at, "rain", "--start", start, "--until", until, "--inches", str(site_week.INCHES))
            case "a late start":
                despite = ["--despite", "The record is behind."]
                self.say(week.late_at, "started", week.late.id, "--when", week.late_at.isoformat(), *despite)
            case "a no-show":
                self.say(
                    week.missed_at, "not-done", week.missed.id, "--because", f"Nobody came. {site_week.NOBODY_CALLED}"
                )
            case "a firm that says no":
                self._refuse()
            case "planned again":
                self._plan_again()

    def _refuse(self) -> None:
        call, now = self.week.refused, self.week.missed_at.isoformat()
        assert call.now is not None
        said = ["--answer", "refused", "--offers", self.week.offered.isoformat(), "--words", site_week.NO]
        asked = ["--start", call.now.isoformat(), "--now", now]
        printed = self.run("called", call.of, *said, *asked, code=(1,))
        assert "The plan cannot stay as it is" in printed

    def _plan_again(self) -> None:
        """Accept what the no leads to."""
        asked = ["--as-of", self.week.missed_at.isoformat(), "--accept", "least_moved", "--why", "After the no."]
        assert "Accepted: as little as possible moved." in self.run("replan", *asked, "--by", "test", code=(0, 1))

    def agree(self, at: datetime) -> Situation:
        """Hold every output at a moment against the situation, and return that."""
        now = self.week.situation(at)
        terminal_agrees(self.run("today", "--at", at.isoformat(), code=(0, 1)), now)
        for name in PAGES[self.week.path.stem]:
            page_agrees(name, self._page(name, at), now)
        self._papers_agree(now)
        return now

    def _papers_agree(self, now: Situation) -> None:
        assert now.plan is not None
        facts, wanted = PaperFacts(now.plan, now.site, now.network, now), by_the_record(now)
        work = {a.id for a in now.plan.activities if not a.kind.is_look}
        assert look_ahead_says(facts) == calendar_says(facts) == {k: v for k, v in wanted.items() if k in work}
        table = table_says(facts)
        assert table == {k: wanted[k] for k in table}
        printed_agree(*self._printed(now), now)

    def _printed(self, now: Situation) -> tuple[bytes, bytes, bytes]:
        """Return everybody's look-ahead, the hold tags and everybody's calendar, as the command line makes them."""
        with closing(self.week.place.open()) as journal:
            files = scheduler.export(
                self.week.case, now.plan, journal=journal, party="everybody", at=now.moment,
                first=now.moment.date(), weeks=1,
            )  # fmt: skip
        wanted = (("look-ahead", "pdf"), ("hold tags", "pdf"), ("calendar", "ics"))
        pdf, tags, ics = (next(c for n, c in files.items() if n.startswith(a) and n.endswith(z)) for a, z in wanted)
        return pdf, tags, ics

    def _page(self, name: str, at: datetime) -> str:
        screen = PARTS.get(name, name)
        shown = AppTest.from_function(_script, args=(screen, str(self.week.path), at.isoformat()), default_timeout=90)
        if name in PARTS:
            shown.query_params["part"] = name
        shown.run()
        assert not shown.exception, (screen, shown.exception)
        return "\n".join(_words(shown.main))


def _words(block: Any) -> list[str]:
    """Return the words of a page in the order in which they stand on it."""
    said = []
    for child in block.children.values():
        if child.type == "expander":
            said.append(child.label)
        if hasattr(child, "children"):
            said += _words(child)
        elif child.type == "metric":
            said.append(f"{child.label} {child.value}")
        elif isinstance(getattr(child, "value", None), str) and child.type in WORDS:
            said.append(child.value)
    return said


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


@pytest.fixture(params=["orchard-lane", pytest.param("lantern-street", marks=pytest.mark.benchmark)])
def walk(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: Any, capsys: Any) -> Walk:
    monkeypatch.setenv("JOINTTRENCH_JOURNAL", str(tmp_path))
    monkeypatch.setenv("JOINTTRENCH_HOME", str(tmp_path / "home"))
    week = SiteWeek(bundled_sites()[request.param], str(tmp_path))
    return Walk(week, tmp_path, lambda: capsys.readouterr().out)


def test_a_week_on_site(walk: Walk) -> None:
    assert walk.week.first_plan
    for name, at, is_so in steps(walk.week):
        walk.take_step(name)
        now = walk.agree(at)
        assert is_so(now), name
        assert not now.holds_still or name == "planned again"
