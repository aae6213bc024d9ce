"""Suggested layouts: legal, least, in order, and straight from reach to reach."""

from __future__ import annotations

import time
from itertools import pairwise, permutations
from math import ceil

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.site.files import load_site
from scheduler.site.site_record import Site
from scheduler.trench.book import Book
from scheduler.trench.layout_check import check_layout
from scheduler.trench.levels import levels_of
from scheduler.trench.section import sections
from scheduler.trench.sheets import bundled_folder
from scheduler.trench.suggest import Body, Gap, Suggestion, layouts, pack
from tests.trenches import line, trench

SITES = [bundled_folder().parent / name for name in ("orchard-lane.yaml", "lantern-street.yaml")]


def suggested(site: Site) -> dict[str, Suggestion]:
    book = Book(site)
    return layouts(book, {r.id: levels_of(site, book, r) for r in site.reaches})


def without_places(site: Site) -> Site:
    return site.model_copy(update={"lines": [x.model_copy(update={"offset_in": None}) for x in site.lines]})


def street():
    return trench(
        line("power", "power", "pvc40", 4, count=2, cover_in=30),
        line("phone", "communications", "pvc40", 4, cover_in=30),
        line("gas", "gas", "pe", 2, cover_in=30, tracer_wire_awg=14),
        line("water", "water", "ductile_iron", 6, cover_in=42, shelf=True),
        line("sewer", "sewer", "pvc_sewer", 8),
        reach={"surface": "asphalt"},
    )


def test_a_street_without_offsets_gets_a_legal_layout_proved_least_in_a_second():
    site = street()
    begun = time.process_time()
    found = suggested(site)["r"]
    assert time.process_time() - begun < 1.0
    assert found.proved
    assert set(found.suggested) == set(found.x_in) == {"power", "phone", "gas", "water", "sewer"}
    assert all(x == round(x) for x in found.x_in.values())
    assert not check_layout(site)


@pytest.mark.parametrize("path", SITES, ids=lambda p: p.stem)
def test_no_wider_than_the_hand_layout_of_the_bundled_sites(path):
    site = load_site(path)
    by_hand = sections(site)
    begun = time.process_time()
    found = suggested(without_places(site))
    assert time.process_time() - begun < 1.0 * len(site.reaches)
    for reach, layout in found.items():
        assert layout.proved
        assert layout.width_in <= by_hand[reach].bottom_width_in


@pytest.mark.parametrize("path", SITES, ids=lambda p: p.stem)
def test_bundled_sites_stay_legal_with_suggested_places(path):
    site = load_site(path)
    bare = site.model_copy(
        update={
            "lines": [one.model_copy(update={"offset_in": None}) for one in site.lines],
            "reaches": [one.model_copy(update={"bottom_width_in": None}) for one in site.reaches],
            "existing": [],
        }
    )
    found = [f for f in check_layout(bare) if not f.rule.startswith("cross-")]
    assert not found


def brute_force(widths, gap_in, room_in):
    """Return the least width of bodies side by side about a centreline, by trying every order and place."""
    best = None
    for order in permutations(range(len(widths))):
        for start in range(-40, 1):
            x = [float(start)]
            for a, b in pairwise(order):
                x.append(x[-1] + ceil(gap_in + (widths[a] + widths[b]) / 2 - 1e-9))
            need = max(2 * (abs(p) + widths[i] / 2 + room_in) for p, i in zip(x, order, strict=True))
            best = need if best is None else min(best, need)
    return ceil(best - 1e-9)


@settings(deadline=None, max_examples=25)
@given(st.lists(st.integers(min_value=1, max_value=9), min_size=1, max_size=4), st.integers(min_value=1, max_value=7))
def test_the_width_is_least_by_brute_force(widths, gap_in):
    bodies = tuple(Body(width_in=w, beyond_in=-2.0) for w in widths)
    gaps = tuple(Gap(first=i, second=j, gap_in=gap_in) for i in range(len(widths)) for j in range(i + 1, len(widths)))
    found = pack(bodies, gaps, 0.0)
    assert found is not None
    assert found.width_in == brute_force(widths, gap_in, 2.0)


def test_an_order_asked_for_is_kept():
    bodies = (Body(width_in=4, beyond_in=-2), Body(width_in=2, beyond_in=-2))
    for first, second in ((0, 1), (1, 0)):
        found = pack(bodies, (Gap(first=first, second=second, gap_in=12, ordered=True),), 0.0)
        assert found is not None
        assert found.x_in[first] < found.x_in[second]


def test_given_places_stay_and_others_go_round_them():
    site = trench(
        line("power", "power", "pvc40", 2, cover_in=30, offset_in=3.5),
        line("phone", "communications", "pvc40", 2, cover_in=30),
    )
    found = suggested(site)["r"]
    assert found.x_in["power"] == 3.5
    assert found.suggested == ("phone",)
    assert not check_layout(site)


def test_two_lines_given_one_place_are_for_the_check_to_find():
    site = trench(
        line("power", "power", "pvc40", 2, cover_in=30, offset_in=0),
        line("phone", "communications", "pvc40", 2, cover_in=30, offset_in=0),
    )
    assert [f.rule for f in check_layout(site)] == ["apart-power-communications"]


def test_a_line_stays_straight_where_the_width_allows():
    whole, half = [{"alignment": "main", "from": 0, "to": 100}], [{"alignment": "main", "from": 0, "to": 50}]
    hoe = {"id": "hoe", "name": "Hoe", "kind": "excavator", "calendar": "days", "bucket_width_in": 60}
    site = trench(
        line("power", "power", "pvc40", 2, route=whole),
        line("phone", "communications", "pvc40", 2, route=whole),
        line("gas", "gas", "pe", 2, route=half, tracer_wire_awg=14),
        reaches=[
            {"id": "a", "alignment": "main", "from": 0, "to": 50},
            {"id": "b", "alignment": "main", "from": 50, "to": 100},
        ],
        equipment=[hoe],
    )
    first, second = sections(site).values()
    at = {p.line: p.x_in for p in first.placed}
    assert {p.line: p.x_in for p in second.placed} == {k: at[k] for k in ("power", "phone")}
