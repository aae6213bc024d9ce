"""Lines and states are told apart by everybody: by mark and pattern alone, and at a glance by contrast too."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

import pytest

import app
from app.figures.marks import EARTH, OTHER
from app.figures.palette import MARKS
from app.figures.site_from_above import LayerDrawn, StretchDrawn, site_from_above
from scheduler.site import Site
from scheduler.site.files import read_site
from scheduler.situation import LayerState
from tests.seen_as import BLINDNESS, contrast, distance, linear, seen
from tests.small_site import FILE, SMALL_SITE

APP = Path(app.__file__).parent
THEMES = tomllib.loads((APP / "theme.toml").read_text(encoding="utf-8"))["theme"]
GROUNDS = {name: THEMES[name]["backgroundColor"] for name in ("light", "dark")}
CSS = (APP / "components" / "site_picture.css").read_text(encoding="utf-8")
AT_A_GLANCE = 10.0
"""CIE 1976; about 2 can just be told."""


def test_the_matrices_keep_grey_and_merge_what_each_kind_cannot_tell() -> None:
    for kind in BLINDNESS:
        assert seen("#808080", kind) == pytest.approx(linear("#808080"), abs=2e-3), "a grey stays that grey"
    red, green = "#d3202a", "#4e7a1c"
    for kind in ("protanopia", "deuteranopia"):
        assert distance(seen(red, kind), seen(green, kind)) < 0.5 * distance(linear(red), linear(green))
    blue, green = "#2f8fa0", "#2f9a6a"
    assert distance(seen(blue, "tritanopia"), seen(green, "tritanopia")) < distance(linear(blue), linear(green))
    assert contrast(linear("#ffffff"), linear("#000000")) == pytest.approx(21.0)
    assert distance(linear("#ffffff"), linear("#000000")) == pytest.approx(100.0, abs=0.1)


@pytest.mark.parametrize("kind", BLINDNESS)
def test_kinds_of_line_drawn_alike_are_told_apart_by_their_colour(kind: str) -> None:
    for (one, first), (other, second) in combinations(MARKS.items(), 2):
        assert first.label != second.label, "letters stand beside every colour"
        if first.dash == second.dash:
            apart = distance(seen(first.colour, kind), seen(second.colour, kind))
            assert apart >= AT_A_GLANCE, (kind, one, other, apart)


@pytest.mark.parametrize("kind", BLINDNESS)
@pytest.mark.parametrize("theme", GROUNDS)
def test_every_line_is_seen_on_its_ground(kind: str, theme: str) -> None:
    for line, mark in MARKS.items():
        apart = distance(seen(mark.colour, kind), seen(GROUNDS[theme], kind))
        assert apart >= 2 * AT_A_GLANCE, (line, theme, apart)


@pytest.mark.parametrize("kind", BLINDNESS)
def test_words_on_a_colour_are_read(kind: str) -> None:
    for mark in (*MARKS.values(), *EARTH.values(), *OTHER.values()):
        assert contrast(seen(mark.colour, kind), seen(mark.ink, kind)) >= 3.0, (mark.name, kind)


@pytest.mark.parametrize("looks", [EARTH, OTHER], ids=["earth", "other"])
def test_kinds_of_work_of_one_tone_have_another_hatch(looks: dict) -> None:
    for one, other in combinations(looks.values(), 2):
        assert one.letters != other.letters
        if one.colour == other.colour:
            assert one.hatch != other.hatch, (one.name, other.name)


# the site from above without any colour


@cache
def small_site() -> Site:
    return read_site(SMALL_SITE, file=FILE)


BARE = StretchDrawn("A", "M", 0.0, 60.0, "said", (LayerDrawn(LayerState.NOT_DUG, ()),))


def states() -> Iterator[tuple[str, StretchDrawn]]:
    """Yield a stretch in every state that the picture tells."""
    lines = (small_site().lines[0].id,)
    for state in LayerState:
        if state is not LayerState.NOT_DUG:
            layer = (LayerDrawn(state, lines),)
            yield state.value, replace(BARE, layers=layer, is_open=state is not LayerState.COVERED)
    yield "not dug", BARE
    yield "digging", replace(BARE, is_open=True, digging=True)
    yield "filled", replace(BARE, layers=(LayerDrawn(LayerState.COVERED, lines),), filled=True)
    for mark in ("failed", "unreported", "at_night"):
        yield mark, replace(BARE, **{mark: True})
    yield "held", replace(BARE, holds=1)
    yield "somebody there", replace(BARE, here="Plumber")


def without_colour(stretch: StretchDrawn, *, planned: bool = False) -> list[str]:
    """Return all that is drawn, each shape with its style, every colour replaced by the word 'ink'."""
    drawn = ElementTree.fromstring(site_from_above(small_site(), [stretch], wide=358, tallest=240, planned=planned))
    style = {}
    for names, rules in re.findall(r"([^{}@]+)\{([^{}]*)\}", CSS):
        for name in names.split(","):
            if re.fullmatch(r"\.[a-z-]+", name.strip()):
                style.setdefault(name.strip()[1:], []).append(rules)
    found = []
    for shape in drawn.iter():
        classes = shape.get("class", "").split()
        told = "; ".join(rule for c in classes for rule in style.get(c, ()))
        told = re.sub(r"#[0-9a-f]{3,6}|var\([^()]*(?:\([^()]*\))?[^()]*\)|currentColor", "ink", told)
        told = re.sub(r"opacity: [\d.]+", "", told)
        found.append(
            f"{shape.tag.rpartition('}')[2]} {re.sub('[^A-Za-z]', '', shape.get('d', ''))} {shape.text or ''} {told}"
        )
    return sorted(found)


def test_every_state_is_told_without_colour() -> None:
    told = {name: without_colour(stretch) for name, stretch in states()}
    for one, other in combinations(told, 2):
        assert told[one] != told[other], f"{one} and {other} are told apart by colour alone"


def test_what_is_planned_is_never_drawn_as_what_is_recorded() -> None:
    for name, stretch in states():
        if name != "somebody there":
            assert without_colour(stretch, planned=True) != without_colour(stretch), name


@pytest.mark.parametrize("kind", BLINDNESS)
@pytest.mark.parametrize("theme", GROUNDS)
def test_earth_and_failure_stand_out_on_their_ground(kind: str, theme: str) -> None:
    earth = re.search(r"\.filled \{ fill: (#[0-9a-f]{6})", CSS)
    failed = re.search(r"\.failed \{[^}]*stroke: (#[0-9a-f]{6})", CSS)
    assert earth
    assert failed
    for colour in (earth[1], failed[1]):
        assert distance(seen(colour, kind), seen(GROUNDS[theme], kind)) >= 2 * AT_A_GLANCE, (colour, theme)
