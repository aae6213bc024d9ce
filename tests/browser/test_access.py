"""Every page judged by axe-core, the open rules engine for the Web Content Accessibility Guidelines (W3C WCAG 2.1)."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe

from tests.browser.dashboard import PATHS

GRAVE = {"serious", "critical"}
LEVELS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "best-practice"]


@pytest.mark.known
@pytest.mark.parametrize(("width", "scheme"), [(1440, "light"), (390, "dark")])
def test_no_page_has_a_serious_fault_of_access(visit, width, scheme):
    dashboard = visit(width=width, scheme=scheme)
    dashboard.open().planned()
    found = {}
    for name in PATHS:
        dashboard.go(name)
        result = Axe().run(dashboard.page, options={"runOnly": LEVELS, "resultTypes": ["violations"]})
        for violation in result.response["violations"]:
            if violation["impact"] in GRAVE:
                nodes = [f"{n['html'][:200]} | {n['failureSummary'][:300]}" for n in violation["nodes"]]
                found[f"{name}: {violation['id']}"] = nodes
    assert found == {}
