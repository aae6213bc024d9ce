"""The scripted week in the browser, typed and tapped as a contractor does it: after each step every page agrees."""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path

import pytest
from playwright.sync_api import Locator

from app.figures.frame import HOLLOW
from scheduler import Situation
from scheduler.case import bundled_sites
from scheduler.plan import PlanActivity
from scheduler.spoken import moment
from scheduler.units import format_station
from tests import site_week
from tests.browser.dashboard import Dashboard
from tests.browser.test_live import be, clean, press, type_time
from tests.browser.test_paper import download
from tests.pages_say import drawn_agrees, lines_of, page_agrees, printed_agree, sends_nobody_too_early
from tests.site_week import SiteWeek, steps

PAGES = ("today", "record", "trench", "schedule", "holds", "visits", "paper")
TITLES = {
    "today": "Today",
    "record": "Record",
    "trench": "Trench",
    "schedule": "Schedule",
    "holds": "Visits and holds",
    "visits": "Visits and holds",
    "paper": "Paper and calendars",
}
PARTS = {"holds": ("Hold points", "A plan releases nothing"), "visits": ("Visits", "Planned visits")}
"""By part of a page: how it is chosen, and words that only it has."""
PRINTED = ("a failed look", "planned again")
"""After these the papers are downloaded and read as well."""
PHOTOGRAPHED = "a failed look"
REPLAN_MS = 900_000
"""Half a minute's work on a quiet machine for the long site."""
PHONE_PX = 390
ON_A_PHONE = ("today", "record", "trench", "holds")
MAIN, VERDICT = "[data-testid=stMain]", ".st-key-broken-plan"
EVERY_LINE = """within => {
  const kinds = 'p, li, h1, h2, h3, h4', parts = [...document.querySelectorAll(within)];
  const leaves = parts.flatMap(part => [...part.querySelectorAll(kinds)]).filter(e => !e.querySelector(kinds));
  return leaves.map(e => {
    const copy = e.cloneNode(true);
    copy.querySelectorAll('br').forEach(b => b.replaceWith('\\n'));
    return copy.textContent;
  }).join('\\n');
}"""
"""All words in a part of a page, also those that are folded away."""
DRAWN = """hollow => [...document.querySelectorAll('[data-testid=stMain] .js-plotly-plot')].flatMap(plot =>
  plot.data.filter(t => t.customdata && t.hovertext).flatMap(t =>
    [...t.customdata].map((id, i) => [
      [id].flat()[0], t.hovertext[i].replaceAll('<br>', ' '), t.marker.color !== hollow
    ])
))"""
"""What is drawn of work: its id, what it says when pointed at, whether it is filled."""


