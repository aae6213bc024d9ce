"""The bundled sites keep every layout rule; each one spoiled is found once, where it is, with its source."""

from __future__ import annotations

from typing import Any

import pytest

from scheduler.findings import Severity
from scheduler.site.files import load_site
from scheduler.site.site_record import Site
from scheduler.trench.layout_check import check_layout
from scheduler.trench.sheets import bundled_folder

FOLDER = bundled_folder().parent
SITES = {name: load_site(FOLDER / f"{name}.yaml") for name in ("orchard-lane", "lantern-street")}
DRIVE, POLE, GARDEN = "Main drive trench", "Pole branch", "Garden branch"
STREET = "Lantern Street joint trench"


@pytest.mark.parametrize("name", SITES)
def test_the_bundled_sites_keep_every_rule(name):
    assert check_layout(SITES[name]) == []


def spoiled(name: str, changes: dict[tuple[str, str], dict[str, Any] | None]) -> Site:
    """Return a bundled site with fields of its records changed; None leaves a record out."""
    data = SITES[name].model_dump(by_alias=True, exclude_unset=True)
    for (section, record), fields in changes.items():
        if section == "site":
            data["site"] |= fields or {}
            continue
        rows = data[section]
        assert any(row["id"] == record for row in rows)
        if fields is None:
            data[section] = [row for row in rows if row["id"] != record]
        else:
            data[section] = [row | fields if row["id"] == record else row for row in rows]
    return Site.model_validate(data)


def bends(*of: tuple[str, float, float], radius_in: float = 24, vertical: bool = False) -> list[dict[str, Any]]:
    alike = {"radius_in": radius_in, "vertical": vertical}
    return [{"alignment": a, "station": s, "degrees": d} | alike for a, s, d in of]


