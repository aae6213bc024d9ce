"""Excavation safety against 29 CFR 1926 (Subparts P and X).

Status beside each value: 'verified' was seen on a page that quotes the rule, 'from memory' was not.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from scheduler.site.ground import Reach
from scheduler.trench.layout_check import check_layout
from scheduler.trench.quantities import quantities
from scheduler.trench.section import area_between_sf, sections, width_at_in
from scheduler.trench.soil import (
    ladders_needed,
    protective_system,
    slope_for,
    working_soil,
)
from tests.trenches import broken, line, trench

pytestmark = pytest.mark.known


@pytest.mark.parametrize(
    ("depth_ft", "length_ft", "ladders"),
    [
        (3.99, 100.0, 0),  # 1926.651(c)(2), verified: from 4 ft
        (4.0, 100.0, 2),  # verified: 25 ft of travel either way, so one ladder serves 50 ft
        (5.0, 50.0, 1),
        (5.0, 50.1, 2),
        (5.0, 10.0, 1),
        (5.0, 0.0, 1),  # a pit has its way out too
    ],
)
def test_ladders_from_four_feet_within_25_feet_of_travel(depth_ft, length_ft, ladders):
    assert ladders_needed(depth_ft=depth_ft, length_ft=length_ft) == ladders


def test_trap_a_ladder_every_25_feet_misreads_the_travel_limit():
    # 1926.651(c)(2), verified: the rule limits travel, so 100 ft takes two ladders, not four
    assert ladders_needed(depth_ft=6, length_ft=100) == 2


@pytest.mark.parametrize("surface", ["bare", "turf", "gravel", "asphalt", "concrete"])
@pytest.mark.parametrize(
    ("soil", "depth_in", "system"),
    [
        ("B", 59.9, "none"),  # 1926.652(a)(1)(ii), verified: less than 5 ft, and no sign of a cave-in
        ("A", 60.0, "held"),  # 1926.652(a)(1), verified: each employee is protected from 5 ft on
        ("B", 60.0, "held"),
        ("C", 60.0, "held"),
        ("unknown", 60.0, "held"),
        ("B", 71.9, "held"),
        ("B", 240.0, "held"),  # Appendix B, verified: to 20 ft
        ("B", 240.1, "engineer"),
        ("stable_rock", 60.0, "rock"),  # 1926.652(a)(1)(i), verified: made entirely in stable rock
        ("stable_rock", 240.0, "rock"),
    ],
)
def test_the_section_of_a_trench_is_held_from_five_feet_unless_in_stable_rock(soil, depth_in, system, surface):
    reach = {"soil": soil, "depth_in": depth_in, "bottom_width_in": 36, "surface": surface}
    section = sections(trench(reach=reach))["r"]
    if system == "held":
        system = "shield" if surface in ("asphalt", "concrete") else "sloped"
    assert section.protection == system
    assert (section.slope > 0) == (system in ("sloped", "engineer"))


@pytest.mark.parametrize(
    ("soil", "depth_ft", "open_hours", "slope"),
    [
        ("unknown", 8.0, None, 1.5),  # 1926.652(b)(1), verified
        ("stable_rock", 20.0, None, 0.0),  # Appendix B Table B-1, verified
        ("A", 10.0, None, 0.75),  # Table B-1, verified
        ("B", 10.0, None, 1.0),  # Table B-1, verified
        ("C", 20.0, None, 1.5),  # Table B-1, verified
        ("A", 12.0, 20.0, 0.5),  # Table B-1 note, verified: open 24 h or less, 12 ft or less
        ("A", 12.0, 24.0, 0.5),
        ("A", 12.0, 24.25, 0.75),
        ("A", 12.1, 20.0, 0.75),
    ],
)
def test_slope_by_soil_type(soil, depth_ft, open_hours, slope):
    assert slope_for(soil, depth_ft=depth_ft, open_hours=open_hours) == slope


def test_beyond_twenty_feet_the_table_ends():
    assert slope_for("B", depth_ft=20.0) == 1.0  # Appendix B, verified
    with pytest.raises(ValueError, match="registered professional engineer"):
        slope_for("B", depth_ft=20.1)


@pytest.mark.parametrize(("slope", "degrees"), [(0.5, 63), (0.75, 53), (1.0, 45), (1.5, 34)])
def test_slope_ratios_are_the_degrees_of_the_table(slope, degrees):
    assert round(math.degrees(math.atan(1 / slope))) == degrees  # Table B-1 prints both, verified


@pytest.mark.parametrize(
    ("given", "worked_by"),
    [
        ({"soil": "A", "previously_disturbed": True}, "B"),  # Appendix A (b), verified
        ({"soil": "A", "groundwater": True}, "C"),  # submerged or seeping soil is C, verified
        ({"soil": "B", "groundwater": True}, "C"),
        ({"soil": "A"}, "A"),
        ({"soil": "unknown"}, "unknown"),
        ({"soil": "unknown", "groundwater": True}, "unknown"),  # sloped as C all the same, and still to be classified
        ({"soil": "stable_rock"}, "stable_rock"),
        ({"soil": "stable_rock", "groundwater": True}, "C"),  # the safe side of "submerged rock that is not stable"
    ],
)
def test_disturbed_or_wet_ground_counts_as_weaker(given, worked_by):
    reach = Reach.model_validate({"id": "r", "alignment": "a", "from": 0, "to": 50} | given)
    assert working_soil(reach) == worked_by


@pytest.mark.parametrize(
    ("bottom_ft", "depth_ft", "slope", "top_ft", "area_sf", "cy_per_100_ft"),
    [
        (3, 10, 0, 3.0, 30, 111.11),
        (3, 10, 0.75, 18.0, 105, 388.89),
        (3, 10, 1.0, 23.0, 130, 481.48),
        (3, 10, 1.5, 33.0, 180, 666.67),
        (2, 12, 0.5, 14.0, 96, 355.56),
        (2, 6, 1.0, 14.0, 48, 177.78),
        (2.5, 8, 1.5, 26.5, 116, 429.63),
    ],
)
def test_sloped_trench_width_area_and_volume(bottom_ft, depth_ft, slope, top_ft, area_sf, cy_per_100_ft):
    # geometry with the slopes of Table B-1: W = b + 2zd, A = (b + zd)d, V per 100 ft = 100 A / 27
    soil = {0: "stable_rock", 0.75: "A", 1.0: "B", 1.5: "C"}.get(slope, "B")
    site = trench(reach={"depth_in": 12 * depth_ft, "bottom_width_in": 12 * bottom_ft, "soil": soil})
    section = sections(site)["r"]
    if slope != 0.5:  # no site asks for the slope of 24 hours
        assert (section.slope, section.top_width_ft) == (slope, pytest.approx(top_ft))
    section = replace(section, slope=slope)
    assert width_at_in(section, 0.0) / 12 == pytest.approx(top_ft)
    assert area_between_sf(section, 0.0, section.depth_in) == pytest.approx(area_sf)
    assert quantities(site, section, length_ft=100).bank_cy == pytest.approx(cy_per_100_ft, abs=0.005)


def test_section_of_a_ten_foot_trench_in_type_b_soil():
    site = trench(line("sewer", "sewer", "pvc_sewer", 8), reach={"depth_in": 120, "bottom_width_in": 36})
    section = sections(site)["r"]
    assert (section.protection, section.slope, section.top_width_ft) == ("sloped", 1.0, 23.0)


def test_pavement_is_shielded_rather_than_sloped():
    reach = Reach.model_validate({"id": "r", "alignment": "a", "from": 0, "to": 50, "soil": "B", "surface": "asphalt"})
    assert protective_system(reach, depth_ft=6.0) == ("shield", 0.0)  # common practice


def test_spoil_needs_two_feet_and_its_own_base():
    # 1926.651(j)(2), verified: spoil at least 2 ft from the edge
    site = trench(reach={"depth_in": 48, "bottom_width_in": 36})
    base = sections(site)["r"].spoil_base_ft
    for room_ft, found in ((base + 1.9, True), (base + 2.0, False)):
        tight = trench(reach={"depth_in": 48, "bottom_width_in": 36, "spoil_room_ft": room_ft})
        assert ("spoil-setback" in broken(tight)) is found


def test_deeper_than_twenty_feet_stops_the_work():
    site = trench(line("sewer", "sewer", "pvc_sewer", 8, cover_in=228), reach={"depth_in": 241})
    findings = broken(site)
    assert findings["protect-engineer"].severity == "stop"
    assert "1926.652" in findings["protect-engineer"].source
    assert not check_layout(trench(line("sewer", "sewer", "pvc_sewer", 8, cover_in=227), reach={"depth_in": 240}))
