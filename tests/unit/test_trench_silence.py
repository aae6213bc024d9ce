"""What used to pass in silence: places merged under one number, requirements that could not bite, half-kept ones."""

from __future__ import annotations

from scheduler.trench.layout_check import check_layout
from tests.trenches import broken, line, trench
from tests.unit.test_trench_sheets import POWER, with_sheet

REACHES = [
    {"id": "drive", "alignment": "main", "from": 0, "to": 30, "soil": "B", "place": "residential_drive"},
    {"id": "lawn", "alignment": "main", "from": 30, "to": 100, "soil": "B"},
]
SPUR = {"id": "spur", "name": "Spur", "length_ft": 40, "leaves": {"alignment": "main", "station": 50}}


def test_places_with_other_numbers_are_findings_of_their_own(tmp_path):
    entries = [
        "{rule: cover-power, value: 42, places: [residential_drive]}",
        "{rule: cover-power, value: 30}",
    ]
    found = check_layout(with_sheet(tmp_path, entries, POWER | {"cover_in": 24}, reaches=REACHES))
    assert {(f.where, f.required) for f in found} == {
        ("Main trench, 0+00 to 0+30", "at least 42 in"),
        ("Main trench, 0+30 to 1+00", "at least 30 in"),
    }


def test_a_pull_line_may_be_asked_for_by_place(tmp_path):
    entries = ["{rule: pull-line-strength, value: 500, places: [residential_drive]}"]
    found = broken(with_sheet(tmp_path, entries, POWER | {"pull_line_lb": 200}, reaches=REACHES))
    assert found["pull-line-strength"].where == "Main trench, 0+00 to 0+30"


def test_how_full_a_conduit_is_may_be_limited_by_reach():
    full = POWER | {"conductors": [{"count": 3, "size": "4/0"}]}
    rules = [{"rule": "conduit-fill", "value": 10, "source": "the utility's letter", "where": ["drive"]}]
    found = broken(trench(full, rules=rules, reaches=REACHES))
    assert found["conduit-fill"].where == "Main trench, 0+00 to 0+30"


def test_inspections_may_be_asked_for_by_place(tmp_path):
    entries = ["{rule: inspect-stages, value: [lines_laid], places: [residential_drive], who: The City}"]
    assert "inspect-stages" in broken(with_sheet(tmp_path, entries, POWER, reaches=REACHES))
    assert not broken(with_sheet(tmp_path, entries, POWER))


def look(**more):
    return {
        "id": "look", "name": "Look", "authority": "The City", "stage": "lines_laid", "calendar": "days",
    } | more  # fmt: skip


def test_an_inspection_of_a_spur_or_one_that_only_witnesses_is_not_the_one_asked_for(tmp_path):
    entries = ["{rule: inspect-stages, value: [lines_laid], kinds: [power], who: The City}"]
    both = [{"alignment": "main", "from": 0, "to": 50}, {"alignment": "spur", "from": 0, "to": 40}]
    reaches = [*REACHES, {"id": "side", "alignment": "spur", "from": 0, "to": 40, "soil": "B"}]
    site = trench(alignments=[{"id": "main", "name": "Main trench", "length_ft": 100}, SPUR], reaches=reaches)

    def asked(*looks):
        sections = {"alignments": site.alignments, "reaches": site.reaches, "inspections": list(looks)}
        rows = {k: [r if isinstance(r, dict) else r.model_dump(by_alias=True) for r in v] for k, v in sections.items()}
        return broken(with_sheet(tmp_path, entries, POWER | {"route": both}, **rows))

    assert not asked(look())
    assert not asked(look(alignments=["main"]), look(id="other", alignments=["spur"]))
    assert "inspect-stages" in asked(look(alignments=["spur"]))
    assert "inspect-stages" in asked(look(hold="witness"))


def test_protection_does_not_let_two_lines_lie_at_one_depth():
    water = line("w", "water", "pvc_pressure", 4, cover_in=36, protected_crossing=True)

    def marked(depth_in):
        return [{"id": "m", "kind": "sewer", "alignment": "main", "station": 50, "depth_in": depth_in, "size_in": 4}]

    assert not broken(trench(water, existing=marked(41)))
    assert broken(trench(water, existing=marked(38)))["cross-water-sewer"].found == "both at one depth"
