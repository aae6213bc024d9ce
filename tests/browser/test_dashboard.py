"""The dashboard as its users meet it: opened, read, asked why, given bad files, stopped, and linked to."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import pytest
from ruamel.yaml import YAML

import scenarios
import scheduler
from app.words import day, moment
from scheduler import Case
from scheduler.errors import BadInput
from scheduler.site.files import load_site
from scheduler.solve.outcome import Options, Status
from scheduler.solve.run import solve
from tests.benchmarks.site_generator import make_site
from tests.browser.dashboard import PATHS
from tests.browser.serving import serve

SMALL = Path(scenarios.__file__).with_name("orchard-lane.yaml")
STREET = Path(scenarios.__file__).with_name("lantern-street.yaml")
SLACK = re.compile(r"No slack: if| of slack\.")
OTHER_PLANS_MS = 300_000
"""Within which a second plan is there to choose, also on a machine that does other things."""
KEY_WORDS = {
    "Today": ("The next two weeks", "What is proved", "Plans to choose from", "Trenches kill"),
    "Record": ("I am", "What is written down"),
    "Delays": ("No delay is on record", "What can be done"),
    "Schedule": ("By trade", "Stations and dates", "on the chain that sets the finish", "What the marks mean"),
    "Critical path": ("Every step here waits", "Step by step"),
    "Visits and holds": ("May I cover here?", "Hold points", "Trenches kill"),
    "Trench": ("Bottom width", "cu yd", "from the side", "Trenches kill"),
    "Conflicts": ("No conflict: the plan keeps all", "Nearest to a conflict"),
    "Paper and calendars": ("To print", "For phones and desks", "For spreadsheets", "Trenches kill"),
}


@cache
def case(file: Path) -> Case:
    return scheduler.load(file)


@cache
def best_finish(file: Path):
    """Return the finish of the best plan, found by the solver itself and proved."""
    outcome = solve(case(file).network, Options(only_finish=True))
    assert outcome.status is Status.OPTIMAL
    return case(file).network.clock.when(outcome.schedule.finish)


@pytest.fixture(scope="module")
def small_finish():
    return best_finish(SMALL)


def test_today_shows_a_proved_plan_when_it_is_opened(dashboard, small_finish):
    dashboard.page.goto(dashboard.address)
    dashboard.reads("Would finish")
    dashboard.reads("Proved: no plan that keeps these rules finishes earlier.")
    dashboard.shown()
    assert f"Would finish {day(small_finish)}, {small_finish:%H:%M}" in dashboard.text()


@pytest.mark.parametrize("width", [1440, 390])
def test_every_page_fits_its_screen_and_says_what_it_must(visit, small_finish, width):
    dashboard = visit(width=width)
    dashboard.open().planned()
    for name in PATHS:
        dashboard.go(name)
        for scheme in dashboard.in_light_and_dark():
            said = dashboard.text()
            assert dashboard.exceptions() == 0, (name, scheme)
            assert dashboard.overflow_px() == 0, (name, scheme)
            for words in KEY_WORDS[name]:
                assert words in said, (name, scheme)
            assert (moment(small_finish) in said) or (day(small_finish) in said), (name, scheme)
            dashboard.photograph(f"{PATHS[name] or 'today'}-{width}-{scheme}")
    for view in ("By reach", "Stations and dates"):
        dashboard.go("Schedule")
        dashboard.page.get_by_role("radio", name=view).click()
        dashboard.settled()
        for scheme in dashboard.in_light_and_dark():
            assert dashboard.exceptions() == 0, (view, scheme)
            assert dashboard.overflow_px() == 0, (view, scheme)
            dashboard.photograph(f"schedule-{view.lower().replace(' ', '-')}-{width}-{scheme}")
    assert not dashboard.faults
    assert [url for url in dashboard.asked if not url.startswith((dashboard.address, "data:", "blob:"))] == []


def test_another_plan_is_looked_at_with_one_touch_and_shows_on_every_page(dashboard, small_finish):
    first = f"Would finish {day(small_finish)}, {small_finish:%H:%M}"
    dashboard.open().planned()
    dashboard.page.get_by_role("button", name="Look for other plans").click(timeout=OTHER_PLANS_MS)
    dashboard.page.get_by_text("Shown on all pages").first.wait_for(timeout=OTHER_PLANS_MS)
    dashboard.shown()
    assert dashboard.overflow_px() == 0
    dashboard.page.get_by_role("button", name="Look at this plan").last.click()
    dashboard.page.get_by_text(first).wait_for(state="detached")
    dashboard.reads("Would finish")
    dashboard.go("Schedule")
    assert moment(small_finish) not in dashboard.text().replace(f"before {moment(small_finish)}", "")
    assert dashboard.exceptions() == 0
    dashboard.go("Today")
    dashboard.page.get_by_role("button", name="Look at this plan").first.click()
    dashboard.reads(first)


def test_pages_switch_without_planning_anew(dashboard):
    dashboard.open().planned()
    for name in ("Schedule", "Critical path", "Visits and holds", "Trench", "Today"):
        dashboard.go(name)
        said = dashboard.text()
        assert "Finding the best sequence" not in said
        assert "Still looking" not in said


def test_the_critical_chain_is_traced_step_by_step(dashboard):
    dashboard.open("Critical path").planned()
    steps = dashboard.page.get_by_test_id("stMain").locator("ol li strong")
    names = [steps.nth(i).inner_text() for i in range(steps.count())]
    assert len(names) > 10
    dashboard.pick("Why is this when it is?", names[3])
    dashboard.reads(SLACK)
    assert names[3] in dashboard.page.get_by_role("heading").all_inner_texts()


@pytest.mark.parametrize("view", ["stations", "trade"])
def test_touching_work_tells_its_story(dashboard, view):
    dashboard.open("Schedule", view=view).planned()
    blocks = [b.bounding_box() for b in dashboard.page.locator(".barlayer .point path").all()]
    block = next(b for b in blocks if b["height"] > 10 and b["width"] > 10 and b["y"] + b["height"] < 880)
    dashboard.page.mouse.click(block["x"] + block["width"] / 2, block["y"] + block["height"] / 2)
    dashboard.page.wait_for_url(re.compile("activity="))
    dashboard.shown()
    dashboard.reads(SLACK)


def test_stations_view_draws_one_alignment(dashboard):
    dashboard.open("Schedule", view="stations", alignment="pole-branch")
    figure = dashboard.page.get_by_role(
        "figure", name=re.compile("Work along Pole branch.*stations across, dates down")
    )
    figure.first.wait_for()
    assert "0+50" in dashboard.text()
    assert dashboard.page.get_by_role("combobox", name="Alignment").input_value() == "Pole branch"


def test_the_trench_is_drawn_as_recorded_and_what_is_planned_slides_through_the_job_apart(dashboard):
    dashboard.open("Trench").planned()
    dashboard.unfold("How far the trench is, by the record")
    said = dashboard.text()
    assert "Not dug: Main drive trench" in said
    assert "\nCovered: " not in said, "nothing is on record"
    dashboard.page.get_by_text("What is planned for the end of a day").click()
    day = dashboard.page.get_by_test_id("stMain").get_by_role("slider")
    for key, words in (("Home", "Planned: Not dug"), ("End", "Planned: Covered")):
        day.focus()
        day.press(key)
        dashboard.reads(words)
    assert "Planned: Not dug" not in dashboard.text()
    assert "Not dug: Main drive trench" in dashboard.text(), "what is recorded stays"
    assert dashboard.exceptions() == 0


@pytest.mark.parametrize(("width", "drawing"), [(1440, ".wide"), (390, ".narrow")])
def test_a_stretch_of_the_picture_is_touched_and_tells_what_is_so(visit, width, drawing):
    dashboard = visit(width=width)
    dashboard.open().planned()
    picture = dashboard.page.locator(f"{drawing} svg")
    stretches = picture.locator("[data-stretch]")
    said = stretches.first.get_attribute("aria-label")
    stretches.first.locator(".trench").click(force=True)
    dashboard.reads("Next here")
    dashboard.shown()
    assert said.split(":")[0] in dashboard.text()
    dashboard.page.get_by_role("button", name="Close").click()
    dashboard.page.get_by_text("Next here").wait_for(state="detached")
    dashboard.shown()
    stretches.last.focus()
    dashboard.page.keyboard.press("Enter")
    dashboard.reads("Next here")
    dashboard.shown()
    whole = picture.get_attribute("viewBox")
    dashboard.page.get_by_role("button", name="Nearer").click()
    assert float(picture.get_attribute("viewBox").split()[2]) < float(whole.split()[2])
    dashboard.page.get_by_role("button", name="Farther").click()
    assert picture.get_attribute("viewBox") == whole
    dashboard.page.get_by_role("link", name="Section").click()
    dashboard.reads("Bottom width")
    assert dashboard.exceptions() == 0
    assert not dashboard.faults


def test_every_visit_and_hold_is_listed(dashboard):
    dashboard.open("Visits and holds").planned()
    dashboard.page.get_by_role("radio", name="Hold points").click()
    dashboard.reads("Still to come")
    dashboard.shown()
    said = dashboard.text()
    holds = case(SMALL).network.holds
    assert f"Still to come ({len(holds)})" in said
    plain = said.replace("\u2060", "")
    assert [h.name for h in holds if h.name not in plain] == []
    dashboard.photograph("hold-points-1440-light")
    dashboard.page.get_by_role("radio", name="Visits").click()
    dashboard.reads("Planned visits")


def test_a_link_opens_what_it_names_and_survives_a_reload(dashboard, visit):
    work = next(a for a in case(SMALL).network.activities if a.reach == "pole-foot")
    link = {"site": "orchard-lane", "view": "stations", "alignment": "pole-branch", "activity": work.id}
    dashboard.open("Schedule", **link)
    dashboard.reads(work.name)
    url = dashboard.page.url
    dashboard.page.reload()
    dashboard.shown()
    assert dashboard.page.url == url
    assert work.name in dashboard.page.get_by_role("heading").all_inner_texts()
    other = visit()
    other.page.goto(url)
    other.shown()
    assert work.name in other.page.get_by_role("heading").all_inner_texts()
    other.open("Trench", reach="pole-foot")
    assert "Pole branch 0+28-0+52" in other.page.get_by_role("combobox", name="Reach").input_value()


def test_a_link_to_nothing_gets_a_friendly_word(dashboard):
    dashboard.page.goto(f"{dashboard.address}/schedule?activity=no-such-work&site=no-such-site&view=no-such-view")
    dashboard.reads("site “no-such-site”")
    assert dashboard.page.locator("h1").count() == 0, "no other job in its place"
    dashboard.page.get_by_role("button", name="All right").click()
    dashboard.reads("task “no-such-work”")
    for what in ("task “no-such-work”", "view “no-such-view”"):
        dashboard.reads(what)
    assert dashboard.exceptions() == 0
    dashboard.photograph("link-to-nothing-1440-light")


def test_the_street_opens_by_alignment_and_its_search_can_be_stopped(dashboard, tmp_path):
    finish = best_finish(STREET)
    with serve(tmp_path, str(SMALL), own_plans=True) as dashboard.address:
        _is_opened_and_its_search_stopped(dashboard, finish)


def _is_opened_and_its_search_stopped(dashboard, finish):
    dashboard.open().planned()
    dashboard.pick("Site", "Lantern street")
    dashboard.reads("Lantern Street infill")
    dashboard.reads("Would finish")
    dashboard.page.get_by_role("button", name="Stop looking").click()
    dashboard.reads("The search was stopped.")
    dashboard.shown()
    assert f"{day(finish)}, {finish:%H:%M}" in dashboard.text()
    dashboard.open("Schedule", site="lantern-street", view="reach")
    assert "Each alignment as one band" in dashboard.page.get_by_role("combobox", name="Alignment").input_value()
    assert dashboard.overflow_px() == 0
    dashboard.photograph("street-by-reach-1440-light")
    dashboard.page.get_by_role("button", name="Search again, to the end").wait_for()


def test_a_solve_can_be_stopped_and_the_plan_is_called_stopped(dashboard, tmp_path):
    file = tmp_path / "many-reaches.yaml"
    site = make_site(30, seed=1).model_dump(mode="json", by_alias=True, exclude_defaults=True, exclude_none=True)
    YAML(typ="safe").dump(site, file)
    dashboard.open().planned()
    dashboard.upload(file)
    dashboard.reads("best so far")
    dashboard.photograph("busy-1440-light")
    dashboard.page.get_by_role("button", name="Stop and keep the best so far").click()
    dashboard.reads("The search was stopped.")
    dashboard.shown()
    said = dashboard.text()
    assert "Stopped before it was proved best. No plan can finish before" in said
    assert "Proved" not in said
    dashboard.page.get_by_role("button", name="Search again, to the end").wait_for()
    dashboard.photograph("stopped-1440-light")


def test_a_bad_file_is_refused_with_every_fault_and_its_line(dashboard, tmp_path):
    text = SMALL.read_text(encoding="utf-8")
    text = text.replace("length_ft: 220", "length_ft: -220").replace("frost_depth_in", "frost_depth")
    text = text.replace("trade: plumber", "trade: plumer", 1)
    file = tmp_path / "bad-site.yaml"
    file.write_text(text, encoding="utf-8")
    with pytest.raises(BadInput) as bad:
        load_site(file)
    dashboard.open()
    dashboard.upload(file)
    dashboard.reads("This site file cannot be used yet")
    dashboard.shown()
    said = dashboard.text()
    assert len(bad.value.findings) >= 3
    for fault in bad.value.findings:
        assert f"bad-site.yaml, line {fault.line}" in said
    assert dashboard.overflow_px() == 0
    dashboard.photograph("bad-file-1440-light")


def test_an_impossible_site_is_told_which_rules_clash(dashboard, tmp_path):
    file = tmp_path / "too-soon.yaml"
    text = SMALL.read_text(encoding="utf-8")
    file.write_text(text.replace("target_finish: 2027-04-09", "target_finish: 2027-03-20"), encoding="utf-8")
    dashboard.open()
    dashboard.upload(file)
    dashboard.reads("no plan exists, because some rules cannot all be kept")
    dashboard.go("Conflicts")
    dashboard.reads("These cannot hold together")
    said = dashboard.text()
    assert "20 Mar" in said or "2027-03-20" in said
    assert "Ways out" in said
    assert said.count("Would finish") >= 2  # repairs to choose from, each with the finish it gives
    assert "Costs" in said
    assert dashboard.exceptions() == 0
    dashboard.photograph("conflict-1440-light")


def test_a_large_or_foreign_file_is_refused_politely(dashboard, tmp_path):
    file = tmp_path / "huge.yaml"
    file.write_bytes(b"# noise\n" * 300_000)
    dashboard.open()
    dashboard.upload(file)
    dashboard.page.get_by_text(re.compile("must be .* or smaller|too large")).first.wait_for()
    dashboard.reads("Would finish")
    assert dashboard.exceptions() == 0
