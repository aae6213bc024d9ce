"""Tasks done with the keyboard alone: each thing is reached by Tab, seen to be reached, and left again."""

from __future__ import annotations

import re

import pytest

from scheduler.ledger.events import Delayed, Finished, InspectionFailed, PlanAccepted, Started
from tests.browser.dashboard import Dashboard
from tests.browser.test_first_screen import busy as busy
from tests.browser.test_live import HOLD, best_plan, entries, worked_until
from tests.browser.test_live import journal as journal
from tests.browser.test_own_site import LINES, begun, opened
from tests.browser.test_tasks import A_DAY
from tests.browser.test_tasks import full_day as full_day

MOST_TABS = 120
QUICK_MS = 80
"""Between two keys of somebody who types fast; the page is drawn anew meanwhile and may take nothing away."""
REACHED = """wanted => {
  let at = document.activeElement;
  while (at?.shadowRoot?.activeElement) at = at.shadowRoot.activeElement;
  const name = at.getAttribute('aria-label') || at.innerText || '';
  return [at.matches(wanted), name, at === document.body || at.matches(':focus-visible')];
}"""
"""Whether the control in focus is one, its name, and whether the browser draws that it is in focus.

After the last control of a page the browser goes round by the page itself, on which it draws nothing.
"""


def tab_to(board: Dashboard, selector: str, name: str = "") -> None:
    """Press Tab until a control of a name is in focus; every stop on the way can be seen."""
    passed = []
    for _ in range(MOST_TABS):
        board.page.keyboard.press("Tab")
        is_one, named, seen = board.page.evaluate(REACHED, selector)
        assert seen, f"nobody sees that the focus is on {named!r}"
        if is_one and re.search(name, named, re.MULTILINE):
            return
        passed.append(named[:30])
    raise AssertionError(f"{selector} {name} is not reached with {MOST_TABS} tabs: {passed}")


def press(board: Dashboard, selector: str, name: str) -> None:
    """Reach a button or a fold with Tab and press it."""
    tab_to(board, selector, name)
    board.page.keyboard.press("Enter")
    board.settled()


def fill(board: Dashboard, label: str, text: str) -> None:
    """Reach a field with Tab and write over what stands in it; what is reached next takes it from there."""
    tab_to(board, "input, textarea", label)
    board.page.keyboard.press("Control+a")
    board.page.keyboard.type(text, delay=QUICK_MS)


def choose(board: Dashboard, label: str, value: str) -> None:
    tab_to(board, "[role=combobox]", label)
    board.page.keyboard.type(value, delay=QUICK_MS)
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


@pytest.mark.benchmark
def test_a_day_of_work_with_one_failure_is_recorded(visit, full_day) -> None:
    week, evening = full_day
    look = next(a for a in week.first_plan if a.kind.is_look and a.start.date() == evening.date())
    before = len(week.known()[0])
    board = visit()
    board.open("Record", site=week.path.stem).planned()
    choose(board, "I am", next(p.name for p in week.case.site.people if p.role == "general_contractor"))
    press(board, "summary", "All as planned until now, except")
    press(board, "button", r"Write \d+ entr")
    board.reads(re.compile("Written down"))
    board.settled()
    assert len({e.event.activity for e in week.known()[0][before:] if isinstance(e.event, Started | Finished)}) >= A_DAY
    card = f".st-key-work-{re.sub('[^A-Za-z0-9_-]', '-', look.id)}"
    press(board, f"{card} button", "Inspected")
    board.page.get_by_test_id("stPopoverBody").wait_for()
    tab_to(board, "input[type=radio]")
    while not board.page.get_by_role("radio", name="Failed").is_checked():
        board.page.keyboard.press("ArrowRight")
        board.settled()
    fill(board, "Conditions, faults or notes", "A joint leaks.")
    fill(board, "Working hours to fix faults", "2")
    press(board, "button", "^Write it down")
    board.reads(re.compile("Written down"))
    board.settled()
    failed = [e.event for e in week.known()[0][before:] if isinstance(e.event, InspectionFailed)]
    assert [e.looks for e in failed] == [(look.id,)]


@pytest.mark.benchmark
def test_an_own_site_is_typed_and_planned(visit) -> None:
    board = visit()
    begun(opened(board))  # what is offered first differs with what was begun before on this machine
    for to in ("0+60", "1+00", ""):
        press(board, "button", "^Add reach")
        if to:
            fill(board, r"^To", to)
    press(board, "button", "^Next: Lines")
    for name, kind, size, material, trade in LINES:
        press(board, "button", "^Add line")
        fill(board, "^Name", name)
        choose(board, "Kind", kind)
        fill(board, r"^Size \(in\)", size)
        choose(board, "Material", material)
        choose(board, "Trade", trade)
    press(board, "button", "^Next: Trades")
    choose(board, "Trade", "Site crew")
    tab_to(board, "input[type=checkbox]", "Own")
    board.page.keyboard.press("Space")
    board.settled()
    press(board, "button", "^Inspections")
    press(board, "button", "^Add inspection")
    fill(board, "^Name", "Lines before cover")
    fill(board, "^Authority", "The county")
    choose(board, "Stage", "lines laid")
    board.reads(re.compile("It can be planned[.,]"))
    press(board, "button", "^Next: save and plan")
    press(board, "button", "^Plan this site")
    board.reads("Mill Road 14")
    board.planned()
    assert not board.exceptions()
