"""Water, sewer and gas against IPC, UPC, IFGC, 49 CFR 192 and the recommended standards for water works.

Status beside each value: 'verified' was seen on a page that quotes the source, 'from memory' was not.
"""

from __future__ import annotations

import pytest

from app.figures.palette import MARKS
from scheduler.trench.pipes import outside_diameter_in
from scheduler.trench.rules.proof_rules import make_up_gph
from scheduler.trench.section import sections
from tests.trenches import broken, line, trench

pytestmark = pytest.mark.known


def water(**more):
    return line("w", "water", "pvc_pressure", 2, use="service", **more)


def sewer(**more):
    return line("s", "sewer", **({"material": "pvc_sewer", "size_in": 4} | more))


@pytest.mark.parametrize(
    ("frost_in", "cover_in"),
    [(30, 36), (0, 12), (4, 12), (36, 42)],  # IPC 305.4, verified: 6 in below frost, at least 12 in
)
def test_water_lies_below_the_frost(frost_in, cover_in):
    site = trench(water(), site={"frost_depth_in": frost_in})
    assert sections(site)["r"].placed[0].top_in == cover_in
    shallow = trench(water(cover_in=cover_in - 0.5), site={"frost_depth_in": frost_in})
    assert broken(shallow).keys() == {"cover-water"}


@pytest.mark.parametrize(
    ("kind", "material", "frost_in", "cover_in"),
    [
        ("reclaimed", "pvc_pressure", 0, 12),  # IPC 305.4 by likeness
        ("reclaimed", "pvc_pressure", 30, 36),
        ("irrigation", "pvc_pressure", 30, 12),  # common practice: drained before frost
        ("sewer", "pvc_sewer", 30, 24),  # common practice: IPC 305.4.1 leaves the number to the place
        ("storm", "pvc_sewer", 30, 12),  # common practice
        ("communications", "pvc40", 30, 18),  # common practice
    ],
)
def test_other_lines_lie_as_deep_as_is_usual(kind, material, frost_in, cover_in):
    site = trench(line("x", kind, material, 2), site={"frost_depth_in": frost_in})
    assert sections(site)["r"].placed[0].top_in == cover_in


def test_trap_an_unknown_frost_depth_is_a_finding_and_not_zero():
    site = trench(water(cover_in=60), site={"frost_depth_in": None})  # IRC Table R301.2 is filled in locally
    assert broken(site)["frost-known"].severity == "stop"
    assert not broken(trench(water(cover_in=60), site={"frost_depth_in": 0}))


def test_a_plumbing_code_that_asks_for_more_below_frost_is_a_local_value():
    # UPC 609.1, verified: 12 in below frost, so 30 in of frost asks for 42
    local = [{"rule": "frost-below", "value": 12, "source": "UPC 609.1"}]
    site = trench(water(), rules=local, site={"frost_depth_in": 30})
    assert sections(site)["r"].placed[0].top_in == 42


@pytest.mark.parametrize(("aside_in", "found"), [(58.8, True), (60.0, False)])
def test_water_and_sewer_five_feet_apart(aside_in, found):
    # IPC 603.2, verified (2012 edition quoted)
    centre = aside_in + (2.375 + 4.215) / 2
    site = trench(water(offset_in=0, cover_in=24), sewer(offset_in=centre, cover_in=24))
    assert ("apart-water-sewer" in broken(site)) is found


@pytest.mark.parametrize(("above_in", "found"), [(11.9, True), (12.0, False)])
def test_water_on_a_shelf_above_the_sewer(above_in, found):
    # IPC 603.2 exception 1 and UPC 720.1, verified: 12 in above the sewer, on a solid shelf at one side
    site = trench(
        water(shelf=True, cover_in=24, offset_in=20),
        sewer(cover_in=24 + 2.375 + above_in, offset_in=-8),
        reach={"bottom_width_in": 54},
    )
    assert ("water-sewer-shelf" in broken(site)) is found


def test_a_shelf_over_the_dug_trench_is_no_shelf():
    site = trench(
        water(shelf=True, cover_in=24, offset_in=0), sewer(cover_in=48, offset_in=0), reach={"bottom_width_in": 54}
    )
    assert "not on solid ground" in broken(site)["water-sewer-shelf"].found


