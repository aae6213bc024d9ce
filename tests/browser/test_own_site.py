"""An own site from nothing to its plan, as somebody types it who has read no manual; every act is counted."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import expect

from scheduler.site.files import load_site
from tests.browser.dashboard import Dashboard
from tests.browser.hand import Hand

MOST_ACTS = 60
"""For an own site of 3 reaches, 4 lines, 2 trades and an inspection, from its first page to its plan."""
LINES = [
    ("Power conduit", "power", "2", "pvc40", "Electrician"),
    ("Telephone conduit", "communications", "2", "pvc40", "Electrician"),
    ("Water pipe", "water", "1", "pe", "Site crew"),
    ("Gas pipe", "gas", "1", "pe", "Site crew"),
]


def opened(dashboard: Dashboard) -> Hand:
    dashboard.page.goto(f"{dashboard.address}/site-editor")
    dashboard.page.get_by_role("heading", name="Site editor").wait_for()
    dashboard.shown()
    return Hand(dashboard)


def begun(hand: Hand) -> None:
    """Begin a site from the beginning, which is the first thing offered where there is no own site yet."""
    if not hand.main.get_by_role("heading", name="Begin a new site").count():
        hand.tap(hand.main.get_by_role("radio", name="New site", exact=True))
    hand.tap(hand.main.get_by_text("From the beginning", exact=True))
    hand.fill("Name of the site", "Mill Road 14")
    hand.fill("Length of the main trench", "160")
    hand.press("Begin")


def typed(hand: Hand) -> None:
    for to in ("0+60", "1+00", ""):
        hand.press("Add reach")
        if to:  # the last goes as far as its trench
            hand.fill("To *", to)
    hand.press("Next: Lines")
    for name, kind, size, material, trade in LINES:
        hand.press("Add line")
        hand.fill("Name *", name)
        hand.choose("Kind *", kind)
        hand.fill("Size (in) *", size)
        hand.choose("Material *", material)
        if trade not in hand.box("Trade *").input_value():
            hand.choose("Trade *", trade)
    hand.press("Next: Trades")


def show_line(hand: Hand, name: str) -> None:
    hand.choose("Line", name)
    expect(hand.main.get_by_label("Name *", exact=True)).to_have_value(name)


@pytest.fixture
def hand(visit) -> Hand:
    return opened(visit(width=1440))


def test_an_own_site_is_planned_in_few_acts(hand: Hand, tmp_path: Path) -> None:
    page = hand.dashboard.page
    begun(hand)
    typed(hand)
    hand.choose("Trade", "Site crew")
    hand.tap(hand.main.get_by_test_id("stCheckbox").get_by_text("Own", exact=True))
    hand.press("Inspections")
    hand.press("Add inspection")
    hand.fill("Name *", "Lines before cover")
    hand.fill("Authority *", "The county")
    hand.choose("Stage *", "lines laid")
    hand.dashboard.reads("It can be planned")
    hand.dashboard.photograph("own-site-1440")
    hand.press("Next: save and plan")
    with page.expect_download() as kept:
        page.get_by_role("button", name="Download the site file").click()
    file = tmp_path / "typed.yaml"
    kept.value.save_as(file)
    site = load_site(file)
    assert [len(rows) for rows in (site.reaches, site.lines, site.trades, site.inspections)] == [3, 4, 2, 1]
    assert [(r.from_, r.to) for r in site.reaches] == [(0, 60), (60, 100), (100, 160)]
    assert {(s.from_, s.to) for line in site.lines for s in line.route} == {(0, 160)}
    assert [(t.name, t.own) for t in site.trades] == [("Electrician", False), ("Site crew", True)]
    assert site.alignments[0].length_ft == 160
    hand.press("Plan this site")
    hand.dashboard.reads("Mill Road 14")
    hand.dashboard.planned()
    assert not hand.dashboard.exceptions()
    print(f"acts: {len(hand)}")
    assert len(hand) <= MOST_ACTS, hand.acts


def test_what_is_missing_is_told_live_with_a_way_to_its_field(visit) -> None:
    hand = opened(visit(width=390))
    page = hand.dashboard.page
    begun(hand)
    said = hand.dashboard.text()
    assert "Missing until it can be planned: 3 things" in said
    for words in ("There is no reach yet", "There is no line yet", "There is no trade yet"):
        assert words in said
    hand.press("Add reach")
    assert "There is no reach yet" not in hand.dashboard.text()
    hand.fill("To *", "")
    hand.press("Lines")
    hand.tap(page.get_by_role("button", name="To is needed."))
    assert hand.main.get_by_label("To *", exact=True).is_visible()
    hand.fill("To *", "1+60")
    assert "To is needed." not in hand.dashboard.text()
    for scheme in hand.dashboard.in_light_and_dark():
        assert (hand.dashboard.overflow_px(), hand.dashboard.exceptions()) == (0, 0), scheme
        hand.dashboard.photograph(f"own-site-missing-390-{scheme}")


def test_what_was_typed_is_there_after_a_reload_and_drawn_as_it_changes(visit) -> None:
    hand = opened(visit(width=1440))
    page = hand.dashboard.page
    begun(hand)
    typed(hand)
    hand.press("Lines 4")
    show_line(hand, "Gas pipe")
    frame = page.locator("svg.from-above:visible")
    assert frame.locator(".stretch").count() == 3
    wide = page.get_by_text("in wide").first.text_content()
    hand.fill("Size (in) *", "8")
    hand.dashboard.photograph("own-site-drawn-1440")
    assert page.get_by_text("in wide").first.text_content() != wide, "the section is drawn anew"
    page.reload()
    hand.dashboard.shown()
    hand.dashboard.reads("A copy of mill-road-14.yaml")
    hand.press("Lines 4")
    show_line(hand, "Gas pipe")
    assert hand.main.get_by_label("Size (in) *", exact=True).input_value() == "8"
    other = opened(visit(width=1440))
    assert "Mill Road 14" not in other.dashboard.text(), "a draft is found by its address alone"
