"""Small trenches for tests, built in memory; every name and number is invented."""

from __future__ import annotations

from typing import Any

from scheduler.findings import Finding
from scheduler.site.site_record import Site
from scheduler.trench.layout_check import check_layout

ALONG = [{"alignment": "main", "from": 0, "to": 100}]


def line(name: str, kind: str, material: str, size_in: float, **more: Any) -> dict[str, Any]:
    """Return a line along the whole of the main alignment."""
    return {
        "id": name, "name": name, "kind": kind, "trade": "crew", "material": material, "size_in": size_in,
        "route": ALONG, **more,
    }  # fmt: skip


def trench(*lines: dict[str, Any], reach: dict[str, Any] | None = None, **sections: Any) -> Site:
    """Return a site with one 100 ft reach that holds the given lines; sections are added or replaced."""
    job = {"name": "Test trench", "first_day": "2027-03-01", "frost_depth_in": 0, "invented": True}
    base: dict[str, Any] = {
        "site": job | sections.pop("site", {}),
        "calendars": [{"id": "days", "name": "Days", "weekly": ["mon-fri 07:00-15:30"]}],
        "alignments": [{"id": "main", "name": "Main trench", "length_ft": 100}],
        "reaches": [{"id": "r", "alignment": "main", "from": 0, "to": 100, "soil": "B"} | (reach or {})],
        "lines": list(lines) or [line("conduit", "power", "pvc40", 2)],
        "locate_tickets": [{"id": "ticket", "called": "2027-02-22T08:00"}],
        "trades": [{"id": "crew", "name": "Crew", "own": True, "calendar": "days"}],
    }
    return Site.model_validate(base | sections)


def broken(site: Site) -> dict[str, Finding]:
    """Return what the layout check finds, by rule; fails where one rule is found twice."""
    findings = check_layout(site)
    by_rule = {f.rule: f for f in findings}
    assert len(by_rule) == len(findings), [f"{f.rule} {f.where}" for f in findings]
    return by_rule
