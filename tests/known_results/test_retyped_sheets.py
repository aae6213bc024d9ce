"""Requirement sheets retyped from published documents: each entry is kept by one invented site, and broken by another.

Beside each sheet lies a file of cases. `site` is a site that keeps the sheet, written over the base below; every case
changes it in one place (`set`) and gives the station, the number found and the number asked, by hand. An entry without
a case must be told, by the name of its source, as one that cannot be checked.
"""

from __future__ import annotations

import copy
from collections import Counter
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from scheduler.findings import Severity
from scheduler.site.site_record import Site
from scheduler.site.yamltext import read_yaml
from scheduler.trench.layout_check import check_layout
from scheduler.trench.looked_at import look
from scheduler.trench.rules import asked_rules
from scheduler.trench.sheets import RuleSheet, SheetEntry, load_sheet

FOLDER = Path(__file__).parent / "sheets"
SHEETS = sorted(p.name.removesuffix(".cases.yaml") for p in FOLDER.glob("*.cases.yaml"))
SHOWN_AS = {"width-least": "width-lines", "depth-least": "depth-lines", "room-pipe": "width-lines"}
BASE: dict[str, Any] = {
    "site": {"name": "Invented site", "first_day": "2027-03-01", "frost_depth_in": 0, "invented": True},
    "calendars": [{"id": "days", "name": "Days", "weekly": ["mon-fri 07:00-15:30"]}],
    "alignments": [{"id": "main", "name": "Main", "length_ft": 200}],
    "reaches": [
        {"id": "yard", "alignment": "main", "from": 0, "to": 40, "soil": "B"},
        {"id": "lawn", "alignment": "main", "from": 40, "to": 80, "soil": "B"},
        {"id": "drive", "alignment": "main", "from": 80, "to": 120, "soil": "B", "place": "residential_drive",
         "surface": "concrete"},
        {"id": "street", "alignment": "main", "from": 120, "to": 160, "soil": "B", "place": "street",
         "surface": "asphalt"},
        {"id": "rock", "alignment": "main", "from": 160, "to": 200, "soil": "stable_rock"},
    ],
    "locate_tickets": [{"id": "ticket", "called": "2027-02-22T08:00"}],
    "trades": [{"id": "crew", "name": "Crew", "own": True, "calendar": "days"}],
}  # fmt: skip


def sheet_of(name: str) -> RuleSheet:
    return load_sheet(FOLDER / f"{name}.yaml")


@cache
def cases_of(name: str) -> dict[str, Any]:
    file = FOLDER / f"{name}.cases.yaml"
    read: dict[str, Any] = read_yaml(file.read_text(encoding="utf-8"), file=file.name).data
    return read


def keeping(name: str) -> dict[str, Any]:
    """Return the data of the site that keeps a sheet; a line's `span` is its route along the main alignment."""
    data: dict[str, Any] = (
        copy.deepcopy(BASE) | copy.deepcopy(cases_of(name)["site"]) | {"rule_sheets": [f"{name}.yaml"]}
    )
    for line in data["lines"]:
        begin, end = line.pop("span", [0, 200])
        line.setdefault("route", [{"alignment": "main", "from": begin, "to": end}])
        line |= {"name": line.get("name", line["id"]), "trade": "crew"}
    return data


def put(data: Any, path: str, value: Any) -> None:
    """Write a value at a place such as `lines.p.bends.0.radius_in`; records are found by their id."""
    *steps, last = path.split(".")
    for step in steps:
        if isinstance(data, list):
            data = data[int(step)] if step.isdigit() else next(row for row in data if row["id"] == step)
        else:
            data = data.setdefault(step, {})
    if value is None:
        data.pop(last)
    else:
        data[int(last) if isinstance(data, list) else last] = value


def site_of(data: dict[str, Any]) -> Site:
    return Site.model_validate(data).lying_in(FOLDER)


def case_of(name: str, entry: SheetEntry) -> dict[str, Any] | None:
    return next((c for c in cases_of(name)["cases"] if c["entry"] == entry.source), None)


def outcome(name: str, entry: SheetEntry, untold: str) -> str:
    """Break one entry and tell how it went: checked, cannot be checked, or what was wrong."""
    cited, case = sheet_of(name).cited(entry), case_of(name, entry)
    if case is None:
        return "cannot be checked" if f"'{entry.rule}' of {cited} cannot be checked" in untold else "silent"
    data = keeping(name)
    for path, value in case["set"].items():
        put(data, path, value)
    rule = SHOWN_AS.get(entry.rule, entry.rule)
    found = [
        (f.where.partition(", ")[2], f.found, f.required)
        for f in check_layout(site_of(data))
        if f.rule == rule and cited in f.source and f.severity is not Severity.NOTE
    ]
    wanted = (case["where"], case["found"], case["required"])
    return "checked" if wanted in found else f"wanted {wanted}, found {found}"


@cache
def outcomes(name: str) -> dict[str, str]:
    untold = "\n".join(q.text for q in look(site_of(keeping(name))).unknown)
    return {entry.source or "": outcome(name, entry, untold) for entry in sheet_of(name).entries}


@pytest.mark.parametrize("name", SHEETS)
def test_a_site_that_keeps_a_sheet_has_nothing_to_mend(name):
    kept = [f for f in check_layout(site_of(keeping(name))) if f.severity is not Severity.NOTE]
    assert [(f.rule, f.where, f.found, f.required) for f in kept] == []


@pytest.mark.parametrize("name", SHEETS)
def test_every_entry_is_found_at_its_station_with_its_number_or_told(name):
    entries = sheet_of(name).entries
    assert len({e.source for e in entries}) == len(entries), "every entry has a source of its own"
    assert {c["entry"] for c in cases_of(name)["cases"]} <= {e.source for e in entries}
    wrong = {source: how for source, how in outcomes(name).items() if how not in ("checked", "cannot be checked")}
    assert wrong == {}


def test_most_of_what_published_sheets_ask_is_checked_and_nothing_is_silent():
    how = Counter(how for name in SHEETS for how in outcomes(name).values())
    assert len(SHEETS) >= 12
    assert how.total() >= 100
    assert how["silent"] == 0
    assert how["checked"] >= 0.9 * how.total()
    assert how["checked"] + how["cannot be checked"] == how.total()


def test_the_sheets_are_of_many_publishers_and_two_are_metric():
    publishers = {cases_of(name)["publisher"] for name in SHEETS}
    assert len(publishers) >= 8
    assert sum(cases_of(name).get("metric") == "true" for name in SHEETS) >= 2
    assert all(sheet_of(name).edition and sheet_of(name).source for name in SHEETS)


def test_every_rule_that_only_sheets_ask_for_is_in_one_of_them():
    asked = {entry.rule for name in SHEETS for entry in sheet_of(name).entries}
    assert {rule.id for rule in asked_rules.RULES} <= asked
