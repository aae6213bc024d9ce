"""What stands beside the trench or hangs over it: how far lines, trench, spoil and machines keep away."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from scheduler.site.site_record import Site
from scheduler.trench.layout_check import check_layout
from scheduler.trench.looked_at import look
from scheduler.trench.rules.surround_rules import wire_clearance_ft
from tests.small_site import SMALL_SITE, faults_in
from tests.trenches import broken, line, trench


def thing(what: str, distance_ft: float, **more: Any) -> dict[str, Any]:
    return {"id": what, "what": what, "alignment": "main", "from": 40, "distance_ft": distance_ft} | more


def beside(*things: dict[str, Any], lines: tuple[dict[str, Any], ...] = (), **sections: Any) -> Site:
    return trench(*lines, surroundings=list(things), **sections)


def own(rule: str, value: float) -> list[dict[str, Any]]:
    return [{"rule": rule, "value": value, "source": "Sheet of the utility, page 2"}]


SEWER = line("sewer", "sewer", "pvc_sewer", 4, cover_in=40, offset_in=0)
WATER = line("water", "water", "pe", 1, cover_in=40, offset_in=0)


@pytest.mark.parametrize(("distance", "away"), [(10, "9.8 ft"), (3, "2.8 ft")])
def test_a_sewer_keeps_ten_feet_from_a_well(distance: float, away: str) -> None:
    # IPC Table 608.17.1 (from memory): 10 ft. The pipe is 4.215 in across, 0.18 ft to its side.
    found = broken(beside(thing("well", distance), lines=(SEWER,)))["clear-well"]
    assert found.where == "Main trench, 0+40"
    assert (found.found, found.required) == (f"{away} from it", "at least 10 ft")
    assert "608.17.1" in found.source


@pytest.mark.parametrize(("side", "offset_in", "kept"), [("right", -6, True), ("right", 6, False), ("left", 6, True)])
def test_distance_is_measured_to_the_side_of_the_line_that_faces_it(side: str, offset_in: float, kept: bool) -> None:
    sewer = SEWER | {"offset_in": offset_in}
    site = beside(thing("well", 10, side=side), lines=(sewer,), reach={"bottom_width_in": 36})
    assert ("clear-well" not in broken(site)) is kept


def test_water_beside_a_well_is_asked_only_where_a_sheet_asks() -> None:
    well = thing("well", 4)
    assert "clear-well" not in broken(beside(well, lines=(WATER,)))
    assert broken(beside(well, lines=(WATER,), rules=own("clear-well", 5)))["clear-well"].required == "at least 5 ft"


def test_a_value_below_the_table_is_told_as_weaker() -> None:
    site = beside(thing("well", 8), lines=(SEWER,), rules=own("clear-well", 5))
    (note,) = [f for f in check_layout(site) if f.rule == "clear-well"]
    assert note.severity == "note"
    assert "10 ft" in note.required


@pytest.mark.parametrize("what", ["building", "meter", "lot_line", "septic", "tree", "pole"])
def test_a_sheet_keeps_lines_and_trench_clear_of_each_thing(what: str) -> None:
    name = what.replace("_", "-")
    for rule in (f"clear-{name}", f"edge-{name}"):
        site = beside(thing(what, 4, footing_in=90), lines=(WATER,), rules=own(rule, 5))
        found = broken(site)[rule]
        assert found.required == "at least 5 ft"
        assert "page 2" in found.source
        assert rule not in broken(beside(thing(what, 7, footing_in=90), lines=(WATER,), rules=own(rule, 5)))


def test_a_thing_past_the_end_of_a_line_is_as_far_as_it_is_straight_across() -> None:
    # The line ends at 0+40, the tree stands 3 ft on and 4 ft aside (to the line's side, 0.05 ft less): 5 ft.
    short = WATER | {"route": [{"alignment": "main", "from": 0, "to": 40}]}
    tree = thing("tree", 4, **{"from": 43})
    assert "clear-tree" in broken(beside(tree, lines=(short,), rules=own("clear-tree", 5.1)))
    assert "clear-tree" not in broken(beside(tree, lines=(short,), rules=own("clear-tree", 4.9)))


def test_another_open_trench_leaves_ground_standing() -> None:
    found = broken(beside(thing("trench", 2.5), reach={"bottom_width_in": 24}))["trenches-apart"]
    assert (found.found, found.required) == ("1.5 ft from it", "at least 2 ft")


DEEP = {"depth_in": 60, "bottom_width_in": 24, "soil": "A", "surface": "asphalt", "place": "street"}


@pytest.mark.parametrize(
    ("distance", "footing", "more", "kept"),
    [
        (3, 24, {}, False),  # 3 ft below the base, bottom 2 ft away: inside 45 degrees
        (4.1, 24, {}, True),  # 3.1 ft away
        (3, 48, {}, True),  # 1 ft below, 2 ft away
        (3, 60, {}, True),  # no deeper than the footing
        (3, 24, {"settled": "Underpinned, design of an engineer"}, True),
    ],
)
def test_a_trench_beside_a_footing(distance: float, footing: float, more: dict[str, Any], kept: bool) -> None:
    site = beside(thing("building", distance, footing_in=footing, **more), lines=(SEWER,), reach=DEEP)
    found = broken(site)
    assert ("footing-below" not in found) is kept
    if not kept:
        said = found["footing-below"]
        assert said.severity == "stop"
        assert said.found == "60 in deep, 3 ft below the footing's base, its bottom 2 ft from it"
        assert said.required == "its bottom 3 ft away, or no deeper than 24 in"
        assert "1926.651(i)(2)" in said.source


def test_stable_rock_may_be_dug_below_a_footing_and_a_footing_of_unknown_depth_is_asked_about() -> None:
    rock = DEEP | {"soil": "stable_rock", "surface": "turf"}
    assert "footing-below" not in broken(beside(thing("building", 3, footing_in=24), lines=(SEWER,), reach=rock))
    near, far = (
        [q.text for q in look(beside(thing("building", d), lines=(SEWER,), reach=DEEP)).unknown if "footing" in q.text]
        for d in (3, 30)
    )
    assert len(near) == 1
    assert far == []


EXCAVATOR = [{"id": "digger", "name": "Excavator", "kind": "excavator", "calendar": "days", "boom_up_ft": 18}]


@pytest.mark.parametrize(
    ("volts", "feet"),
    [(None, 10), (480, 10), (50_000, 10), (69_000, 15), (345_000, 20), (500_000, 25), (765_000, 45), (1_100_000, 50)],
)
def test_clearance_to_a_wire_by_voltage(volts: float | None, feet: float) -> None:
    # 29 CFR 1926.1408 Table A
    assert wire_clearance_ft(volts) == feet


@pytest.mark.parametrize(
    ("distance", "height", "volts", "found"),
    [
        (0, 25, 7200, "7 ft"),  # 25 less 18
        (0, 28, 7200, None),
        (26, 25, 7200, "9.2 ft"),  # 6 ft beyond the swing, 7 ft above the boom
        (30, 16, 7200, None),  # 10 ft beyond the swing
        (0, 30, 115_000, "12 ft"),
    ],
)
def test_a_machine_under_a_wire(distance: float, height: float, volts: float, found: str | None) -> None:
    wire = thing("overhead_line", distance, height_ft=height, voltage_v=volts)
    said = broken(beside(wire, equipment=EXCAVATOR)).get("overhead-clear")
    assert (said is None) is (found is None)
    if said is not None:
        assert said.severity == "stop"
        assert said.found == f"{found} from the wire, with 18 ft of boom and 20 ft of swing"


def test_a_sheet_can_ask_for_more_from_a_wire_but_not_for_less() -> None:
    wire = thing("overhead_line", 0, height_ft=27, voltage_v=7200)
    assert broken(beside(wire, equipment=EXCAVATOR, rules=own("overhead-clear", 6)))["overhead-clear"].required == (
        "at least 10 ft"
    )
    assert broken(beside(wire, equipment=EXCAVATOR, rules=own("overhead-clear", 20)))["overhead-clear"].required == (
        "at least 20 ft"
    )


def test_a_wire_that_is_settled_or_without_a_machine_is_not_judged_and_an_unknown_height_is_asked_about() -> None:
    wire = thing("overhead_line", 0, height_ft=20, voltage_v=240)
    dead = wire | {"settled": "Dead and grounded by the power company"}
    assert "overhead-clear" not in broken(beside(dead, equipment=EXCAVATOR))
    assert "overhead-clear" not in broken(beside(wire))
    asked = look(beside(thing("overhead_line", 0), equipment=EXCAVATOR)).unknown
    assert {"How high its wires", "Its voltage is not"} <= {" ".join(q.text.split()[:4]).rstrip(";") for q in asked}


def test_what_somebody_settled_is_told_as_not_judged_and_not_as_looked_at() -> None:
    wire = thing("overhead_line", 0, height_ft=20, voltage_v=240, settled="the power company")
    house = thing("building", 3, footing_in=24, settled="Engineer Ash")
    looked = look(beside(wire, house, lines=(SEWER,), reach=DEEP, equipment=EXCAVATOR))
    assert [s.text for s in looked.settled] == [
        "Not judged in r, settled by the power company: overhead-clear, the overhead line.",
        "Not judged in r, settled by Engineer Ash: footing-below, the building.",
    ]
    assert {"overhead-clear", "footing-below"}.isdisjoint(a.rule for a in looked.applied)


def test_no_spoil_under_a_wire_where_a_sheet_says_so() -> None:
    wire = thing("overhead_line", 5, height_ft=60, voltage_v=240, side="left")
    rule = own("overhead-spoil", 1)
    assert "overhead-spoil" in broken(beside(wire, reach={"spoil": "left"}, rules=rule))
    assert "overhead-spoil" not in broken(beside(wire, reach={"spoil": "right"}, rules=rule))
    assert "overhead-spoil" not in broken(beside(wire, reach={"spoil": "left"}))


def test_what_somebody_settled_is_told_where_its_numbers_are_missing_too() -> None:
    wire = thing("overhead_line", 0, voltage_v=240, settled="the power company")
    house = thing("building", 3, settled="Engineer Ash")
    far = thing("building", 60, settled="Engineer Ash")
    looked = look(beside(wire, house, far, lines=(SEWER,), reach=DEEP, equipment=EXCAVATOR))
    assert [s.text for s in looked.settled] == [
        "Not judged in r, settled by the power company: overhead-clear, the overhead line; the height of its wires is "
        "not given.",
        "Not judged in r, settled by Engineer Ash: footing-below, the building; the depth of its footing is not given.",
    ]


def test_nothing_written_of_the_surroundings_is_told_and_an_empty_list_answers() -> None:
    assert any("stands beside the trench" in q.text for q in look(trench()).uncovered)
    assert not any("stands beside the trench" in q.text for q in look(beside()).uncovered)


def test_what_was_applied_is_listed_and_an_entry_about_what_is_not_there_says_so(tmp_path: Path) -> None:
    applied = {a.rule: a.value for a in look(beside(thing("well", 40), lines=(SEWER,))).applied}
    assert applied["clear-well"] == "10 ft"
    (tmp_path / "s.yaml").write_text(
        "name: S\nwho: Sample\nedition: '1'\nsource: invented\ninvented: true\nentries:\n"
        "  - {rule: clear-tree, value: 5}\n"
    )
    (idle,) = look(beside(rule_sheets=["s.yaml"]).lying_in(tmp_path)).idle
    assert idle.why == "no tree is written under `surroundings`"


@pytest.mark.parametrize(
    ("written", "rule"),
    [
        ("alignment: M, from: 9+99, distance_ft: 5", "site.past-end"),
        ("alignment: M, from: 0+50, to: 0+40, distance_ft: 5", "site.backwards"),
        ("alignment: X, from: 0+50, distance_ft: 5", "site.reference"),
    ],
)
def test_faults_in_the_surroundings_have_their_line(written: str, rule: str) -> None:
    text = SMALL_SITE + f"surroundings:\n  - {{id: oak, what: tree, {written}}}\n"
    (fault,) = faults_in(text)
    assert fault.line == text.count("\n")
    assert fault.rule == rule