def test_one_trench_by_the_sewers_material():
    # IPC 603.2 exception 2, verified (2012 edition quoted): pipe approved inside a building; clay is not
    for material, found in (("pvc40", False), ("clay", True)):
        site = trench(water(offset_in=-10, cover_in=24), sewer(material=material, offset_in=10, cover_in=24))
        assert ("apart-water-sewer" in broken(site)) is found


def test_public_mains_ask_for_more_and_say_so_in_a_local_rule():
    # Recommended Standards for Water Works 8.8, from memory: 10 ft between mains
    local = [{"rule": "apart-water-sewer", "value": 120, "source": "Recommended Standards for Water Works 8.8"}]
    site = trench(water(offset_in=-45, cover_in=24), sewer(offset_in=45, cover_in=24), rules=local)
    assert "Recommended Standards" in broken(site)["apart-water-sewer"].source


def test_trap_twelve_inches_on_a_shelf_and_eighteen_at_a_public_crossing_are_two_rules():
    # IPC 603.2 exception 1 against Recommended Standards for Water Works 8.8 (from memory)
    local = [{"rule": "cross-water-sewer", "value": 18, "source": "Recommended Standards for Water Works 8.8"}]
    marked = {"id": "x", "kind": "sewer", "alignment": "main", "station": 40, "depth_in": 24 + 2.375 + 13, "size_in": 4}
    assert not broken(trench(water(cover_in=24), existing=[marked]))
    assert broken(trench(water(cover_in=24), existing=[marked], rules=local)).keys() == {"cross-water-sewer"}


def test_water_passes_over_sewer():
    # IPC 603.2 exception 3, from memory: over it, or sleeved
    marked = {"id": "x", "kind": "sewer", "alignment": "main", "station": 40, "depth_in": 12, "size_in": 4}
    assert broken(trench(water(cover_in=36), existing=[marked])).keys() == {"water-over-sewer"}
    assert not broken(trench(water(cover_in=36, protected_crossing=True), existing=[marked]))


def test_rock_is_dug_out_under_the_pipe():
    # IPC 306.2.2, verified: at least 3 in, refilled with sand
    site = trench(water(), reach={"soil": "stable_rock", "earth": "blasted_rock"}, backfill={"bedding_in": 1})
    assert sections(site)["r"].bedding_in == 3


def gas(**more):
    return line("g", "gas", **({"material": "pe", "size_in": 1, "use": "service", "tracer_wire_awg": 14} | more))


@pytest.mark.parametrize(
    ("given", "place", "cover_in"),
    [
        ({}, "yard", 12),  # IFGC 404.12, verified
        ({"use": "branch"}, "yard", 8),  # IFGC 404.12.1, verified: one outdoor appliance
        ({"owner": "Sample Gas"}, "yard", 12),  # 49 CFR 192.361(a), verified
        ({"owner": "Sample Gas"}, "street", 18),  # 49 CFR 192.361(a), verified
        ({"owner": "Sample Gas", "use": "main"}, "street", 24),  # 49 CFR 192.327(b), verified
    ],
)
def test_gas_cover(given, place, cover_in):
    site = trench(gas(**given), reach={"place": place})
    assert sections(site)["r"].placed[0].top_in == cover_in
    assert broken(trench(gas(cover_in=cover_in - 1, **given), reach={"place": place})).keys() == {"cover-gas"}


def test_trap_no_greater_depth_for_house_gas_under_a_drive():
    # IFGC 404.12, verified: the model text has 12 in and an 8 in exception only
    assert not broken(trench(gas(cover_in=12), reach={"place": "residential_drive"}))


def test_trap_federal_rules_put_no_number_between_a_gas_main_and_other_lines():
    # 49 CFR 192.325(b), from memory: enough for maintenance; the usual 12 in is the utility's
    site = trench(gas(owner="Sample Gas", use="main", cover_in=30, offset_in=0), water(cover_in=30, offset_in=8))
    source = broken(site)["apart-water-gas"].source
    assert "gives mains no number" in source
    assert "common practice" in source


def test_plastic_gas_pipe_has_a_tracer_wire_of_at_least_18_awg():
    # IFGC 404.17.3, verified; 49 CFR 192.321(e) for a utility
    assert broken(trench(gas(tracer_wire_awg=None))).keys() == {"tracer"}
    assert not broken(trench(gas(tracer_wire_awg=18)))
    assert broken(trench(gas(tracer_wire_awg=20))).keys() == {"tracer-size"}
    assert not broken(trench(gas(material="steel", tracer_wire_awg=None)))


