"""The room that people and lines have between the walls of a shield, and what is said of two ribbons."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from scheduler.network.derive import derive
from scheduler.trench.layout_check import check_layout
from scheduler.trench.section import sections
from tests.trenches import broken, line, trench

SHIELDED: dict[str, Any] = {"surface": "asphalt", "place": "street", "depth_in": 72}


def sewer(**more: Any) -> dict[str, Any]:
    return line("sewer", "sewer", "pvc_sewer", 4, cover_in=60, **more)


def test_a_shield_leaves_people_less_than_the_bottom_is_wide() -> None:
    # 30 in less two walls of 4 in is 22 in; people need 24 in.
    found = broken(trench(sewer(), reach=SHIELDED | {"bottom_width_in": 30}))["width-people"]
    assert found.found == "30 in wide less 4 in of wall on each side: 22 in"
    assert found.required == "at least 24 in between the walls"
    assert "common practice" in found.source
    assert "the maker's sheet decides" in found.source


@pytest.mark.parametrize(("width", "surface"), [(32, "asphalt"), (30, "turf"), (24, "turf")])
def test_where_24_in_are_left_or_no_shield_stands_people_have_room(width: float, surface: str) -> None:
    site = trench(sewer(), reach=SHIELDED | {"bottom_width_in": width, "surface": surface})
    assert not {"width-people", "width-lines"} & {f.rule for f in check_layout(site)}


def test_the_wall_of_the_shield_in_use_can_be_given() -> None:
    own = [{"rule": "room-shield", "value": 2.5, "source": "Sheet of the box on site"}]
    assert "width-people" not in broken(trench(sewer(), reach=SHIELDED | {"bottom_width_in": 30}, rules=own))


def test_a_width_left_open_has_room_for_people_and_both_walls() -> None:
    (section,) = sections(trench(sewer(), reach=SHIELDED)).values()
    assert (section.bottom_width_in, section.clear_width_in) == (32, 24)
    assert "between shield walls of 4 in each" in section.width_governed_by


def test_lines_that_need_more_than_people_do_say_what_is_left_between_the_walls() -> None:
    # 12 in of line, 6 in of room and 4 in of wall on each side of it: 32 in; with two of them far more.
    wide = line("main", "water", "ductile_iron", 24, cover_in=40)
    found = broken(trench(wide, reach=SHIELDED | {"bottom_width_in": 40}))
    assert found["width-lines"].found == "40 in wide, 32 in between the shield walls"
    assert "width-people" not in found


def test_two_ribbons_are_told_with_two_depths() -> None:
    lamp = line("feed", "power", "pvc40", 2, cover_in=40, warning_ribbon=True, use="service")
    two = [{"rule": "ribbon-count", "value": 2, "source": "Sheet of the utility"}]
    (laid,) = [a for a in derive(trench(lamp, rules=two)).activities if a.kind == "ribbon"]
    assert "2 warning ribbons" in laid.name
    assert "200 ft of warning ribbon, at 12 in and 6 in below grade" in laid.because
    (one,) = [a for a in derive(trench(lamp)).activities if a.kind == "ribbon"]
    assert "100 ft of warning ribbon, at 12 in below grade" in one.because


def bent(size_in: float, radius_in: float) -> dict[str, Any]:
    bend = {"alignment": "main", "station": 50, "degrees": 90, "radius_in": radius_in, "factory": False}
    return line("feed", "power", "pvc40", size_in, cover_in=40, bends=[bend])


@pytest.mark.parametrize(("size_in", "asked"), [(2, "16 in"), (4, "24 in"), (6, "36 in")])
def test_a_radius_for_one_size_does_not_relax_the_code_for_another(size_in: float, asked: str) -> None:
    # NFPA 70 Chapter 9 Table 2, other bends: 2 in 12 in, 4 in 24 in, 6 in 36 in. A sheet's 16 in for the first
    # asks for more there, and for less of the others.
    own = [{"rule": "sweep-radius", "value": 16, "source": "Sheet of the utility, drawing for 2 in"}]
    found = broken(trench(bent(size_in, 10), rules=own))["sweep-radius"]
    assert found.required == f"at least {asked}"


def test_a_radius_that_names_its_size_counts_for_that_size(tmp_path: Path) -> None:
    (tmp_path / "utility.yaml").write_text(
        "name: Sweeps\nwho: Sample Power\nedition: '1'\nsource: invented\ninvented: true\n"
        "entries:\n  - {rule: sweep-radius, value: 20, size_from: 4, size_to: 4, source: page 3}\n"
    )
    for size_in, asked in ((4, "20 in"), (6, "36 in")):
        site = trench(bent(size_in, 10), rule_sheets=["utility.yaml"]).lying_in(tmp_path)
        (found,) = [f for f in check_layout(site) if f.rule == "sweep-radius" and f.severity != "note"]
        assert found.required == f"at least {asked}"
