"""Local rule sheets: what they can say, how they are refused, and how they weigh against built-in rules."""

from __future__ import annotations

from pathlib import Path

import pytest

import scheduler.trench
from scheduler.errors import BadInput
from scheduler.site.files import load_site
from scheduler.trench.layout_check import check_layout
from scheduler.trench.register import RULES
from scheduler.trench.section import sections
from scheduler.trench.sheets import bundled_folder, find_sheet, load_sheet, read_sheet, sheets_of
from tests.trenches import broken, line, trench

HEAD = "name: Test sheet\nwho: Test City\nedition: '2026'\nsource: invented\nentries:\n"


def with_sheet(tmp_path, entries, *lines, **sections_of_site):
    """Return a site that lies beside a sheet with the given entries."""
    (tmp_path / "local.yaml").write_text(HEAD + "".join(f"  - {e}\n" for e in entries), encoding="utf-8")
    return trench(*lines, rule_sheets=["local.yaml"], **sections_of_site).lying_in(tmp_path)


def faults(text):
    with pytest.raises(BadInput) as caught:
        read_sheet(text, file="s.yaml")
    return {(f.rule, f.line) for f in caught.value.findings}


POWER = line("p", "power", "pvc40", 2, use="service", voltage_v=240)
BENT = [{"alignment": "main", "station": 20 * i, "degrees": 90, "radius_in": 24} for i in range(4)]
BOX = {"id": "b", "kind": "pull_box", "name": "Box", "alignment": "main", "station": 50, "lines": ["p"]}
RISER = {
    "id": "s", "kind": "riser", "name": "Riser", "alignment": "main", "station": 0, "lines": ["p"],
    "riser_material": "pvc40", "riser_height_ft": 8,
}  # fmt: skip
OPEN = {"id": "k", "alignment": "main", "from": 0, "to": 7, "until": "t", "because": "tie-in", "structure": "s"}


@pytest.mark.parametrize(
    ("entry", "lines", "more"),
    [
        ("{rule: cover-power, value: 30, uses: [service]}", [POWER | {"cover_in": 24}], {}),
        ("{rule: cover-most, value: 36, kinds: [power]}", [POWER | {"cover_in": 40}], {}),
        (
            "{rule: apart-power-water, value: 24}",
            [POWER | {"offset_in": -8, "cover_in": 24}, line("w", "water", "pex", 1, offset_in=8, cover_in=24)],
            {},
        ),
        ("{rule: bends-total, value: 270}", [POWER | {"bends": BENT}], {}),
        ("{rule: no-factory-bends, value: yes}", [POWER | {"bends": BENT[:1]}], {}),
        ("{rule: sweep-radius, value: 36}", [POWER | {"bends": BENT[:1]}], {}),
        ("{rule: ribbon, value: yes, kinds: [communications]}",
         [line("c", "communications", "pvc40", 2, warning_ribbon=False)], {}),
        ("{rule: ribbon-depths, value: [6, 12]}", [POWER], {"backfill": {"ribbon_below_grade_in": 6}}),
        ("{rule: ribbon-height, value: 18}", [POWER | {"cover_in": 24}], {"backfill": {"ribbon_below_grade_in": 12}}),
        ("{rule: bedding-least, value: 6}", [POWER], {}),
        ("{rule: shading-least, value: 12}", [POWER], {}),
        ("{rule: conduit-material, value: [pvc80, rmc], places: [street]}", [POWER], {"reach": {"place": "street"}}),
        ("{rule: pull-line-strength, value: 500}", [POWER | {"pull_line_lb": 200}], {}),
        ("{rule: box-gap, value: 28}", [POWER], {"structures": [BOX | {"size_in": [17, 30], "conduit_gap_in": 20}]}),
        ("{rule: riser-height, value: 10}", [POWER], {"structures": [RISER]}),
        ("{rule: riser-material, value: [pvc80]}", [POWER], {"structures": [RISER]}),
        ("{rule: keep-open-length, value: 10}", [POWER], {"structures": [RISER], "keep_open": [OPEN]}),
        ("{rule: inspect-stages, value: [lines_laid], kinds: [power], who: The Utility}", [POWER], {}),
        ("{rule: depth-most, value: 30}", [POWER | {"cover_in": 29}], {"reach": {"depth_in": 36}}),
        ("{rule: width-most, value: 30}", [POWER], {"reach": {"bottom_width_in": 36}}),
        ("{rule: width-least, value: 36}", [POWER], {"reach": {"bottom_width_in": 30}}),
        ("{rule: depth-least, value: 40}", [POWER | {"cover_in": 29}], {"reach": {"depth_in": 36}}),
        ("{rule: spoil-haul, value: yes}", [POWER], {}),
        ("{rule: spoil-setback, value: 6}", [POWER], {"reach": {"spoil_room_ft": 8}}),
        ("{rule: tracer, value: yes, kinds: [water]}", [line("w", "water", "pex", 1)], {}),
        (
            "{rule: line-order, value: [communications, power]}",
            [POWER | {"offset_in": -8}, line("c", "communications", "pvc40", 2, offset_in=8)],
            {},
        ),
    ],
)  # fmt: skip
def test_what_a_sheet_can_ask_for(tmp_path, entry, lines, more):
    assert not broken(trench(*lines, **more)), "legal without the sheet"
    rule = entry.partition("rule: ")[2].partition(",")[0]
    found = broken(with_sheet(tmp_path, [entry], *lines, **more))
    shown = {"width-least": "width-lines", "depth-least": "depth-lines"}.get(rule, rule)
    assert found.keys() == {shown}
    assert "Test sheet, 2026" in found[shown].source


