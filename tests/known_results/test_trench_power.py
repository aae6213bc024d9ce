"""Power and communications against NFPA 70 (NEC), IEEE C2 (NESC) and California GO 128.

Status beside each value: 'verified' was seen on a page that quotes the source, 'from memory' was not.
"""

from __future__ import annotations

import math

import pytest

from scheduler.site.ground import Conductors, Line, Reach
from scheduler.trench.book import Book
from scheduler.trench.conduit import conduit_fill, least_radius_in, pvc_movement_in
from scheduler.trench.cover_depth import least_cover
from scheduler.trench.rules.conduit_rules import CONDUCTOR_SQ_IN, INSIDE_AREA_SQ_IN
from tests.trenches import broken, line, trench

pytestmark = pytest.mark.known


def cover_of(reach=None, **of):
    given = {"id": "p", "name": "p", "kind": "power", "trade": "t", "material": "pvc40", "size_in": 2} | of
    there = {"id": "r", "alignment": "main", "from": 0, "to": 100} | (reach or {})
    a_line = Line.model_validate({"route": [{"alignment": "main", "from": 0, "to": 100}]} | given)
    return least_cover(Book(trench()), a_line, Reach.model_validate(there)).value


@pytest.mark.parametrize(
    ("place", "direct", "metal", "plastic", "dwelling_branch", "low_voltage"),
    [  # NFPA 70 Table 300.5(A), rows of the table, verified
        ("yard", 24, 6, 18, 12, 6),
        ("under_building", 0, 0, 0, 0, 0),
        ("under_slab", 18, 4, 4, 6, 6),
        ("street", 24, 24, 24, 24, 24),
        ("residential_drive", 18, 18, 18, 12, 18),
    ],
)
def test_cover_by_place_and_wiring(place, direct, metal, plastic, dwelling_branch, low_voltage):
    there = {"place": place}
    assert cover_of(there, material="direct_buried") == direct
    assert cover_of(there, material="rmc") == metal
    assert cover_of(there, material="imc") == metal
    assert cover_of(there, material="pvc80") == plastic
    branch = {"material": "direct_buried", "gfci_20a": True, "voltage_v": 120, "use": "branch"}
    assert cover_of(there, **branch) == dwelling_branch
    assert cover_of(there, material="direct_buried", voltage_v=24, use="lighting") == low_voltage


def test_low_voltage_or_protected_branch_in_raceway_under_a_slab():
    # NFPA 70 Table 300.5(A), row 4, verified: 4 in where in raceway
    assert cover_of({"place": "under_slab"}, gfci_20a=True, voltage_v=120, use="branch") == 4

    assert cover_of({"place": "under_slab"}, voltage_v=24, use="lighting") == 4
    assert cover_of({"place": "under_slab"}, material="direct_buried", voltage_v=24, use="lighting") == 6


def test_columns_four_and_five_end_at_their_voltages():
    # NFPA 70 Table 300.5(A), verified: column 4 to 120 V with a 20 A GFCI, column 5 to 30 V
    buried = {"material": "direct_buried", "use": "branch"}
    assert [cover_of(gfci_20a=True, voltage_v=v, **buried) for v in (120, 121)] == [12, 24]
    assert [cover_of(gfci_20a=False, voltage_v=v, **buried) for v in (120, 31, 30)] == [24, 24, 6]
    conduit = {"material": "pvc40", "use": "branch"}  # in conduit too, but for a slab
    assert [cover_of(gfci_20a=True, voltage_v=v, **conduit) for v in (120, 121)] == [12, 18]
    assert [cover_of(voltage_v=v, **conduit) for v in (30, 31)] == [6, 18]
    assert cover_of(**buried) == 24  # no voltage is given, which is not to say that it is low


@pytest.mark.parametrize(("place", "inches"), [("yard", 18), ("street", 24), ("residential_drive", 24)])
def test_cover_over_1000_volts_under_a_road(place, inches):
    # NFPA 70 Table 300.50(A), from memory: 24 in under streets, roads and driveways where the row asks for less
    assert cover_of({"place": place}, voltage_v=13_800, material="pvc80") == inches
    assert cover_of({"place": place}, voltage_v=13_800, material="direct_buried") == 30


def test_trap_metal_conduit_under_a_house_driveway_is_not_six_inches():
    assert cover_of({"place": "residential_drive"}, material="rmc") == 18  # row 6, verified


