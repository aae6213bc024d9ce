"""Earthmoving against US Army FM 5-434, Nunnally's text, and worked examples of estimating courses.

Status beside each value: 'verified' was seen on a page, 'from memory' was not, 'computed' is arithmetic on others.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from scheduler.site.people import Equipment
from scheduler.trench.earth import (
    EARTH,
    bank_to_compacted,
    bank_to_loose,
    compacted_to_bank,
    excavator_bcy_per_hour,
    lifts_for,
    loose_to_bank,
    production_lcy_per_hour,
    spoil_bank_ft,
)
from scheduler.trench.quantities import quantities
from scheduler.trench.section import sections
from tests.trenches import trench

pytestmark = pytest.mark.known


@pytest.mark.parametrize(
    ("earth", "loose", "compacted"),
    [
        ("sand_gravel", 111, 95),  # FM 5-434 Table 1-2, verified (a Navy manual prints the same)
        ("common_earth", 125, 90),  # 0.90 verified, 1.25 from memory (Nunnally Table 2-5 prints 25 % swell, verified)
        ("clay", 143, 90),  # from memory
        ("blasted_rock", 150, 130),  # from memory
    ],
)
def test_a_hundred_bank_yards_loose_and_compacted(earth, loose, compacted):
    assert bank_to_loose(100, earth) == pytest.approx(loose)
    assert bank_to_compacted(100, earth) == pytest.approx(compacted)


@pytest.mark.parametrize(
    ("earth", "loose_to_bank_factor", "loose_to_compacted", "compacted_to_bank_factor", "compacted_to_loose"),
    [  # the other columns of FM 5-434 Table 1-2, computed from the first two
        ("sand_gravel", 0.90, 0.86, 1.05, 1.17),
        ("common_earth", 0.80, 0.72, 1.11, 1.39),
        ("clay", 0.70, 0.63, 1.11, 1.59),
        ("blasted_rock", 0.67, 0.87, 0.77, 1.15),
    ],
)
def test_the_reverse_columns_of_the_table(
    earth, loose_to_bank_factor, loose_to_compacted, compacted_to_bank_factor, compacted_to_loose
):
    assert loose_to_bank(1, earth) == pytest.approx(loose_to_bank_factor, abs=0.005)
    assert bank_to_compacted(loose_to_bank(1, earth), earth) == pytest.approx(loose_to_compacted, abs=0.005)
    assert compacted_to_bank(1, earth) == pytest.approx(compacted_to_bank_factor, abs=0.005)
    assert bank_to_loose(compacted_to_bank(1, earth), earth) == pytest.approx(compacted_to_loose, abs=0.005)


def test_load_factor_of_the_textbook():
    # Nunnally ch. 2, verified (site-work summary page): 1960 lb loose, 2800 bank; its load factor is 0.70
    assert EARTH["clay"].loose == pytest.approx(2800 / 1960, abs=0.005)
    assert loose_to_bank(1960, "clay") == pytest.approx(0.70 * 1960, rel=0.002)


def test_large_conversion():
    # Nunnally, from memory: 593,300 loose cu m are 415,310 bank
    assert loose_to_bank(593_300, "clay") == pytest.approx(415_310, rel=0.002)


def test_hoe_production_of_a_homework_problem():
    # problem text verified on a course page, answer computed: 162.0 loose cu yd an hour, 69.1 days of 8 h
    rate = production_lcy_per_hour(bucket_cy=1.5, cycle_s=25, fill_factor=0.9, efficiency=50 / 60)
    assert rate == pytest.approx(162.0)
    assert 89_600 / rate / 8 == pytest.approx(69.1, abs=0.05)
    assert math.ceil(89_600 / rate / 8) == 70


def test_hoe_production_of_an_estimating_page():
    # verified: 1.2 cu m bucket, 0.90 fill, 30 s cycle, 0.83 efficiency give 107.57 an hour
    rate = production_lcy_per_hour(bucket_cy=1.2, cycle_s=30, fill_factor=0.90, efficiency=0.83)
    assert rate == pytest.approx(107.57, abs=0.01)


def test_hoe_production_of_the_textbook():
    # Nunnally eq. 3-2, from memory: 250 cycles, 0.75 cu yd, 0.95 fill, 50 minute hour give 148.4
    hoe = Equipment(
        id="hoe", name="Hoe", kind="excavator", calendar="days", bucket_cy=0.75, cycle_s=3600 / 250,
        fill_factor=0.95, efficiency=50 / 60,
    )  # fmt: skip
    assert bank_to_loose(excavator_bcy_per_hour(hoe, "common_earth"), "common_earth") == pytest.approx(148.4, abs=0.05)
    bank = excavator_bcy_per_hour(hoe, "common_earth")
    assert bank == pytest.approx(118.75, abs=0.05)
    assert bank / (3 * 4 / 27) == pytest.approx(267, abs=0.5)  # feet an hour of a 3 ft by 4 ft trench


def test_volume_between_stations():
    # survey texts and FM 5-430, from memory: d 4 to 6 ft, b 3, z 1 over 100 ft are 151.85 cu yd by average end
    # areas; that is 50 ft of each end
    bank_cy = 0.0
    for depth_in in (48, 72):
        site = trench(reach={"depth_in": depth_in, "bottom_width_in": 36})
        section = replace(sections(site)["r"], slope=1.0)
        bank_cy += quantities(site, section, length_ft=50).bank_cy
    assert bank_cy == pytest.approx(151.85, abs=0.005)


def test_triangular_spoil_bank():
    # Nunnally ch. 2, from memory: 100 bank cu yd, 25 % swell, 30 ft long, 37 degrees: base 24.4 ft, height 9.2 ft
    assert EARTH["common_earth"].repose_deg == 37
    loose_cf = bank_to_loose(100, "common_earth") * 27
    assert loose_cf == pytest.approx(3375)
    base = spoil_bank_ft(loose_cf_per_ft=loose_cf / 30, repose_deg=37)
    assert round(base, 1) == 24.4
    assert round(base * math.tan(math.radians(37)) / 2, 1) == 9.2


@pytest.mark.parametrize(
    ("fill_in", "lift_in", "earth", "lifts"),
    [
        (54, 8, "common_earth", 10),  # computed with FM 5-434: 8 in loose becomes 5.76 in
        (5.76, 8, "common_earth", 1),
        (5.77, 8, "common_earth", 2),
        (0, 8, "common_earth", 0),
    ],
)
def test_lifts(fill_in, lift_in, earth, lifts):
    assert lifts_for(fill_in=fill_in, loose_lift_in=lift_in, earth=earth) == lifts


def test_haul_away():
    # computed: 481.5 bank cu yd of common earth are 601.9 loose
    loose = bank_to_loose(481.5, "common_earth")
    assert loose == pytest.approx(601.9, abs=0.05)


def test_fill_to_bring_in():
    # computed with FM 5-434: 400 compacted cu yd of loam take 556 loose
    assert bank_to_loose(compacted_to_bank(400, "common_earth"), "common_earth") == pytest.approx(556, abs=0.5)