def test_a_sheet_applies_only_where_it_says(tmp_path):
    entries = ["{rule: cover-power, value: 40, places: [street], owners: [customer], materials: [pvc40]}"]
    for place, material, owner, found in (
        ("street", "pvc40", "customer", True),
        ("yard", "pvc40", "customer", False),
        ("street", "pvc80", "customer", False),
        ("street", "pvc40", "Sample Power", False),
    ):
        power = line("p", "power", material, 2, cover_in=36, owner=owner)
        site = with_sheet(tmp_path, entries, power, reach={"place": place})
        assert ("cover-power" in broken(site)) is found


def test_of_two_sheets_the_strictest_counts_and_the_site_file_wins(tmp_path):
    entries = [
        "{rule: cover-power, value: 30, source: part 1}",
        "{rule: cover-power, value: 36, source: part 2}",
        "{rule: cover-power, value: 33, source: part 3}",
    ]
    assert sections(with_sheet(tmp_path, entries, POWER))["r"].placed[0].top_in == 36
    own = [{"rule": "cover-power", "value": 32, "source": "agreed with the inspector"}]
    assert sections(with_sheet(tmp_path, entries, POWER, rules=own))["r"].placed[0].top_in == 32


def test_a_weaker_value_is_allowed_and_shown(tmp_path):
    site = with_sheet(tmp_path, ["{rule: cover-power, value: 12, source: page 4}"], POWER)
    note = broken(site)["cover-power"]
    assert sections(site)["r"].placed[0].top_in == 12
    assert note.severity == "note"
    assert note.found == "12 in by Test sheet, 2026, page 4"
    assert note.required.startswith("18 in by NFPA 70")
    assert note.where == "Main trench, 0+00 to 1+00"


def test_a_weaker_value_without_a_source_asks_for_it(tmp_path):
    entries = ["{rule: apart-power-communications, value: 6}", "{rule: bends-total, value: 450}"]
    site = with_sheet(tmp_path, entries, POWER, line("c", "communications", "pvc40", 2))
    found = check_layout(site)
    assert {(f.rule, f.severity) for f in found} == {("apart-power-communications", "fix"), ("bends-total", "fix")}
    assert all("section or page" in f.remedy for f in found)


def test_a_stricter_value_is_not_called_weaker(tmp_path):
    entries = ["{rule: cover-power, value: 30}", "{rule: bends-total, value: 180}", "{rule: spoil-setback, value: 3}"]
    assert not broken(with_sheet(tmp_path, entries, POWER))


def test_a_weaker_value_in_the_site_file_is_shown_for_its_reaches():
    rules = [{"rule": "cover-power", "value": 12, "source": "agreed", "where": ["b"]}]
    reaches = [
        {"id": "a", "alignment": "main", "from": 0, "to": 50},
        {"id": "b", "alignment": "main", "from": 50, "to": 100},
    ]
    note = broken(trench(POWER, rules=rules, reaches=reaches))["cover-power"]
    assert (note.severity, note.where) == ("note", "Main trench, 0+50 to 1+00")


