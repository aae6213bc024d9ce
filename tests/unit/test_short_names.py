"""Names in little room: nothing that tells one place from another is left out."""

from __future__ import annotations

import pytest

import scheduler
from app.short_names import place_in_short, trenches_in_short
from scheduler import Case
from scheduler.case import bundled_sites
from scheduler.units import format_station

CASES = {name: scheduler.load(path) for name, path in bundled_sites().items()}


@pytest.mark.parametrize("case", CASES.values(), ids=list(CASES))
def test_every_place_keeps_a_name_of_its_own(case: Case) -> None:
    names = {a.id: a.name for a in case.site.alignments}
    places = [f"{names[r.alignment]} {format_station(r.from_)} to {format_station(r.to)}" for r in case.site.reaches]
    short = [place_in_short(case.site, place) for place in places]
    assert len(set(short)) == len(set(places))
    assert all(len(s) < len(p) for s, p in zip(short, places, strict=True))
    assert len(set(trenches_in_short(case.site).values())) == len(names)


def test_the_one_trench_that_others_leave_and_a_word_that_all_share_are_left_out() -> None:
    site = CASES["lantern-street"].site
    assert (
        place_in_short(site, "Lay Sewer main, Lantern Street joint trench 1+35 to 1+95") == "Lay Sewer main, 1+35-1+95"
    )
    assert place_in_short(site, "Lot 1 lateral 0+00 to 0+24") == "Lot 1 0+00-0+24"
    assert trenches_in_short(CASES["orchard-lane"].site)["pole-branch"] == "Pole branch"
