"""Every page judged by axe-core, the open rules engine for the Web Content Accessibility Guidelines (W3C WCAG 2.1)."""

from __future__ import annotations

from typing import Any

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.browser.dashboard import PATHS
from tests.browser.test_live import HOLD

GRAVE = {"serious", "critical"}
LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"]


def grave(page: Any) -> dict[str, list[str]]:
    """Return the serious and critical faults of what a page shows, by rule."""
    result = Axe().run(page, options={"runOnly": LEVELS, "resultTypes": ["violations"]})
    return {
        v["id"]: [f"{n['html'][:200]} | {n['failureSummary'][:300]}" for n in v["nodes"]]
        for v in result.response["violations"]
        if v["impact"] in GRAVE
    }


@pytest.mark.known
@pytest.mark.parametrize(("width", "scheme"), [(1440, "light"), (390, "dark")])
def test_no_page_has_a_serious_fault_of_access(visit, width, scheme):
    dashboard = visit(width=width, scheme=scheme)
    dashboard.open().planned()
    found = {}
    for name in PATHS:
        dashboard.go(name)
        found |= {f"{name}: {rule}": nodes for rule, nodes in grave(dashboard.page).items()}
    assert found == {}


@pytest.mark.known
@pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (1440, "dark")])
def test_neither_the_editor_nor_a_tag_nor_a_film_has_a_serious_fault_of_access(visit, width, scheme):
    dashboard = visit(width=width, scheme=scheme)
    found = {}
    for address in ("site-editor?part=site", "site-editor?part=lines", f"inspections?stake={HOLD}&lang=es"):
        dashboard.page.goto(f"{dashboard.address}/{address}")
        dashboard.shown()
        found |= {f"{address}: {rule}": nodes for rule, nodes in grave(dashboard.page).items()}
    dashboard.open("Trench").planned()
    dashboard.unfold("What is planned for the end of a day")
    found |= {f"film: {rule}": nodes for rule, nodes in grave(dashboard.page).items()}
    assert found == {}