def test_trap_14_awg_where_the_other_gas_code_applies():
    # NFPA 54 7.1.7.3, from memory: 14 AWG; both are right in their own code
    local = [{"rule": "tracer-size", "value": 14, "source": "NFPA 54 7.1.7.3"}]
    assert broken(trench(gas(tracer_wire_awg=18), rules=local)).keys() == {"tracer-size"}


def test_no_gas_main_under_a_building():
    # Wis. PSC 135.325 for mains, verified; IFGC 404.6
    assert "building-gas" in broken(trench(gas(owner="Sample Gas", use="main"), reach={"place": "under_building"}))


@pytest.mark.parametrize(
    ("material", "size_in", "outside_in"),
    [
        ("pvc40", 2, 2.375),  # ASME B36.10M sizes
        ("pvc80", 4, 4.5),
        ("copper", 1, 1.125),  # ASTM B88
        ("ductile_iron", 8, 9.05),  # AWWA C151
        ("pvc_pressure", 8, 9.05),  # AWWA C900 in the same sizes
        ("pvc_sewer", 8, 8.4),  # ASTM D3034
        ("direct_buried", 1.2, 1.2),
    ],
)
def test_outside_diameters(material, size_in, outside_in):
    assert outside_diameter_in(material, size_in) == outside_in


@pytest.mark.parametrize(
    ("kind", "colour"),
    [  # APWA Uniform Color Code, verified (call centres' tables)
        ("power", "red"), ("lighting", "red"), ("gas", "yellow"), ("communications", "orange"), ("water", "blue"),
        ("sewer", "green"), ("storm", "green"), ("reclaimed", "purple"), ("irrigation", "purple"),
    ],
)  # fmt: skip
def test_colours_of_the_marking_code(kind, colour):
    assert MARKS[kind].colour_name == colour


def test_kinds_that_share_a_colour_differ_in_dash_and_label():
    seen = {(m.colour, m.dash) for m in MARKS.values()}
    assert len(seen) == len(MARKS) == len({m.label for m in MARKS.values()})


def test_a_suggested_water_and_sewer_trench_is_legal():
    site = trench(water(shelf=True), sewer(), line("p", "power", "pvc40", 2))
    assert sections(site)["r"].suggested == ("w", "s", "p")
    assert not broken(site)


@pytest.mark.parametrize(
    ("diameter_in", "gph"),
    [  # AWWA C600 for 1000 ft at 150 psi, verified (specification reprint): the printed table
        (4, 0.33), (6, 0.50), (8, 0.66), (10, 0.83), (12, 0.99), (16, 1.32), (20, 1.66), (24, 1.99), (30, 2.48),
        (36, 2.98), (42, 3.48),
    ],
)  # fmt: skip
def test_make_up_water_of_a_main_under_test(diameter_in, gph):
    assert make_up_gph(length_ft=1000, diameter_in=diameter_in, pressure_psi=150) == pytest.approx(gph, abs=0.0055)


def test_trap_the_old_divisor_printed_beside_the_new_table():
    # AWWA C600: 133,200 is the older edition's and would give 0.552 for 6 in
    assert pytest.approx(0.552, abs=0.001) == 1000 * 6 * 150**0.5 / 133_200
    assert make_up_gph(length_ft=1000, diameter_in=6, pressure_psi=150) < 0.50
    assert 24 * make_up_gph(length_ft=5280, diameter_in=1, pressure_psi=150) == pytest.approx(10.49, abs=0.005)


@pytest.mark.parametrize(
    ("pipe", "hours", "rule"),
    [
        (line("w", "water", "ductile_iron", 6, use="main"), 2.0, "test-hold-main"),  # AWWA C600 sec. 5, verified
        (line("w", "water", "pex", 1, use="service"), 0.25, "test-hold-water"),  # IPC 312.5, verified
        (line("s", "sewer", "pvc_sewer", 4), 0.25, "test-hold-sewer"),  # IPC 312.6, verified
        (line("g", "gas", "steel", 1), 1 / 6, "test-hold-gas"),  # IFGC 406.4.2 for a dwelling, verified
    ],
)
def test_pipe_is_held_under_test(pipe, hours, rule):
    def held(for_hours):
        return trench(pipe | {"test": {"kind": "pressure", "hold_hours": for_hours}})

    assert not broken(held(hours))
    assert broken(held(hours - 1 / 60)).keys() == {rule}
