"""The drawings of trench and ground: to scale, labelled, nothing written over anything else."""

from __future__ import annotations

from itertools import combinations

import pytest

from app.figures.alignment_paths import at_station, laid_out
from app.figures.dimensions import ABOVE, BELOW, ON, Sheet
from app.figures.palette import CODE_NAME
from app.figures.profile_figure import profile_figure
from app.figures.section_figure import letters_of, section_figure, section_key
from scheduler.site.files import load_site
from scheduler.trench.cautions import CAUTIONS
from scheduler.trench.layout_check import check_layout
from scheduler.trench.section import sections
from scheduler.trench.sheets import bundled_folder
from tests.trenches import line, trench

SITES = [load_site(bundled_folder().parent / name) for name in ("orchard-lane.yaml", "lantern-street.yaml")]


def three_layers():
    return trench(
        line("sewer", "sewer", "pvc_sewer", 8, cover_in=66),
        line("water", "water", "ductile_iron", 6, cover_in=42, shelf=True),
        line("power", "power", "pvc40", 3, count=2, cover_in=30, use="service"),
        line("phone", "communications", "pvc40", 2, cover_in=30),
        reach={"surface": "asphalt"},
    )


def words(figure):
    return [a.text for a in figure.layout.annotations]


def test_a_section_of_three_layers_is_to_scale_and_dimensioned():
    site = three_layers()
    section = sections(site)["r"]
    figure = section_figure(site, section)
    assert len(section.layers) == 3
    assert figure.layout.yaxis.scaleanchor == "x"
    assert figure.layout.yaxis.scaleratio == 1
    circles = [s for s in figure.layout.shapes if s.type == "circle"]
    assert sorted(round(s.x1 - s.x0, 3) for s in circles) == [2.375, 3.5, 3.5, 6.9, 8.4]
    assert all(s.x1 - s.x0 == pytest.approx(s.y1 - s.y0) for s in circles)
    said = " ".join(words(figure))
    for wanted in (
        "30 in",
        "42 in",
        "66 in",
        "78.4 in",
        "wide",
        "ribbon 12 in down",
        "Dotted: shading",
        "solid shelf",
    ):
        assert wanted in said


def test_what_governs_is_thick_and_said_in_the_key():
    site = three_layers()
    section = sections(site)["r"]
    figure = section_figure(site, section)
    thick = [t for t in figure.data if t.line and t.line.width == 3.0]
    assert thick
    assert any("<b>12" in text for text in words(figure))
    key = " ".join(section_key(site, section))
    assert section.width_governed_by in key
    assert section.depth_governed_by in key
    assert CODE_NAME in key
    assert CAUTIONS[0] in key


def test_every_line_is_named_by_letter_and_colour_and_twins_are_numbered():
    site = trench(line("a", "power", "pvc40", 2), line("b", "power", "pvc40", 2), line("w", "water", "pex", 1))
    section = sections(site)["r"]
    letters = letters_of(section, {one.id: one for one in site.lines})
    assert set(letters.values()) == {"P1", "P2", "W"}
    shown = words(section_figure(site, section))
    assert {f"<b>{v}</b>" for v in letters.values()} <= set(shown)
    assert any("(red)" in row for row in section_key(site, section))


def test_what_a_line_feeds_is_told_beside_it():
    site = trench(line("p", "power", "pvc40", 2, feeds="Workshop <panel>"), line("w", "water", "pex", 1))
    water, power = section_key(site, sections(site)["r"])[:2]
    assert power.endswith("of cover, feeds Workshop &lt;panel&gt;")
    assert water.endswith("of cover")


def test_findings_stand_below_the_drawing():
    site = trench(line("p", "power", "pvc40", 2, cover_in=6))
    findings = check_layout(site)
    figure = section_figure(site, sections(site)["r"], findings)
    assert any(text.startswith("<b>STOP</b> p lies too shallow") for text in words(figure))
    bare = section_figure(site, sections(site)["r"], findings, with_key=False)
    assert not any("STOP" in text for text in words(bare))


def boxes_of(figure_of, monkeypatch):
    """Return the boxes of all words that a figure needs or has room for, at the narrowest width."""
    written = []
    original = Sheet.write

    def write(self, text, **more):
        before = len(self.spots.taken)
        original(self, text, **more)
        written.extend((text, box) for box in self.spots.taken[before:])

    monkeypatch.setattr(Sheet, "write", write)
    figure_of()
    return written


@pytest.mark.parametrize("site", [three_layers(), *SITES], ids=["three-layers", "orchard", "lantern"])
def test_no_words_cover_others_in_a_section_on_the_narrowest_screen(site, monkeypatch):
    for section in list(sections(site).values())[:8]:
        boxes = boxes_of(lambda s=section: section_figure(site, s, with_key=False), monkeypatch)
        for (one, a), (other, b) in combinations(boxes, 2):
            apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
            assert apart, (section.reach, one, other)


def test_words_move_to_the_next_free_place_or_are_left_out():
    import plotly.graph_objects as go

    sheet = Sheet(go.Figure(), 1.0, (-100, 100))
    for _ in range(3):
        sheet.write("word", x=0, y=0, places=(ON, ABOVE, BELOW))
    assert [a.yshift for a in sheet.figure.layout.annotations] == [0, 11, -11] or len(sheet.spots.taken) == 3
    sheet.write("word", x=0, y=0, places=(ON,), needed=False)
    assert len(sheet.figure.layout.annotations) == 3


@pytest.mark.parametrize("site", SITES, ids=["orchard", "lantern"])
def test_the_profile_shows_depths_stations_and_crossings(site):
    figure = profile_figure(site, sections(site), site.alignments[0].id)
    assert "0+50" in figure.layout.xaxis.ticktext
    assert figure.layout.yaxis.range[0] > max(s.depth_in for s in sections(site).values()) > 0
    assert any("crosses" in text for text in words(figure))


def test_alignments_without_coordinates_are_laid_out_square():
    site = trench(
        alignments=[
            {"id": "main", "name": "Main", "length_ft": 100},
            {"id": "b", "name": "B", "length_ft": 30, "leaves": {"alignment": "main", "station": 40}},
        ]
    )
    assert laid_out(site, site.alignments[0]) == [(0.0, 0.0), (100.0, 0.0)]
    assert laid_out(site, site.alignments[1]) == [(40.0, 0.0), (40.0, 30.0)]
    assert at_station([(0, 0), (10, 0), (10, 10)], 15) == (10, 5)