@pytest.mark.parametrize(
    ("volts", "material", "inches"),
    [
        (13_800, "pvc80", 18),  # NFPA 70 Table 300.50, verified (trade-magazine quiz)
        (12_470, "direct_buried", 30),  # NFPA 70 Table 300.50, from memory
        (34_500, "direct_buried", 36),  # from memory
        (34_500, "pvc40", 24),  # from memory
        (69_000, "pvc40", 30),  # from memory
        (12_470, "rmc", 6),  # from memory
        (34_500, "rmc", 6),  # from memory
        (69_000, "rmc", 6),  # from memory
        (1_000, "direct_buried", 24),  # Table 300.5 reaches to 1000 V, verified
        (1_001, "direct_buried", 30),  # the first row of Table 300.50 is for over 1000 V to 22 kV
        (22_000, "direct_buried", 30),
        (22_001, "direct_buried", 36),
        (40_000, "direct_buried", 36),
        (40_001, "direct_buried", 42),
    ],
)
def test_cover_on_premises_over_1000_volts(volts, material, inches):
    assert cover_of(voltage_v=volts, material=material) == inches


@pytest.mark.parametrize(
    ("volts", "inches"),
    # IEEE C2 Table 352-1, from memory: to 600 V, to 50 kV, beyond
    [(None, 24), (480, 24), (600, 24), (601, 30), (12_470, 30), (50_000, 30), (50_001, 42), (69_000, 42)],
)
def test_a_utilitys_own_cable_follows_the_other_code(volts, inches):
    assert cover_of(owner="Sample Power", voltage_v=volts, material="direct_buried") == inches


def test_cover_is_measured_to_the_top_of_the_conduit():
    # NFPA 70 Table 300.5 note 1, verified: 18 in cover, a 2 in conduit and 3 in of bedding dig to 23.4 in
    site = trench(line("p", "power", "pvc40", 2), backfill={"bedding_in": 3})
    from scheduler.trench.section import sections

    assert sections(site)["r"].depth_in == pytest.approx(23.4, abs=0.05)


def test_service_ribbon_from_18_inches_at_least_12_above():
    # NFPA 70 300.5(D)(3), verified
    service = line("p", "power", "pvc40", 2, use="service", cover_in=24)
    assert broken(trench(service | {"warning_ribbon": False})).keys() == {"ribbon"}
    assert broken(trench(service, backfill={"ribbon_below_grade_in": 13})).keys() == {"ribbon-height"}
    assert not broken(trench(service, backfill={"ribbon_below_grade_in": 12}))
    feeder = line("p", "power", "pvc40", 2, use="feeder", cover_in=24, warning_ribbon=False)
    assert not broken(trench(feeder))


@pytest.mark.parametrize(
    ("change_f", "inches"),
    [  # NFPA 70 Table 352.44, 2008 edition, verified: inches for 100 ft
        (5, 0.20), (25, 1.01), (50, 2.03), (60, 2.43), (80, 3.24), (105, 4.26), (140, 5.68), (165, 6.69), (175, 7.10),
    ],
)  # fmt: skip
def test_pvc_length_change_of_the_table(change_f, inches):
    assert pvc_movement_in(length_ft=100, change_f=change_f) == pytest.approx(inches, abs=0.006)


def test_pvc_movement_between_fixed_points_and_the_makers_sheet():
    assert pvc_movement_in(length_ft=100, change_f=100) == pytest.approx(4.056)  # coefficient of 352.44
    assert pvc_movement_in(length_ft=6.16, change_f=100) == pytest.approx(0.25, abs=0.001)
    assert pvc_movement_in(length_ft=10, change_f=100) == pytest.approx(3 / 8, abs=0.04)  # a fitting maker's sheet


@pytest.mark.parametrize(("run_ft", "fitting"), [(20, True), (7, True), (6, False), (5, False)])
def test_expansion_fitting_from_a_quarter_inch(run_ft, fitting):
    # NFPA 70 352.44, verified: a change of 1/4 in or more
    riser = {
        "id": "riser", "kind": "riser", "name": "Riser", "alignment": "main", "station": 0, "lines": ["p"],
        "riser_material": "pvc80", "exposed_run_ft": run_ft, "temperature_change_f": 100,
    }  # fmt: skip
    site = trench(line("p", "power", "pvc40", 2), structures=[riser])
    assert ("thermal-movement" in broken(site)) is fitting


