"""Tasks done with the keyboard alone: each thing is reached by Tab, seen to be reached, and left again."""

from __future__ import annotations

import re

from tests.browser.dashboard import Dashboard
from tests.browser.test_live import HOLD, entries
from tests.browser.test_live import journal as journal

MOST_TABS = 120
REACHED = """wanted => {
  let at = document.activeElement;
  while (at?.shadowRoot?.activeElement) at = at.shadowRoot.activeElement;
  const name = at.getAttribute('aria-label') || at.innerText || '';
  return [at.matches(wanted), name, at.matches(':focus-visible')];
}"""
"""Whether the control in focus is one, its name, and whether the browser draws that it is in focus."""


def tab_to(board: Dashboard, selector: str, name: str = "") -> None:
    """Press Tab until a control of a name is in focus; every stop on the way can be seen."""
    for _ in range(MOST_TABS):
        board.page.keyboard.press("Tab")
        is_one, named, seen = board.page.evaluate(REACHED, selector)
        assert seen, f"nobody sees that the focus is on {named!r}"
        if is_one and re.search(name, named):
            return
    raise AssertionError(f"{selector} {name} is not reached with {MOST_TABS} tabs")


def choose(board: Dashboard, label: str, value: str) -> None:
    tab_to(board, "[role=combobox]", label)
    board.page.keyboard.type(value)
    board.page.get_by_role("option", name=value).first.wait_for()
    board.page.keyboard.press("Enter")
    board.settled()


def test_a_stretch_is_opened_from_the_picture_and_its_rule_is_read(visit) -> None:
    board = visit()
    board.open("Trench").planned()
    board.page.locator(".frame .nearer").click()
    box = board.page.locator(".frame svg:visible").bounding_box()
    board.page.mouse.move(box["x"] + 100, box["y"] + 40)
    board.page.mouse.down()
    board.page.mouse.move(box["x"] + 160, box["y"] + 40, steps=3)
    board.page.mouse.up()  # somebody else has dragged it before; that must not keep the keys from working
    before = board.text()
    board.page.evaluate("document.activeElement.blur()")
    for _ in range(2):
        tab_to(board, "[data-stretch]")
    board.page.keyboard.press("Enter")
    board.settled()
    said = board.text()
    assert said != before
    assert re.search(r"Width [\d.]+ in: .{10,}", said)
    assert re.search(r"Depth [\d.]+ in: .{10,}", said)
    tab_to(board, "summary, [role=combobox], a")  # the picture is no trap


def test_a_hold_is_released_from_its_tag(visit, journal) -> None:
    phone = visit(width=390)
    phone.open("Visits and holds", stake=HOLD).shown()
    phone.reads("Looked up at")
    choose(phone, "I am", "Carol Dunn")
    tab_to(phone, "textarea")
    phone.page.keyboard.type("30 in of cover, joints dry.")
    tab_to(phone, "button", "Release this hold point")
    phone.page.keyboard.press("Enter")
    phone.reads("Released")
    phone.settled()
    assert [e.event.hold for e in entries(journal)] == [HOLD]
