"""What stands on the first screen of a phone (390 x 844) on the busiest day of each bundled site, measured."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from scheduler.case import bundled_sites
from tests.browser import in_page
from tests.browser.test_live import clean
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
def busy(request: pytest.FixtureRequest, journals: Path) -> Iterator[SiteWeek]:
    """Return a site whose record ends on the morning of its busiest day, after a look that failed."""
    week = SiteWeek(bundled_sites()[request.param], str(journals))
    file = journals / f"{week.case.site.site.job_id}.journal.db"
    _clear(file)
    assert week.first_plan
    write_busy_day(week, next(p.name for p in week.case.site.people if p.role == "general_contractor"))
    yield week
    _clear(file)


def _clear(file: Path) -> None:
    for part in file.parent.glob(f"{file.name}*"):
        part.unlink()


def test_today_answers_the_morning_on_one_screen_of_a_phone(visit, busy):
    phone = visit(width=WIDE_PX)
    phone.page.set_viewport_size({"width": WIDE_PX, "height": TALL_PX})
    phone.open(site=busy.path.stem).planned()
    clean(phone)
    page = phone.page
    verdict = page.locator(".st-key-broken-plan summary")
    assert "The plan no longer holds." in verdict.inner_text()
    assert re.search(r"(Will|May still) finish \w+ \d", verdict.inner_text())
    tiles = page.locator(".st-key-tiles button")
    assert tiles.count() == 4
    hours = page.locator(".st-key-next-hours li")
    assert hours.count() >= 1
    for part in (verdict, page.locator(".frame svg:visible"), *tiles.all(), *hours.all()):
        box = part.bounding_box()
        assert box["y"] >= 0
        assert box["y"] + box["height"] <= TALL_PX
    words = page.evaluate(WORDS_SEEN, TALL_PX)
    words += " ".join(page.locator(".frame svg:visible text:visible").all_text_contents()).split()
    words = re.sub(r"(?<=\d) :(?=\d)", ":", " ".join(words)).split()  # a time is one word
    assert len(words) <= MOST_WORDS, " ".join(words)
    assert page.evaluate(in_page.HEIGHT) <= LONGEST_PX
    assert page.evaluate(TOO_SMALL, THUMB_PX) == []
    assert min(page.locator(".frame button").evaluate_all(HEIGHTS)) >= THUMB_PX
    assert min(page.locator(".frame svg").evaluate_all(LETTERS)) >= SMALLEST_TEXT_PX
    phone.photograph(f"first-screen-{busy.path.stem}-390")