@pytest.mark.parametrize(
    ("size_in", "inside_in", "area", "forty"),
    [  # NFPA 70 Chapter 9 Table 4, Schedule 40, verified (inside diameters on a pipe page)
        (1, 1.029, 0.832, 0.333),
        (1.25, 1.360, 1.453, 0.581),
        (1.5, 1.590, 1.986, 0.794),
        (2, 2.047, 3.291, 1.316),
        (2.5, 2.445, 4.695, 1.878),
        (3, 3.042, 7.268, 2.907),
        (4, 3.998, 12.554, 5.022),
    ],
)
def test_inside_area_of_schedule_40_conduit(size_in, inside_in, area, forty):
    table = INSIDE_AREA_SQ_IN["pvc40"][size_in]
    assert table == area
    assert table == pytest.approx(math.pi / 4 * inside_in**2, abs=0.001)
    assert 0.40 * table == pytest.approx(forty, abs=0.001)


@pytest.mark.parametrize(
    ("size_in", "inside_in", "area"),
    [  # the same table, Schedule 80, from memory
        (1, 0.936, 0.688), (1.25, 1.255, 1.237), (1.5, 1.476, 1.711), (2, 1.913, 2.874), (2.5, 2.290, 4.119),
        (3, 2.864, 6.442), (4, 3.786, 11.258),
    ],
)  # fmt: skip
def test_inside_area_of_schedule_80_conduit(size_in, inside_in, area):
    assert INSIDE_AREA_SQ_IN["pvc80"][size_in] == area == pytest.approx(math.pi / 4 * inside_in**2, abs=0.001)


def fill(material, size_in, *conductors):
    return conduit_fill(material, size_in, [Conductors(count=n, size=s) for n, s in conductors])


def test_conduit_fill_worked_examples():
    # NFPA 70 Chapter 9 Tables 1, 4 and 5: 53 % for one, 31 % for two, 40 % for more, verified
    three_and_one = [(3, "4/0"), (1, "2/0")]
    in_40 = fill("pvc40", 2, *three_and_one)
    assert in_40.used_sq_in == pytest.approx(1.1934, abs=1e-4)
    assert in_40.share == pytest.approx(0.363, abs=0.001)
    assert in_40.allowed
    assert not fill("pvc80", 2, *three_and_one).allowed
    assert fill("pvc80", 2.5, *three_and_one).allowed
    two = fill("pvc40", 2, (2, "4/0"))
    assert two.limit == 0.31
    assert two.limit * two.inside_sq_in == pytest.approx(1.020, abs=0.001)
    assert two.allowed
    one = fill("pvc40", 1, (1, "500"))
    assert one.limit * one.inside_sq_in == pytest.approx(0.441, abs=0.001)
    assert not one.allowed


def test_trap_copies_of_the_wire_table_that_swap_columns():
    # Table 5, verified: some copies give 250 kcmil THHN the area of XHHW
    assert CONDUCTOR_SQ_IN["THHN"]["250"] == 0.3970
    assert CONDUCTOR_SQ_IN["XHHW"]["250"] == 0.3904


def test_trap_the_inside_of_inch_and_a_half_conduit_is_not_a_circle_of_its_name():
    assert INSIDE_AREA_SQ_IN["pvc40"][1.5] == 1.986 != round(math.pi / 4 * 1.5**2, 3)


@pytest.mark.parametrize(
    ("size_in", "factory", "radius_in"),
    [
        (0.5, True, 4), (1, True, 5.75), (2, True, 9.5), (3, True, 13), (4, True, 16),  # Table 2, verified
        (1, False, 6), (2, False, 12), (3, False, 18), (4, False, 24),  # Table 2, other bends, from memory
    ],
)  # fmt: skip
def test_bend_radius(size_in, factory, radius_in):
    assert least_radius_in(size_in, factory=factory) == radius_in


def bent(*degrees, **more):
    bends = [{"alignment": "main", "station": 20 * i, "degrees": d, "radius_in": 24} for i, d in enumerate(degrees)]
    return trench(line("p", "power", "pvc40", 2, bends=bends, **more))


@pytest.mark.parametrize(
    ("degrees", "found"),
    [
        ((90, 90, 90, 90), False),  # NFPA 70 352.26, verified: four quarter bends
        ((90, 90, 45, 45, 45, 45), False),  # each bend counts its angle, verified
        ((90, 90, 90, 90, 15, 15), True),  # and one offset more is too much
    ],
)
def test_bends_between_pull_points(degrees, found):
    assert ("bends-total" in broken(bent(*degrees))) is found


