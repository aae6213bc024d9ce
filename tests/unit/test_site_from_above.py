"""The site from above: everything of the site is in it, recorded is never drawn like planned, no words cover others."""

from __future__ import annotations

import re
from itertools import combinations
from xml.etree.ElementTree import Element, fromstring

import pytest

import scheduler
from app.components.site_picture import SIZES as DRAWN
from app.figures.free_spots import Box, FreeSpots
from app.figures.palette import MARKS
from app.figures.site_from_above import LayerDrawn, StretchDrawn, site_from_above
from scheduler import Case
from scheduler.case import bundled_sites
from scheduler.situation import LayerState

CASES = [scheduler.load(path) for path in bundled_sites().values()]
SIZES = list(DRAWN.values())


def stretches(case: Case, state: LayerState, **more: object) -> list[StretchDrawn]:
    found = []
    for opening in case.network.openings:
        closes = case.network.by_id[opening.closes]
        lines = tuple(k.id for k in case.site.lines if any(s.alignment == closes.alignment for s in k.route))
        span = closes.alignment, closes.from_ft, closes.to_ft
        found.append(StretchDrawn(opening.id, *span, f"said {opening.id}", (LayerDrawn(state, lines),), **more))  # type: ignore[arg-type]
    return found


def drawn(
    case: Case, found: list[StretchDrawn], size: tuple[float, float] = SIZES[0], *, planned: bool = False
) -> Element:
    anew = case.site.model_copy()  # a drawing of the very same site is kept
    return fromstring(site_from_above(anew, found, wide=size[0], tallest=size[1], planned=planned))


def classes(root: Element) -> set[str]:
    return {name for e in root.iter() for name in e.get("class", "").split()}


@pytest.mark.parametrize("case", CASES, ids=["long", "small"])
def test_the_picture_shows_every_line_structure_and_thing_beside(case: Case) -> None:
    root = drawn(case, stretches(case, LayerState.LAID))
    titles = " ".join(t.text or "" for t in root.iter("title"))
    site = case.site
    for one in (*site.lines, *site.structures):
        assert one.name in titles
    for thing in site.surroundings:
        assert thing.said in titles
    lines = {
        (e.get("stroke"), e.get("class", "").split()[-1])
        for e in root.iter("polyline")
        if "line" in e.get("class", "").split()
    }
    assert lines == {(MARKS[k.kind].colour, MARKS[k.kind].dash) for k in site.lines}
    assert len([e for e in root.iter("path") if e.get("class") == "crossing"]) == len(site.existing)


@pytest.mark.parametrize("case", CASES, ids=["long", "small"])
def test_every_stretch_can_be_touched_and_says_what_is_shown_of_it(case: Case) -> None:
    found = stretches(case, LayerState.DUG)
    told = {e.get("data-stretch"): e.get("aria-label") for e in drawn(case, found).iter("g")}
    assert told == {s.key: s.said for s in found}


@pytest.mark.parametrize("state", list(LayerState))
def test_what_is_planned_is_never_drawn_with_the_strokes_of_what_is_recorded(state: LayerState) -> None:
    case = CASES[-1]
    recorded = classes(drawn(case, stretches(case, state, is_open=True, holds=1, failed=True, at_night=True)))
    planned = classes(drawn(case, stretches(case, state), planned=True))
    assert planned & {"laid", "filled", "earth", "tick", "eye", "open", "digging", "not-dug"} == set()
    assert {name for name in recorded if name.startswith("planned")} == set()
    assert {"hand", "failed", "lamp"} <= recorded
    assert ("laid" in recorded) == (state in (LayerState.LAID, LayerState.TESTED, LayerState.SEEN, LayerState.COVERED))


def test_each_state_of_a_layer_is_drawn_in_its_own_way_recorded_and_planned() -> None:
    case = CASES[-1]
    for planned in (False, True):
        looks = {
            state: frozenset(
                classes(drawn(case, stretches(case, state, is_open=state is not LayerState.NOT_DUG), planned=planned))
            )
            for state in LayerState
        }
        assert len(set(looks.values())) == len(looks), planned


def test_trench_whose_lines_are_covered_and_that_is_not_filled_is_drawn_open() -> None:
    case = CASES[-1]
    shaded = drawn(case, stretches(case, LayerState.COVERED, is_open=True))
    assert {"open", "earth", "shut"} <= classes(shaded)
    assert "filled" not in classes(shaded)
    filled = drawn(case, stretches(case, LayerState.COVERED, filled=True))
    assert "filled" in classes(filled)
    assert {"open", "shut"} & classes(filled) == set()
    begun = classes(drawn(case, stretches(case, LayerState.NOT_DUG, is_open=True, digging=True)))
    assert {"digging", "shut"} <= begun


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("case", CASES, ids=["long", "small"])
def test_no_words_that_can_be_left_out_cover_others_or_leave_the_picture(
    case: Case, size: tuple[float, float], monkeypatch: pytest.MonkeyPatch
) -> None:
    written: list[tuple[str, Box]] = []
    place = FreeSpots.place

    def kept(self: FreeSpots, text: str, *more: object, needed: bool, **how: object) -> object:
        spot = place(self, text, *more, needed=needed, **how)  # type: ignore[arg-type]
        if spot is not None and not needed:
            written.append((text, self.taken[-1]))
        return spot

    monkeypatch.setattr(FreeSpots, "place", kept)
    root = drawn(case, stretches(case, LayerState.DUG), size)
    edge, wide, tall = (float(n) for n in root.get("viewBox", "").split()[1:])
    assert wide == size[0]
    assert tall <= size[1]
    assert len(written) > 5
    for (one, a), (other, b) in combinations(written, 2):
        assert a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1], (one, other)
    for text, box in written:
        assert 0 <= box[0] < box[2] <= wide, text
        assert edge <= box[1] < box[3] <= edge + tall, text


def test_words_from_the_site_file_stay_words() -> None:
    case = CASES[-1]
    named = case.site.structures[0].model_copy(update={"name": "<script>alert(1)</script>"})
    site = case.site.model_copy(update={"structures": [named, *case.site.structures[1:]]})
    text = site_from_above(site, [], wide=358.0, tallest=240.0)
    assert "<script>" not in text
    assert re.search(r"&lt;script&gt;", text)
