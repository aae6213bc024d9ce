"""The film of the job from above: planned only, every change of a day in it, one drawing at a time."""

from __future__ import annotations

from itertools import pairwise
from xml.etree.ElementTree import fromstring

import pytest

from app.answer import Answer
from app.components.film import changes, film_of, planned_on
from app.components.window import plan_days
from app.figures.film_figure import FRAME_S, film_svg
from app.figures.site_from_above import LayerDrawn
from app.live import live_of
from app.stands import situation_of
from scheduler.situation import LayerState
from tests.unit.test_app_live import place as place
from tests.unit.test_app_live import planned

SVG = "{http://www.w3.org/2000/svg}"
FRAMES = [(f"Planned, end of day {k} <b>", f'<svg viewBox="0 0 640 200"><g class="d{k}"/></svg>') for k in range(5)]


def seen_at(group: object, share: float) -> str:
    """Return whether a drawing is seen at a share of the film, as SMIL plays it."""
    told = group.find(f"{SVG}animate")  # type: ignore[attr-defined]
    times = [float(t) for t in told.get("keyTimes").split(";")]
    values = told.get("values").split(";")
    return [v for t, v in zip(times, values, strict=True) if t <= share + 1e-9][-1]


def test_one_drawing_is_seen_at_a_time_each_in_its_turn() -> None:
    root = fromstring(film_svg(FRAMES, style=".x { fill: none }", title="A job"))
    groups = [g for g in root if g.get("class") == "frame"]
    assert len(groups) == 5
    for turn in range(5):
        shown = [k for k, g in enumerate(groups) if seen_at(g, (turn + 0.5) / 5) == "visible"]
        assert shown == [turn]
    assert [g.get("visibility") for g in groups] == ["visible", "hidden", "hidden", "hidden", "hidden"]
    assert {g.find(f"{SVG}animate").get("dur") for g in groups} == {f"{5 * FRAME_S:g}s"}
    assert root.find(f"{SVG}title").text == "A job"
    assert [g.find(f"{SVG}text").text for g in groups] == [said for said, _ in FRAMES], "words stay words"


def test_a_film_of_one_drawing_stands() -> None:
    root = fromstring(film_svg(FRAMES[:1], style="", title="A job"))
    (group,) = [g for g in root if g.get("class") == "frame"]
    assert seen_at(group, 0.9) == "visible"


@pytest.fixture
def told(place):
    answer = Answer(planned())
    situation = situation_of(live_of(answer.case), answer)
    assert situation is not None
    return answer, situation


def test_every_change_of_a_day_is_in_the_film_and_all_of_it_is_planned(told) -> None:
    answer, situation = told
    days = changes(answer, situation)
    first, last = plan_days(answer.plan)
    assert days[0][0] == first
    assert all(one[1] != other[1] for one, other in pairwise(days))
    assert days[-1][1] == planned_on(answer, situation, last)
    begun = {layer.state for s in days[0][1] for layer in s.layers}
    assert LayerState.NOT_DUG in begun
    assert LayerState.COVERED not in begun
    assert {layer.state for s in days[-1][1] for layer in s.layers} == {LayerState.COVERED}
    assert all(isinstance(layer, LayerDrawn) for _, drawn in days for s in drawn for layer in s.layers)
    film = film_of(answer, days)
    root = fromstring(film)
    frames = [g for g in root if g.get("class") == "frame"]
    assert len(frames) == len(days)
    assert all(g.find(f"{SVG}text").text.startswith("Planned, end of ") for g in frames)
    drawn = [t for t in root.iter() if (t.get("class") or "").startswith("trench")]
    assert drawn
    assert all("planned" in t.get("class").split() for t in drawn), "nothing in it is drawn as recorded"
    assert len(film) < 1_500_000
