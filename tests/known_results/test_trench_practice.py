"""Facts of the trade that no single standard gives: each is common practice, checked on an invented site."""

from __future__ import annotations

import pytest

from scheduler.site.files import load_site
from scheduler.trench.book import Book
from scheduler.trench.conduit import least_radius_in, pulls_of
from scheduler.trench.layout_check import check_layout
from scheduler.trench.section import sections
from scheduler.trench.sheets import bundled_folder
from tests.trenches import broken, line, trench

pytestmark = pytest.mark.known

SITE = load_site(bundled_folder().parent / "orchard-lane.yaml")


def one(records, record):
    return next(r for r in records if r.id == record)


def test_twelve_inches_between_power_and_communications_in_one_trench():
    assert Book(trench()).get("apart-power-communications").value == 12  # common practice, and IEEE C2 320B2


def test_square_crossings_of_power_and_communications_are_allowed_nearer():
    # common practice: crossing at a right angle, conduit over conduit with fill between
    marked = {"id": "x", "kind": "communications", "alignment": "main", "station": 40, "depth_in": 20, "size_in": 1}
    assert not broken(trench(line("p", "power", "pvc40", 2, cover_in=24), existing=[marked]))


def test_a_power_utility_asks_for_thirty_inches_over_its_service_where_the_code_asks_less():
    service = one(SITE.lines, "service")
    assert service.cover_in == 30  # common practice of utilities
    assert sections(SITE.model_copy(update={"rule_sheets": []}))["pole-hedge"].placed[0].top_in == 30
    bare = SITE.model_copy(
        update={"lines": [x.model_copy(update={"cover_in": None}) if x.id == "service" else x for x in SITE.lines]}
    )
    assert sections(bare)["pole-hedge"].placed[0].top_in == 30  # by the utility's sheet
    by_code = bare.model_copy(update={"rule_sheets": []})
    assert sections(by_code)["pole-hedge"].placed[0].top_in == 18  # by the code alone


def test_schedule_80_above_and_schedule_40_below_grade_with_slip_couplings():
    risers = [s for s in SITE.structures if s.kind == "riser"]
    assert {s.riser_material for s in risers} == {"pvc80"}  # common practice
    assert all(s.slip_joint for s in risers)  # common practice
    assert one(SITE.lines, "service").material == "pvc40"
    assert not check_layout(SITE)


def test_sweeps_of_24_inches_on_two_inch_conduit_fit_the_trench():
    service = one(SITE.lines, "service")
    assert {b.radius_in for b in service.bends} == {24}  # common practice
    assert least_radius_in(2, factory=True) <= 24
    assert service.cover_in + 2.375 / 2 >= 24


def test_a_17_by_30_box_on_a_run_of_about_160_feet_with_28_inches_between_the_conduits():
    box = one(SITE.structures, "pull-box")
    assert box.size_in == (17, 30)  # common practice
    assert box.conduit_gap_in == 28  # common practice
    service = one(SITE.lines, "service")
    pulls = pulls_of(service, SITE.structures)
    assert len(pulls) == 2
    assert max(p.length_ft for p in pulls) <= 160
    assert len(pulls_of(service, [])) == 1


def test_a_three_foot_trench_is_dug_with_a_three_foot_bucket():
    found = sections(SITE)["barn-drive"]
    assert found.bottom_width_in == 36  # common practice
    assert "3 ft bucket" in found.width_governed_by


def test_about_six_feet_stay_loose_before_the_tie_in():
    kept = one(SITE.keep_open, "loose-at-pole")
    assert kept.to - kept.from_ == 6  # common practice
    assert Book(trench()).get("keep-open-length").value == 6


def test_galvanised_risers_are_wrapped_in_20_mil_tape_below_grade():
    riser = {
        "id": "s", "kind": "riser", "name": "Riser", "alignment": "main", "station": 0, "lines": ["p"],
        "riser_material": "rmc", "wrap_mil": 20,
    }  # fmt: skip
    power = line("p", "power", "pvc40", 2)
    assert not broken(trench(power, structures=[riser]))  # common practice
    assert broken(trench(power, structures=[riser | {"wrap_mil": 10}])).keys() == {"riser-wrap"}


def test_a_draining_hydrant_stands_in_gravel():
    hydrant = one(SITE.structures, "hydrant")
    assert hydrant.gravel_pocket  # common practice
