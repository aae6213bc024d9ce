"""Earthmoving against US Army FM 5-434, Nunnally's text, and worked examples of estimating courses.

Status beside each value: 'verified' was seen on a page, 'from memory' was not, 'computed' is arithmetic on others.
"""

from __future__ import annotations

import math

import pytest

from scheduler.site.people import Equipment
from scheduler.trench.earth import (
    EARTH,
    bank_to_compacted,
    bank_to_loose,
    compacted_to_bank,
    end_area_cy,
    excavator_bcy_per_hour,
    haul_loads,
    lifts_for,
    loose_to_bank,
    prismoidal_cy,
    production_lcy_per_hour,
    shrinkage_from_densities,
    spoil_bank_ft,
    swell_from_densities,
)

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


def test_swell_and_shrinkage_from_densities():
    # Nunnally ch. 2, verified (site-work summary page): 1960 loose, 2800 bank, 3500 compacted
    assert swell_from_densities(bank_lb_per_cy=2800, loose_lb_per_cy=1960) == pytest.approx(0.4286, abs=1e-4)
    assert shrinkage_from_densities(bank_lb_per_cy=2800, compacted_lb_per_cy=3500) == pytest.approx(0.20)
    assert pytest.approx(0.70) == 1 / (1 + 3 / 7)  # its load factor


def test_large_conversion():
    # Nunnally, from memory: 593,300 loose cu m are 415,310 bank and 332,248 compacted
    assert pytest.approx(415_310) == 593_300 * 0.70
    assert pytest.approx(332_248) == 415_310 * 0.80


def test_mass_is_kept_when_volumes_are_converted():
    # computed: 2500 lb loose, 3100 lb bank, 3500 lb compacted per cu yd; 64,000 cu yd to be compacted
    loose, bank = 64_000 * 3500 / 2500, 64_000 * 3500 / 3100
    assert (round(loose), round(bank)) == (89_600, 72_258)
    swell = swell_from_densities(bank_lb_per_cy=3100, loose_lb_per_cy=2500)
    assert bank * (1 + swell) == pytest.approx(loose)


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
    # survey texts and FM 5-430, from memory: d 4 to 6 ft, b 3, z 1 over 100 ft
    assert end_area_cy([28, 54], [0, 100]) == pytest.approx(151.85, abs=0.005)
    assert prismoidal_cy(first_sf=28, middle_sf=40, last_sf=54, length_ft=100) == pytest.approx(149.38, abs=0.005)
    with pytest.raises(ValueError, match="one area for each station"):
        end_area_cy([28, 54], [0, 50, 100])


def test_triangular_spoil_bank():
    # Nunnally ch. 2, from memory: 100 bank cu yd, 25 % swell, 30 ft long, 37 degrees: base 24.4 ft, height 9.2 ft
    assert EARTH["common_earth"].repose_deg == 37
    loose_cf = bank_to_loose(100, "common_earth") * 27
    assert loose_cf == pytest.approx(3375)
    base, height = spoil_bank_ft(loose_cf_per_ft=loose_cf / 30, repose_deg=37)
    assert (round(base, 1), round(height, 1)) == (24.4, 9.2)


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
    # computed: 481.5 bank cu yd of common earth are 601.9 loose, 51 loads of 12
    loose = bank_to_loose(481.5, "common_earth")
    assert loose == pytest.approx(601.9, abs=0.05)
    assert haul_loads(loose_cy=loose, truck_cy=12) == 51


def test_fill_to_bring_in():
    # computed with FM 5-434: 400 compacted cu yd of loam take 556 loose
    assert bank_to_loose(compacted_to_bank(400, "common_earth"), "common_earth") == pytest.approx(556, abs=0.5)