def test_a_rule_nobody_knows_is_named_with_the_nearest():
    rules = [
        {"rule": "cover-powr", "value": 30, "source": "x"},
        {"rule": "conduit-material", "value": 1, "source": "x"},
    ]
    first, second = check_layout(trench(POWER, rules=rules))
    assert (first.where, first.rule) == ("rules[1]", "local-rule")
    assert "did you mean 'cover-power'" in first.text
    assert "only a rule sheet" in second.text


def test_federal_limits_and_geometry_take_no_local_value():
    rules = [{"rule": "protect-engineer", "value": 40, "source": "hope"}]
    (found,) = check_layout(trench(POWER, rules=rules))
    assert (found.rule, found.severity) == ("local-rule", "fix")
    assert "for people to settle" in found.text


def test_every_rule_that_may_be_local_is_looked_up_somewhere():
    folder = Path(scheduler.trench.__file__).parent
    code = "".join(p.read_text(encoding="utf-8") for p in folder.rglob("*.py") if p.parent.name != "rules")
    tabled = ("apart-", "cross-", "cover-", "clear-", "edge-")
    for rule in RULES.values():
        if rule.local and not rule.id.startswith(tabled):
            assert f'"{rule.id}"' in code, rule.id


def test_bad_sheets_are_refused_with_every_fault_and_its_line():
    text = HEAD + (
        "  - {rule: cover-powr, value: 30}\n"
        "  - {rule: cover-power, value: deep}\n"
        "  - {rule: cover-power, value: -3}\n"
        "  - {rule: ribbon, value: 3}\n"
        "  - {rule: conduit-material, value: [wood]}\n"
        "  - {rule: cover-power, value: [1, 2]}\n"
        "  - {rule: cover-power, value: 30, kind: power}\n"
        "  - {rule: cover-power}\n"
        "  - {rule: inspect-stages, value: [sometime]}\n"
        "  - {rule: protect-engineer, value: 30}\n"
    )
    assert faults(text) == {
        ("sheet.rule", 6), ("sheet.value", 7), ("sheet.value", 8), ("sheet.value", 9), ("sheet.value", 10),
        ("sheet.value", 11), ("site.unknown-field", 12), ("site.missing", 13), ("sheet.value", 14), ("sheet.rule", 15),
    }  # fmt: skip


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        ("", "sheet.not-a-sheet"),
        ("- a\n- b\n", "sheet.not-a-sheet"),
        ("name: [\n", "file.syntax"),
        ("name: a\nname: b\n", "file.duplicate-key"),
        (HEAD.replace("entries:\n", "entries: []\n"), "site.value"),
        (HEAD + "  - just words\n", "site.value"),
    ],
)
def test_files_that_are_no_sheets(text, rule):
    assert rule in {r for r, _ in faults(text)}


@pytest.mark.parametrize("name", ["nothing.yaml", "../sheets/tern-city.yaml", "/etc/passwd", "..\\x.yaml", "."])
def test_sheets_are_found_by_plain_name_only(name):
    with pytest.raises(BadInput, match="no rule sheet of this name"):
        find_sheet(name, folder=None)


def test_all_missing_sheets_are_named_at_once():
    with pytest.raises(BadInput) as caught:
        sheets_of(trench(rule_sheets=["one.yaml", "two.yaml"]))
    assert [f.found for f in caught.value.findings] == ["'one.yaml'", "'two.yaml'"]


def test_the_bundled_sheets_are_marked_invented_and_used_cleanly():
    for sheet, site in (("sorrel-power", "orchard-lane"), ("tern-city", "lantern-street")):
        loaded = load_sheet(find_sheet(f"{sheet}.yaml", folder=None))
        assert loaded.invented
        assert all(entry.source for entry in loaded.entries)
        plain = load_site(bundled_folder().parent / f"{site}.yaml")
        assert not check_layout(plain.model_copy(update={"rule_sheets": [f"{sheet}.yaml"]}))


def test_every_rule_says_what_and_where_from():
    for rule in RULES.values():
        assert rule.sentence.endswith(".")
        assert rule.source
        assert rule.basis in ("verified", "from memory", "common practice", "local")
        assert (rule.basis == "local") == (rule.source == "local sheet")
