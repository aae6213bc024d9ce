"""The practice clock: it stands at the site's date, and its calendar leaves its buttons free."""

from __future__ import annotations

from datetime import timedelta

import pytest

from app.words import moment
from tests.browser.test_live import best_plan, clean, journal

__all__ = ["journal"]

UNDER_IT = """button => {
  const box = button.getBoundingClientRect();
  return button.contains(document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2));
}"""


@pytest.mark.parametrize(("width", "height"), [(390, 844), (1440, 900)])
def test_the_clock_opens_on_the_date_of_the_site_and_its_calendar_covers_no_button(visit, journal, width, height):
    board = visit(width=width)
    page, first = board.page, best_plan().data_date
    page.set_viewport_size({"width": width, "height": height})
    board.open("Delays").planned()
    page.get_by_role("button", name="Practice clock").click()
    field = page.get_by_role("group", name="Date and time on site")
    field.get_by_role("spinbutton").first.click()
    page.get_by_role("grid").first.wait_for(timeout=20_000)
    said = field.get_by_role("spinbutton").all_inner_texts()
    board.photograph(f"clock-{width}")
    assert list(map(int, said[:3])) == [first.year, first.month, first.day]
    for name in ("Look from there", "Back to the last entry"):
        assert page.get_by_role("button", name=name).evaluate(UNDER_IT), name
    then = (first + timedelta(days=3)).replace(hour=11, minute=30)
    page.keyboard.type(f"{then:%Y%m%d%H%M}")
    page.get_by_role("button", name="Look from there").click()  # the calendar is still open
    page.get_by_role("button", name=f"Practice clock: {moment(then)}").wait_for()
    clean(board)
