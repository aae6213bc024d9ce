"""What stands on the first screen of a phone (390 x 844) on a busy morning of each bundled site, measured."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Locator

from app.components.ask_cover import cover_grounds
from scheduler.case import bundled_sites
from scheduler.ledger import fold, hold_points, may_cover
from scheduler.network.model import Hold
from tests.browser import in_page
from tests.browser.dashboard import Dashboard
from tests.browser.test_live import be, clean
from tests.busy_day import write_busy_day
from tests.site_week import SiteWeek

WIDE_PX, TALL_PX = 390, 844
LONGEST_PX = 2500
MOST_WORDS = 120
THUMB_PX = 44
SMALLEST_TEXT_PX = 11
WORDS_SEEN = """tall => {
  const texts = document.createTreeWalker(document.querySelector('[data-testid=stApp]'), NodeFilter.SHOW_TEXT);
  const words = [];
  for (let text = texts.nextNode(); text; text = texts.nextNode()) {
    const of = text.parentElement, range = document.createRange();
    if (of.closest('style, script, title, [role=img]')) continue;
    if (of.closest('[data-testid*=Icon], [data-testid=stSkipToContent]')) continue;
    if (!of.checkVisibility({visibilityProperty: true, opacityProperty: true})) continue;
    for (const word of text.textContent.matchAll(/[^\\s]*\\w[^\\s]*/g)) {
      range.setStart(text, word.index);
      range.setEnd(text, word.index + word[0].length);
      const box = range.getBoundingClientRect();
      if (box.width && box.top < tall && box.bottom > 0 && box.left < innerWidth && box.right > 0)
        words.push(word[0].replaceAll('\u2060', ''));
    }
  }
  return words;
}"""
TOO_SMALL = """thumb => [...document.querySelectorAll('a, button, summary, label, [role=combobox]')].filter(e => {
  const box = e.getBoundingClientRect(), how = getComputedStyle(e);
  if (!e.checkVisibility({visibilityProperty: true, opacityProperty: true}) || !box.width) return false;
  if (e.matches('label') && !e.querySelector('input')) return false;
  if (e.closest('p, li') || box.right <= 0 || how.pointerEvents === 'none') return false;
  return box.height < thumb - 0.5 || box.width < thumb - 0.5;
}).map(e => `${e.tagName} ${e.className} ${e.innerText} ${e.getBoundingClientRect().height}`)"""
LETTERS = """all => all.filter(svg => svg.clientWidth).flatMap(svg =>
  [...svg.querySelectorAll('text')].map(t => parseFloat(getComputedStyle(t).fontSize) * svg.getScreenCTM().a))"""
HEIGHTS = "all => all.map(e => e.getBoundingClientRect().height)"


@pytest.fixture(params=["orchard-lane", "lantern-street"])
def busy(request: pytest.FixtureRequest, journals: Path) -> Iterator[tuple[SiteWeek, Hold]]:
    """Return a site whose record ends on the morning of its busiest day, and the hold point of a look that failed."""
    week = SiteWeek(bundled_sites()[request.param], str(journals))
    file = journals / f"{week.case.site.site.job_id}.journal.db"
    _clear(file)
    assert week.first_plan
    yield week, write_busy_day(week)
    _clear(file)


def _clear(file: Path) -> None:
    for part in file.parent.glob(f"{file.name}*"):
        part.unlink()


def test_today_answers_the_morning_on_one_screen_of_a_phone(visit, busy):
    (week, _), phone = busy, visit(width=WIDE_PX)
    page = phone.page
    page.set_viewport_size({"width": WIDE_PX, "height": TALL_PX})
    phone.open(site=week.path.stem).planned()
    clean(phone)
    verdict = page.locator(".st-key-broken-plan summary")
    assert "The plan no longer holds." in verdict.inner_text()
    assert re.search(r"(Will|May still) finish \w+ \d", verdict.inner_text())
    tiles = page.locator(".st-key-tiles button")
    assert tiles.count() == 4
    hours = page.locator(".st-key-next-hours li")
    assert hours.count() >= 1
    for part in (verdict, page.locator(".frame svg:visible"), *tiles.all(), *hours.all()):
        on_first_screen(part)
    words = page.evaluate(WORDS_SEEN, TALL_PX)
    words += " ".join(page.locator(".frame svg:visible text:visible").all_text_contents()).split()
    words = re.sub(r"(?<=\d) :(?=\d)", ":", " ".join(words)).split()  # a time is one word
    assert len(words) <= MOST_WORDS, " ".join(words)
    assert page.evaluate(in_page.HEIGHT) <= LONGEST_PX
    assert page.evaluate(TOO_SMALL, THUMB_PX) == []
    assert min(page.locator(".frame button").evaluate_all(HEIGHTS)) >= THUMB_PX
    assert min(page.locator(".frame svg").evaluate_all(LETTERS)) >= SMALLEST_TEXT_PX
    phone.photograph(f"first-screen-{week.path.stem}-390")


def on_first_screen(part: Locator) -> None:
    box = part.bounding_box()
    assert box is not None
    assert box["y"] >= 0
    assert box["y"] + box["height"] <= TALL_PX


def test_a_tag_shows_verdict_person_and_button_on_one_screen_of_a_phone(visit, busy):
    (week, hold), phone = busy, visit(width=WIDE_PX)
    page = phone.page
    page.set_viewport_size({"width": WIDE_PX, "height": TALL_PX})
    phone.open("Visits and holds", site=week.path.stem, stake=hold.id).shown()
    phone.reads("Looked up at")
    clean(phone)
    verdict, release = (
        page.locator(".st-key-stake-answer h1"),
        page.get_by_role("button", name="Release this hold point"),
    )
    assert verdict.inner_text() in ("No", "In part")
    assert release.is_disabled(), "nobody is named yet"
    releaser = next(p.name for p in week.case.site.people if p.id == hold.released_by)
    phone.reads(f"To be released by {releaser}")
    for part in (verdict, page.get_by_text(f"To be released by {releaser}"), release):
        on_first_screen(part)
    assert page.evaluate(TOO_SMALL, THUMB_PX) == []
    phone.photograph(f"stake-{week.path.stem}-390")
    be(phone, releaser)
    for part in (verdict, page.get_by_role("combobox", name="I am"), release):
        on_first_screen(part)
    assert release.is_enabled()
    assert page.evaluate(TOO_SMALL, THUMB_PX) == []
    phone.photograph(f"stake-releaser-{week.path.stem}-390")
    if (ended := _with_an_end_left_open(week)) is not None:
        _has_its_warning_and_the_button(phone, week, ended)
    else:
        assert week.path.stem != "lantern-street", "the street has such a stretch on this morning"


def _has_its_warning_and_the_button(phone: Dashboard, week: SiteWeek, hold: Hold) -> None:
    """Where an end must stay uncovered, that is a line more on the first screen, and the button still stands there."""
    page = phone.page
    phone.open("Visits and holds", site=week.path.stem, stake=hold.id).shown()
    phone.reads("Looked up at")
    be(phone, next(p.name for p in week.case.site.people if p.id == hold.released_by))
    release = page.get_by_role("button", name="Release this hold point")
    warning = page.locator("summary").filter(has_text="Leave ends of lines uncovered")
    for part in (page.locator(".st-key-stake-answer h1"), warning, page.get_by_role("combobox", name="I am"), release):
        on_first_screen(part)
    assert release.is_enabled()
    phone.photograph(f"stake-end-{week.path.stem}-390")
    warning.click()
    page.get_by_text("Leave the end of the line there uncovered").first.wait_for()
    assert page.evaluate(TOO_SMALL, THUMB_PX) == []


def _with_an_end_left_open(week: SiteWeek) -> Hold | None:
    """Return a hold point, still to be released, of a stretch that may be covered in part, save an end of a line."""
    case, (entries, planned) = week.case, week.known()
    now = entries[-1].at
    known = fold(entries, now)
    for point in hold_points(case.site, case.network, known, now):
        grounds = [g for r in point.hold.reaches for _, g in cover_grounds(case, r)] if not point.clear else []
        answers = (may_cover(case.site, case.network, known, g, now, schedule=planned.schedule) for g in grounds)
        if any(a.yes and a.left_open for a in answers):
            return point.hold
    return None
