"""Tasks done with the keyboard alone: each thing is reached by Tab, seen to be reached, and left again."""

from __future__ import annotations

import re

import pytest

from scheduler.ledger.events import Delayed, PlanAccepted
from tests.browser.dashboard import Dashboard
from tests.browser.test_first_screen import busy as busy
from tests.browser.test_live import HOLD, best_plan, entries, worked_until
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


@pytest.mark.benchmark
def test_whom_to_call_is_found_and_the_number_reached(visit, busy) -> None:
    week, _ = busy
    phone = visit(width=390)
    phone.open(site=week.path.stem).planned()
    tab_to(phone, "button", "Call today")
    phone.page.keyboard.press("Enter")
    phone.page.get_by_role("link", name="Dial").first.wait_for()
    tab_to(phone, "a[href^='tel:']")
    phone.page.keyboard.press("Escape")
    tab_to(phone, "button", "Not released")  # the list is no trap


@pytest.mark.benchmark
def test_a_delay_is_reported_and_what_it_moves_accepted(visit, journal) -> None:
    worked_until(journal, best_plan(), 2, 12)
    board = visit()
    board.open("Delays").planned()
    choose(board, "I am", "Peter Strand")
    choose(board, "Who cannot come?", "Plumber")
    tab_to(board, "textarea, input", "Why, in their words")
    board.page.keyboard.type("Two days late.")
    tab_to(board, "button", "Write it down and see what can be done")
    board.page.keyboard.press("Enter")
    board.page.get_by_text("Shown below").first.wait_for(timeout=240_000)
    board.shown()
    assert len([e for e in entries(journal) if isinstance(e.event, Delayed)]) == 1
    tab_to(board, "textarea, input", "Why this one, for the record")
    board.page.keyboard.type("It holds.")
    tab_to(board, "button", "Work by this plan")
    board.page.keyboard.press("Enter")
    board.reads("It holds.")
    assert isinstance(entries(journal)[-1].event, PlanAccepted)