def test_box_for_a_straight_pull_is_eight_times_the_conduit():
    # NFPA 70 314.28(A)(1), verified: 2 in conduit takes a 16 in box, 3 in takes 24 in
    def box(size_in, longest_in):
        here = {"id": "b", "kind": "pull_box", "name": "Box", "alignment": "main", "station": 50, "lines": ["p"]}
        return trench(line("p", "power", "pvc40", size_in), structures=[here | {"size_in": [12, longest_in]}])

    assert not broken(box(2, 16))
    assert broken(box(2, 15)).keys() == {"box-length"}
    assert not broken(box(3, 24))


def test_exposed_riser_material_and_height():
    def riser(**more):
        here = {"id": "s", "kind": "riser", "name": "Riser", "alignment": "main", "station": 0, "lines": ["p"]}
        return trench(line("p", "power", "pvc40", 2), structures=[here | {"exposed": True} | more])

    good = {"riser_material": "pvc80", "riser_height_ft": 8}
    assert not broken(riser(**good))
    assert broken(riser(**good | {"riser_material": "pvc40"})).keys() == {"riser-material"}  # 300.5(D)(4), from memory
    assert broken(riser(**good | {"riser_height_ft": 7.9})).keys() == {"riser-height"}  # 300.5(D)(1), verified


def test_ground_that_freezes_lets_a_riser_slip():
    # NFPA 70 300.5(J), from memory
    here = {"id": "s", "kind": "riser", "name": "Riser", "alignment": "main", "station": 0, "lines": ["p"]}
    for frost_in, slip, found in ((30, False, True), (30, True, False), (0, False, False)):
        site = trench(
            line("p", "power", "pvc80", 2),
            structures=[here | {"slip_joint": slip}],
            site={"frost_depth_in": frost_in},
        )
        assert ("riser-movement" in broken(site)) is found


@pytest.mark.parametrize(("clear_in", "found"), [(11, True), (12, False)])
def test_power_and_communications_twelve_inches_of_earth(clear_in, found):
    # IEEE C2 320B2 and California GO 128 rule 41.4-B, verified: 12 in of well-tamped earth
    between = clear_in + 2.375
    site = trench(
        line("p", "power", "pvc40", 2, offset_in=-between / 2, cover_in=24),
        line("c", "communications", "pvc40", 2, offset_in=between / 2, cover_in=24),
    )
    assert ("apart-power-communications" in broken(site)) is found


@pytest.mark.parametrize(("clear_in", "found"), [(10, True), (12, False)])
def test_communications_and_gas_side_by_side(clear_in, found):
    # California GO 128 rule 41.4-A, verified: 12 in side by side
    between = clear_in + 2.375
    site = trench(
        line("c", "communications", "pvc40", 2, offset_in=-between / 2, cover_in=24),
        line("g", "gas", "pe", 2, offset_in=between / 2, cover_in=24, tracer_wire_awg=14, use="service"),
    )
    assert ("apart-communications-gas" in broken(site)) is found


@pytest.mark.parametrize(("depth_in", "found"), [(13.6, True), (13.0, False)])
def test_communications_over_gas_six_inches_where_they_cross(depth_in, found):
    # California GO 128 rule 41.4-A, verified: 6 in at crossings (a 4.5 in marked line under conduit at 24 in)
    marked = {"id": "x", "kind": "gas", "alignment": "main", "station": 40, "depth_in": depth_in, "size_in": 4.5}
    site = trench(line("c", "communications", "pvc40", 2, cover_in=24), existing=[marked])
    assert ("cross-communications-gas" in broken(site)) is found


def test_power_and_communications_share_no_box():
    # NFPA 70 800.47(A), 2014 numbering, verified
    box = {"id": "b", "kind": "handhole", "name": "Box", "alignment": "main", "station": 50, "lines": ["p", "c"]}
    site = trench(line("p", "power", "pvc40", 2), line("c", "communications", "pvc40", 2), structures=[box])
    assert broken(site).keys() == {"shared-box"}


def test_cable_under_a_building_lies_in_raceway():
    # NFPA 70 Table 300.5(A) row 3, verified
    for material, found in (("direct_buried", True), ("pvc40", False)):
        site = trench(line("p", "power", material, 2), reach={"place": "under_building"})
        assert ("building-raceway" in broken(site)) is found