class Desk:
    """Somebody at the dashboard through the week of one site."""

    def __init__(self, week: SiteWeek, board: Dashboard, folder: Path) -> None:
        self.week, self.board, self.page, self.folder = week, board, board.page, folder

    def at(self, name: str, when: datetime) -> None:
        """Go to a page and set the practice clock."""
        if self.page.locator("h1").inner_text() != name:
            self.board.go(name)
        digits = f"{when:%Y%m%d%H%M}"
        self.page.get_by_role("button", name="Practice clock").click()
        type_time(self.board, "Date and time on site", digits)
        self.page.get_by_role("button", name="Look from there").click()
        self.page.get_by_role("button", name=f"Practice clock: {moment(when)}").wait_for()
        self.board.settled()

    def happened(self, how: str) -> None:
        """Say whether what is tapped happened just now or as planned."""
        self.page.get_by_role("radio", name=how, exact=True).or_(
            self.page.get_by_role("button", name=how, exact=True)
        ).first.click()
        self.board.settled()

    def card(self, activity: PlanActivity) -> Locator:
        return self.page.locator(f".st-key-work-{slug(activity.id)}")

    def _stretch(self, activity: PlanActivity) -> str:
        site = self.week.case.site
        reach = next(r for r in site.reaches if r.id == activity.reach)
        name = next(a.name for a in site.alignments if a.id == reach.alignment)
        return f"{name} {format_station(reach.from_)} to {format_station(reach.to)}"

    def take_step(self, name: str) -> None:
        """Write down what happens next in the week."""
        week = self.week
        match name:
            case "a piece forgotten":
                self._as_planned_except()
            case "a failed look":
                self.at("Record", week.look.finish)
                self._fail()
            case "a wrong entry taken back":
                self._take_back(week.known()[0][-1].number)
            case "the failed look again":
                self.at("Record", week.morning)
                self.happened("As planned")
                self._fail()
            case "rain":
                self._rain()
            case "a late start":
                self.at("Record", week.late_at)
                self.board.pick("Where", self._stretch(week.late))  # else only the first that are late have a card
                self.card(week.late).get_by_role("button", name="Started").click()
                self._despite("The record is behind.")
                self.board.pick("Where", "Everywhere")
            case "a no-show":
                self.at("Record", week.missed_at)
                self._look(week.missed, "Nobody came", site_week.NOBODY_CALLED)
            case "a firm that says no":
                self._refuse()
            case "planned again":
                self._plan_again()

    def _as_planned_except(self) -> None:
        week = self.week
        self.at("Record", week.eve)
        self._unfold()
        self.board.reads("Still to be said")
        box = self.page.locator(f".st-key-as-planned-{slug(week.forgotten.id)} label")
        write = self.page.get_by_role("button", name=re.compile(r"Write \d+ (entry|entries) down"))
        while not box.count():  # a long list is written down a part at a time
            self._write_in_one_go(write)
        box.click()
        self.board.settled()
        while write.count():
            self._write_in_one_go(write)
        if week.tests_until(week.eve):
            self.happened("As planned")
        for test in week.tests_until(week.eve):
            self.card(test).get_by_role("button", name="Finished").click()
            self._despite("The foreman says so.")

    def _write_in_one_go(self, write: Locator) -> None:
        known = len(self.week.known()[0])
        write.first.click()
        self.board.reads(re.compile(rf"Written down.*entr(y|ies) {known + 1}\b"))
        self.board.settled()
        self._unfold()

    def _unfold(self) -> None:
        """Open the list of what can be taken as planned, if it is closed."""
        words = "All as planned until now, except"
        if self.page.locator("details", has_text=words).get_attribute("open") is None:
            self.page.get_by_text(words).click()
            self.board.settled()

    def _despite(self, why: str) -> None:
        """Keep what was tapped although it contradicts the record, where that is asked."""
        self.board.settled()
        asked = self.page.get_by_test_id("stDialog")
        if asked.count():
            asked.get_by_label("Keep it all the same, because").fill(why)
            asked.get_by_role("button", name="Write it down all the same").click()
            asked.wait_for(state="detached")
            self.board.settled()
        self.board.reads("Written down")

    def _fail(self) -> None:
        self._look(self.week.look, "Failed", site_week.FAULTS, site_week.REPAIR_HOURS)

    def _look(self, look: PlanActivity, result: str, words: str, hours: int = 0) -> None:
        """Fill in what came of a look on its card."""
        self.card(look).get_by_role("button", name="Inspected").click()
        form = self.page.get_by_test_id("stPopoverBody")
        form.get_by_text(result, exact=True).click()
        form.get_by_label("Conditions, faults or notes").fill(words)
        if hours:
            form.get_by_label("Working hours to fix faults").fill(str(hours))
        form.get_by_role("button", name="Write it down").click()
        self._despite("It is as I say.")

    def _take_back(self, number: int) -> None:
        self.at("Record", self.week.morning)
        self.page.get_by_role("button", name="Take an entry back").click()
        form = self.page.get_by_test_id("stPopoverBody")
        self.board.pick("Which entry was wrong?", f"{number}: ")
        form.get_by_label("Why was it wrong?").fill("The other line was meant.")
        form.get_by_role("button", name="Take it back").click()
        self.board.reads(f"Entry {number} taken back")
        self.board.settled()

    def _rain(self) -> None:
        self.at("Record", self.week.morning)
        self.board.pick("What happened?", "It rained")
        for label, when in zip(("From", "To"), self.week.rain, strict=True):
            type_time(self.board, label, f"{when:%Y%m%d%H%M}")
        self.page.get_by_label("Inches, if measured").fill(str(site_week.INCHES))
        press(self.board, "Write it down")
        self.board.reads("Written down")

    def _refuse(self) -> None:
        """Tick a call off with a no, under 'To call, book or order'."""
        self.board.go("Today")
        self.board.unfold("To call, book or order")
        agreed = self.page.locator(f".st-key-agreed-{slug(self.week.refused.id)}")
        agreed.locator("xpath=following::button[contains(., 'Said no')][1]").click()
        form = self.page.get_by_test_id("stPopoverBody")
        form.get_by_text("They offer another time").click()
        type_time(self.board, "From when on they can come", f"{self.week.offered:%Y%m%d%H%M}")
        form.get_by_label("What they said").fill(site_week.NO)
        form.get_by_role("button", name="Write it down").click()
        self.board.reads("They said no")
        self.board.settled()

    def _plan_again(self) -> None:
        """Accept what the no leads to."""
        self.board.go("Delays")
        press(self.board, "See what can be done")
        self.page.get_by_text("Shown below").first.wait_for(timeout=REPLAN_MS)
        self.board.shown()
        self.page.get_by_label("Why this one, for the record").fill("After the no.")
        press(self.board, "Work by this plan")
        self.board.reads("After the no.")

    def agree(self, name: str, when: datetime) -> None:
        """Hold every page against the situation; those looked at on a phone, once at its width as well."""
        now = self.week.situation(when)
        for place in PAGES:
            self._agrees(place, now, picture=name == PHOTOGRAPHED)
        if name in PRINTED:
            labels = ("Look-ahead (PDF)", "Hold tags (PDF)", "Calendar (ICS)")
            printed_agree(*(download(self.board, label, self.folder).read_bytes() for label in labels), now)
        if name == PHOTOGRAPHED:
            size = self.page.viewport_size
            self.page.set_viewport_size({"width": PHONE_PX, "height": size["height"]})
            for place in ON_A_PHONE:
                self._agrees(place, now, picture=True)
            self.page.set_viewport_size(size)

    def _agrees(self, place: str, now: Situation, *, picture: bool) -> None:
        self._open(place)
        every, shown = self.page.evaluate(EVERY_LINE, MAIN), self.board.text()
        assert ("The plan no longer holds." in shown) == (not now.holds_still)
        folded = place in ("today", "trench")  # much of these is folded, of the others the reasons of the verdict
        page_agrees(place, every if folded else f"{self.page.evaluate(EVERY_LINE, VERDICT)}\n{shown}", now)
        sends_nobody_too_early(lines_of(every), now)
        if place == "schedule":
            drawn_agrees(self.page.evaluate(DRAWN, HOLLOW), now)
        clean(self.board)
        if picture:
            self.board.photograph(f"week-{self.week.path.stem}-{place}-{self.page.viewport_size['width']}")

    def _open(self, place: str) -> None:
        if self.page.locator("h1").inner_text() != TITLES[place] or place == "today":
            self.board.go(TITLES[place])
        if place in PARTS:
            chosen, says = PARTS[place]
            self.page.get_by_role("radio", name=chosen).click()
            self.board.reads(says)
            self.board.settled()


