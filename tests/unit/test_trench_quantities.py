"""Sections and quantities: what follows from what, on invented trenches."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.trench.earth import (
    EARTH,
    bank_to_compacted,
    bank_to_loose,
    compacted_to_bank,
    loose_to_bank,
)
from scheduler.trench.layout_check import check_layout
from scheduler.trench.quantities import hand_zone_ft, quantities
from scheduler.trench.section import area_between_sf, sections, width_at_in
from tests.trenches import line, trench

earths = st.sampled_from(sorted(EARTH))
volumes = st.floats(min_value=0.01, max_value=1e6)


def three_layers(**reach):
    return trench(
        line("sewer", "sewer", "pvc_sewer", 8, cover_in=66),
        line("water", "water", "ductile_iron", 6, cover_in=42, shelf=True),
        line("power", "power", "pvc40", 3, cover_in=30),
        line("phone", "communications", "pvc40", 2, count=2, cover_in=30),
        reach=reach,
    )


@given(volumes, earths)
def test_loose_to_bank_and_back_returns(cy, earth):
    assert bank_to_loose(loose_to_bank(cy, earth), earth) == pytest.approx(cy)
    assert compacted_to_bank(bank_to_compacted(cy, earth), earth) == pytest.approx(cy)


@settings(deadline=None, max_examples=40)
@given(
    st.floats(min_value=80, max_value=230),
    st.floats(min_value=1, max_value=60),
    st.sampled_from(["A", "B", "C", "unknown", "stable_rock"]),
    earths,
)
def test_volume_grows_with_depth(depth_in, more_in, soil, earth):
    def bank(depth):
        site = three_layers(depth_in=depth, soil=soil, earth=earth)
        return quantities(site, sections(site)["r"], length_ft=100)

    shallow, deep = bank(depth_in), bank(depth_in + more_in)
    assert deep.bank_cy > shallow.bank_cy
    assert deep.loose_cy > shallow.loose_cy
    assert deep.surface_sf >= shallow.surface_sf


@settings(deadline=None, max_examples=40)
@given(st.integers(min_value=0, max_value=60), st.integers(min_value=0, max_value=24))
def test_a_legal_layout_stays_legal_when_everything_gets_wider(wider_in, apart_in):
    offsets = {"power": -24 - apart_in, "phone": 12 + apart_in}
    site = trench(
        line("power", "power", "pvc40", 3, cover_in=30, offset_in=offsets["power"]),
        line("phone", "communications", "pvc40", 2, count=2, cover_in=30, offset_in=offsets["phone"]),
        reach={"bottom_width_in": 64 + 2 * apart_in + wider_in},
    )
    assert not check_layout(site)


@settings(deadline=None, max_examples=30)
@given(st.floats(min_value=85, max_value=220), st.sampled_from(["A", "B", "C"]), st.floats(min_value=1, max_value=500))
def test_what_is_dug_is_what_is_put_back_and_the_lines(depth_in, soil, length_ft):
    site = three_layers(depth_in=depth_in, soil=soil)
    section = sections(site)["r"]
    q = quantities(site, section, length_ft=length_ft)
    put_back = q.bedding_cy + sum(q.shading_cy) + q.fill_cy
    solid = q.bank_cy - put_back
    assert 0 < solid < 0.1 * q.bank_cy
    assert sum(q.fill_above_cy) == pytest.approx(q.fill_cy)
    assert sum(q.lifts_above) == q.lifts
    assert len(q.shading_cy) == len(section.layers) == len(q.fill_above_cy)


def test_layers_from_the_bottom_up():
    section = sections(three_layers())["r"]
    assert [layer.lines for layer in section.layers] == [("sewer",), ("water",), ("power", "phone")]
    assert [layer.index for layer in section.layers] == [0, 1, 2]
    assert section.layers[0].bottom_in == pytest.approx(66 + 8.4)
    assert section.depth_in == pytest.approx(66 + 8.4 + 4)


def test_bottoms_within_three_inches_form_one_layer():
    def count(cover_in):
        site = trench(
            line("p", "power", "pvc40", 2, cover_in=30), line("c", "communications", "pvc40", 2, cover_in=cover_in)
        )
        return len(sections(site)["r"].layers)

    assert [count(30), count(33), count(33.1)] == [1, 1, 2]


def test_the_ledge_of_a_shelf_narrows_the_trench_below_it():
    site = three_layers(surface="asphalt")
    section = sections(site)["r"]
    ledge = section.shelves[0].depth_in
    assert ledge == pytest.approx(42 + 6.9 + 4)
    assert width_at_in(section, ledge - 1) == section.bottom_width_in
    assert 24 <= width_at_in(section, ledge + 1) < section.bottom_width_in
    whole = area_between_sf(section, 0, section.depth_in)
    assert whole == pytest.approx(area_between_sf(section, 0, 40) + area_between_sf(section, 40, section.depth_in))
    assert whole < section.bottom_width_in * section.depth_in / 144


def test_hand_digging_in_the_tolerance_zone():
    # CGA best practice 5-19 (from memory): 18 in each side of a 12 in line is a zone of 4 ft
    marked = {"id": "x", "kind": "gas", "alignment": "main", "station": 40, "depth_in": 40, "size_in": 12}
    site = trench(existing=[marked], backfill={"tolerance_in": 18})
    section = sections(site)["r"]
    assert hand_zone_ft(site, site.reaches[0]) == 4.0
    one = quantities(site, section, length_ft=100, marked_crossings=1)
    assert one.hand_bank_cy == pytest.approx(one.bank_cy * 0.04)
    many = quantities(site, section, length_ft=10, marked_crossings=9)
    assert many.hand_bank_cy == many.bank_cy


def test_spoil_left_over_is_what_the_fill_does_not_take():
    site = trench(reach={"depth_in": 48, "bottom_width_in": 24})
    q = quantities(site, sections(site)["r"], length_ft=100)
    assert q.spoil_over_cy == pytest.approx(bank_to_loose(q.bank_cy - q.fill_cy / 0.9, "common_earth"))
    assert q.import_cy == 0
    hauled = trench(reach={"depth_in": 48, "bottom_width_in": 24, "spoil": "haul"})
    q = quantities(hauled, sections(hauled)["r"], length_ft=100)
    assert q.spoil_over_cy == q.loose_cy
    assert q.import_cy == pytest.approx(q.fill_cy / 0.9 * 1.25)


def test_an_empty_trench_is_dug_and_filled():
    site = trench(line("p", "power", "pvc40", 2, route=[{"alignment": "main", "from": 0, "to": 40}]), reach={
        "from": 40, "to": 100, "depth_in": 30, "bottom_width_in": 24,
    })  # fmt: skip
    section = sections(site)["r"]
    q = quantities(site, section, length_ft=60)
    assert (section.layers, section.ribbons_in) == ((), ())
    assert q.fill_cy == pytest.approx(q.bank_cy)


def test_width_is_set_by_bucket_people_or_lines_and_says_so():
    hoe = {"id": "hoe", "name": "Small hoe", "kind": "excavator", "calendar": "days", "bucket_width_in": 18}
    shallow = sections(trench(equipment=[hoe]))["r"]
    assert (shallow.bottom_width_in, shallow.width_governed_by) == (18, "the bucket of Small hoe")
    deep = sections(trench(equipment=[hoe], reach={"depth_in": 50}))["r"]
    assert deep.bottom_width_in == 24
    assert "people at work" in deep.width_governed_by
    wide = sections(trench(line("p", "power", "pvc40", 2), line("c", "communications", "pvc40", 2), equipment=[hoe]))[
        "r"
    ]
    assert wide.bottom_width_in == 23  # 20.75 in of lines and room, and places in whole inches from the centreline
    assert "IEEE C2 320B2" in wide.width_governed_by
