"""Asking further about one piece of work, and about the plan as a whole."""

from __future__ import annotations

import re

WORK = "hydrant-lawn/dig"


def test_what_if_it_started_earlier_and_how_late_it_may_finish(dashboard):
    dashboard.open("Critical path", activity=WORK).planned()
    dashboard.page.get_by_text("What if it moved?").click()
    dashboard.shown()
    asked = dashboard.page.get_by_test_id("stExpander").filter(has_text="What if it moved?")
    asked.get_by_test_id("stTimeInput").get_by_role("spinbutton").first.click()
    dashboard.page.keyboard.type("0500")
    dashboard.page.keyboard.press("Enter")
    dashboard.reads("starts outside its working hours")
    dashboard.page.get_by_role("button", name="Work it out").click()
    dashboard.page.get_by_text(re.compile("No plan that keeps the finish has it later|Later was not shown")).wait_for()
    assert dashboard.exceptions() == 0


def test_the_plan_is_measured_against_the_published_checks(dashboard):
    dashboard.open("Critical path").planned()
    dashboard.unfold("Each published check")
    said = dashboard.text()
    assert "that can be asked of it" in said
    assert "GAO-16-89G" in said
    assert re.search(r"12\. Critical path test.* passes", said)
    numbers = {int(n) for n in re.findall(r"^(\d+)\. .* (?:passes|does not pass|does not apply)\.", said, re.MULTILINE)}
    assert numbers == set(range(1, 15))
    for line in said.splitlines():
        if "does not pass." in line:
            assert len(line.split("the mark is")[1].split(".", 1)[1].strip()) > 20, line  # none left unexplained
