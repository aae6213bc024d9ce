"""The trench cut up: pieces tile their reach, and every foot of a line is laid once."""

from __future__ import annotations

import itertools
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import scheduler
from scheduler import bundled_sites
from scheduler.network.derive import derive
from scheduler.network.pieces import Ground
from scheduler.units import TOUCH_FT
from tests.benchmarks.site_generator import random_small_site
from tests.derived import Records, changed

stretches = st.tuples(st.integers(0, 159), st.integers(1, 160)).filter(lambda ends: ends[0] < ends[1])


@settings(deadline=None)
@given(
    cuts=st.sets(st.integers(1, 159), max_size=4),
    kept=stretches,
    line=stretches,
)
def test_pieces_tile_the_reaches_and_feet_of_a_line_add_up(
    cuts: set[int], kept: tuple[int, int], line: tuple[int, int]
) -> None:
    ends = [0, *sorted(cuts), 160]
    (k0, k1), (a, b) = kept, line

    def change(r: Records) -> None:
        r["reaches"] = [
            {"id": f"A{n}", "alignment": "M", "from": lo, "to": hi}
            for n, (lo, hi) in enumerate(itertools.pairwise(ends))
        ]
        r["keep_open"][0].update({"from": k0, "to": k1})
        r["lines"] = [r["lines"][0] | {"route": [{"alignment": "M", "from": a, "to": b}]}]

    ground = Ground(changed(change))
    laid = 0.0
    for reach in ground.reaches.values():
        pieces = ground.pieces[reach.id]
        assert (pieces[0].from_ft, pieces[-1].to_ft) == (reach.from_, reach.to)
        assert all(p.to_ft == q.from_ft for p, q in itertools.pairwise(pieces))
        for piece in pieces:
            inside = k0 <= piece.from_ft and piece.to_ft <= k1
            outside = piece.to_ft <= k0 or k1 <= piece.from_ft
            assert inside or outside, "a piece is kept open as a whole or not at all"
            assert bool(piece.keeps) == inside
            laid += ground.feet("P1", [piece])
    assert laid == pytest.approx(b - a)
    assert ground.route("P1") == [r.id for r in ground.reaches.values() if min(b, r.to) - max(a, r.from_) > TOUCH_FT]


def test_ends_that_all_but_meet_make_no_sliver() -> None:
    def change(r: Records) -> None:
        r["keep_open"][0].update({"from": 0, "to": 99.995})

    (piece,) = Ground(changed(change)).pieces["R1"]
    assert piece.id == "R1"
    assert [k.id for k in piece.keeps] == ["K1"]


def test_where_two_reaches_meet_a_station_belongs_to_the_one_that_begins_there() -> None:
    ground = Ground(changed())
    found = [r.id if (r := ground.reach_at("M", at)) else None for at in (0, 99, 100, 160, 170)]
    assert found == ["R1", "R1", "R2", "R2", None]


def test_no_two_pieces_of_work_have_the_same_name() -> None:
    rng = Random(5)
    sites = [scheduler.load(path).site for path in bundled_sites().values()]
    for site in [*sites, changed(), *(random_small_site(rng) for _ in range(20))]:
        names = [a.name for a in derive(site).activities]
        assert len(names) == len(set(names)), {n for n in names if names.count(n) > 1}