def slug(id_: str) -> str:
    """Return how an id stands in the class of what is drawn for it."""
    return re.sub(r"[^a-zA-Z0-9_-]", "-", id_)


@pytest.fixture(params=[pytest.param(name, marks=pytest.mark.benchmark) for name in ("orchard-lane", "lantern-street")])
def week(request: pytest.FixtureRequest, journals: Path) -> Iterator[SiteWeek]:
    """Return the week of a site, its first plan in force in the server's journal, and clear that after use."""
    found = SiteWeek(bundled_sites()[request.param], str(journals))
    file = journals / f"{found.case.site.site.job_id}.journal.db"
    _clear(file)
    assert found.first_plan
    yield found
    _clear(file)


def _clear(file: Path) -> None:
    for part in file.parent.glob(f"{file.name}*"):
        part.unlink()


def test_a_week_is_written_down_and_every_page_says_what_is_so(visit, week, tmp_path):
    board = visit()
    board.open("Record", site=week.path.stem)
    be(board, next(p.name for p in week.case.site.people if p.role == "general_contractor"))
    desk = Desk(week, board, tmp_path)
    for name, at, is_so in steps(week):
        desk.take_step(name)
        if name in ("a failed look", "planned again"):
            desk.at("Record", at)
        assert is_so(week.situation(at)), name
        desk.agree(name, at)