CASES: list[tuple[str, dict[tuple[str, str], dict[str, Any] | None], str, str, str]] = [
    (
        "orchard-lane",
        {("lines", "garden-lighting"): {"cover_in": 8}},
        "cover-lighting",
        f"{GARDEN}, 0+00 to 0+30",
        "NFPA 70 Table 300.5(A)",
    ),
    (
        "orchard-lane",
        {("lines", "garden-water"): {"cover_in": 40}},
        "cover-water",
        f"{GARDEN}, 0+00 to 0+60",
        "frost depth 36 in given by the site",
    ),
    (
        "orchard-lane",
        {("site", ""): {"frost_depth_in": None}},
        "frost-known",
        f"{DRIVE}, 0+00 to 2+20; {GARDEN}, 0+00 to 0+60",
        "IRC Table R301.2",
    ),
    (
        "orchard-lane",
        {("lines", "garden-lighting"): {"offset_in": 9, "cover_in": 36}},
        "apart-lighting-water",
        f"{GARDEN}, 0+00 to 0+30",
        "common practice",
    ),
    (
        "orchard-lane",
        {("lines", "telephone"): {"offset_in": 3}},
        "apart-power-communications",
        f"{DRIVE}, 0+00 to 2+12",
        "IEEE C2 320B2",
    ),
    (
        "orchard-lane",
        {("lines", "service"): {"warning_ribbon": False}},
        "ribbon",
        f"{DRIVE}, 0+00 to 1+60; {POLE}, 0+00 to 0+52",
        "Sorrel Valley Power service handbook",
    ),
    (
        "orchard-lane",
        {
            ("structures", "pull-box"): None,
            ("lines", "service"): {"conductors": [{"count": 3, "size": "2"}]},  # else too hard a pull
        },
        "pull-length",
        f"{DRIVE} 0+00 to {POLE} 0+52",
        "Sorrel Valley Power service handbook",
    ),
    (
        "orchard-lane",
        {("lines", "service"): {"bends": bends(*(("main", at, 90) for at in (90, 120, 150)), ("main", 160, 45))}},
        "bends-total",
        f"{DRIVE} 0+88 to {POLE} 0+52",
        "Sorrel Valley Power service handbook",
    ),
    (
        "orchard-lane",
        {("lines", "service"): {"bends": bends(("main", 160, 90), radius_in=18)}},
        "sweep-radius",
        f"{DRIVE}, 1+60",
        "Sorrel Valley Power service handbook",
    ),
    (
        "orchard-lane",
        {("lines", "gate-feeder"): {"bends": bends(("main", 100, 45), radius_in=5)}},
        "sweep-radius",
        f"{DRIVE}, 1+00",
        "NFPA 70 Chapter 9 Table 2",
    ),
    (
        "orchard-lane",
        {("lines", "gate-feeder"): {"bends": bends(("main", 212, 90), radius_in=36, vertical=True)}},
        "sweep-depth",
        f"{DRIVE}, 2+12",
        "geometry",
    ),
    (
        "orchard-lane",
        {("lines", "gate-feeder"): {"conductors": [{"count": 3, "size": "2"}]}},
        "conduit-fill",
        f"{DRIVE}, 0+00 to 2+12",
        "NFPA 70 Chapter 9",
    ),
    (
        "orchard-lane",
        {("lines", "gate-feeder"): {"conductors": [{"count": 3, "size": "9"}]}},
        "conduit-size-known",
        f"{DRIVE}, 0+00 to 2+12",
        "NFPA 70 Chapter 9",
    ),
    (
        "orchard-lane",
        {("lines", "service"): {"material": "hdpe"}},
        "conduit-material",
        f"{DRIVE}, 0+00 to 1+60; {POLE}, 0+00 to 0+52",
        "Sorrel Valley Power service handbook",
    ),
    (
        "orchard-lane",
        {("lines", "telephone"): {"pull_string": False}},
        "pull-string",
        f"{DRIVE}, 0+00 to 2+16",
        "common practice",
    ),
    (
        "orchard-lane",
        {("structures", "panel-riser"): {"slip_joint": False}},
        "riser-movement",
        f"{DRIVE}, 0+00",
        "NFPA 70 300.5(J)",
    ),
    (
        "orchard-lane",
        {("structures", "pole-riser"): {"slip_joint": False}},
        "thermal-movement",
        f"{POLE}, 0+52",
        "NFPA 70 352.44",
    ),
    (
        "orchard-lane",
        {("structures", "pole-riser"): {"riser_material": "pvc40"}},
        "riser-material",
        f"{POLE}, 0+52",
        "Sorrel Valley Power service handbook",
    ),
    (
        "orchard-lane",
        {("structures", "pole-riser"): {"riser_material": "rmc"}},
        "riser-wrap",
        f"{POLE}, 0+52",
        "Sorrel Valley Power service handbook",
    ),
    (
        "orchard-lane",
        {("structures", "panel-riser"): {"riser_height_ft": 7}},
        "riser-height",
        f"{DRIVE}, 0+00",
        "Sorrel Valley Power service handbook",
    ),
    (
        "orchard-lane",
        {("structures", "pull-box"): {"size_in": (12, 15), "conduit_gap_in": None}},
        "box-length",
        f"{DRIVE}, 0+88",
        "NFPA 70 314.28(A)(1)",
    ),
    (
        "orchard-lane",
        {("structures", "pull-box"): {"lines": ["service", "telephone"]}},
        "shared-box",
        f"{DRIVE}, 0+88",
        "NFPA 70 800.47(A)",
    ),
    (
        "orchard-lane",
        {("structures", "hydrant"): {"gravel_pocket": False}},
        "hydrant-drain",
        f"{GARDEN}, 0+46",
        "common practice",
    ),
    (
        "orchard-lane",
        {("keep_open", "loose-at-pole"): {"from": 48}},
        "keep-open-length",
        f"{POLE}, 0+48 to 0+52",
        "Sorrel Valley Power service handbook",
    ),
    (
        "orchard-lane",
        {("reaches", "barn-drive"): {"bottom_width_in": 30}},
        "width-lines",
        f"{DRIVE}, 0+60 to 0+84",
        "the bucket of Excavator with 3 ft bucket",
    ),
    (
        "orchard-lane",
        {("reaches", "kitchen-garden"): {"depth_in": 40}, ("reaches", "hydrant-lawn"): {"depth_in": 40}},
        "depth-lines",
        f"{GARDEN}, 0+00 to 0+60",
        "Garden water and future stub",
    ),
    (
        "orchard-lane",
        {("reaches", "lane-verge"): {"spoil_room_ft": 8}},
        "spoil-setback",
        f"{DRIVE}, 1+60 to 2+20",
        "29 CFR 1926.651(j)(2)",
    ),
    (
        "lantern-street",
        {("reaches", "mews-crossing"): {"soil": "unknown"}, ("reaches", "lots-7-8"): {"soil": "unknown"}},
        "protect-unknown-soil",
        f"{STREET}, 1+35 to 2+55",
        "29 CFR 1926.652(b)(1)",
    ),
    (
        "lantern-street",
        {("reaches", "mews-crossing"): {"spoil": "left"}},
        "spoil-haul",
        f"{STREET}, 1+35 to 1+95",
        "Tern utility trench standard",
    ),
    (
        "lantern-street",
        {("reaches", "mews-crossing"): {"bottom_width_in": 80}},
        "width-most",
        f"{STREET}, 1+35 to 1+95",
        "Tern utility trench standard",
    ),
    (
        "lantern-street",
        {("lines", "gas-main"): {"tracer_wire_awg": None}},
        "tracer",
        f"{STREET}, 0+00 to 2+70",
        "IFGC 404.17.3; 49 CFR 192.321(e)",
    ),
    (
        "lantern-street",
        {("lines", "water-1"): {"offset_in": -5}, ("reaches", "front-of-lot-1"): {"bottom_width_in": 60}},
        "water-sewer-shelf",
        "Lot 1 lateral, 0+00 to 0+24",
        "IPC 603.2 exception 1",
    ),
    (
        "lantern-street",
        {("lines", "gas-1"): {"cover_in": 10}},
        "cover-gas",
        "Lot 1 lateral, 0+00 to 0+24",
        "49 CFR 192.361(a)",
    ),
    (
        "lantern-street",
        {("existing", "old-water"): {"depth_in": 47}},
        "cross-water-water",
        f"{STREET}, 1+12",
        "common practice",
    ),
    (
        "lantern-street",
        {("existing", "old-lateral"): {"depth_in": 33, "size_in": 3}},
        "water-over-sewer",
        "Lot 4 lateral, 0+20",
        "IPC 603.2 exception 3",
    ),
    (
        "lantern-street",
        {("inspections", "water-test-look"): None},
        "inspect-stages",
        "inspections",
        "Tern utility trench standard",
    ),
]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "changes", "rule", "where", "source"),
    CASES,
    ids=[f"{case[0]}-{case[2]}-{i}" for i, case in enumerate(CASES)],
)
def test_a_spoiled_rule_is_found_once_where_it_is_with_its_source(name, changes, rule, where, source):
    findings = check_layout(spoiled(name, changes))
    assert [f.rule for f in findings] == [rule], [str(f) for f in findings]
    (found,) = findings
    assert found.where == where
    assert source in found.source
    assert found.found
    assert found.required
    assert found.remedy
    assert found.severity in Severity


def test_many_spoiled_rules_are_all_found_the_gravest_first():
    changes = {
        ("structures", "hydrant"): {"gravel_pocket": False},
        ("reaches", "lane-verge"): {"spoil_room_ft": 8},
        ("lines", "garden-water"): {"cover_in": 40},
        ("lines", "telephone"): {"pull_string": False},
    }
    findings = check_layout(spoiled("orchard-lane", changes))
    assert {f.rule for f in findings} == {"hydrant-drain", "spoil-setback", "cover-water", "pull-string"}
    assert [f.severity for f in findings] == [Severity.STOP, Severity.STOP, Severity.FIX, Severity.FIX]


def test_findings_of_one_reach_are_those_whose_places_lie_in_it():
    site = spoiled(
        "orchard-lane",
        {("lines", "telephone"): {"pull_string": False}, ("reaches", "lane-verge"): {"spoil_room_ft": 8}},
    )
    assert [f.rule for f in check_layout(site, reach="workshop-yard")] == ["pull-string"]
    assert {f.rule for f in check_layout(site, reach="lane-verge")} == {"pull-string", "spoil-setback"}
    assert check_layout(site, reach="pole-foot") == []
