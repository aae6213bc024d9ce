"""An alignment from the side: its trench, lines, structures and what crosses, with stations."""

from __future__ import annotations

from collections.abc import Mapping

import plotly.graph_objects as go

from app.figures.alignment_paths import Point
from app.figures.dimensions import ABOVE, BELOW, INK, LEFT, RIGHT, Sheet
from app.figures.free_spots import Spot
from app.figures.palette import MARKS
from app.once import once
from app.words import html_escape
from scheduler.site import Alignment, Line, Site
from scheduler.trench import Section, stretch_within
from scheduler.units import METRES_PER_FOOT, MM_PER_INCH, format_inches, format_station, metric

_NARROWEST_PX = 366.0
_PROFILE_PX = 310.0
"""Height of the profile's drawing."""
_TRENCH = "rgba(160,113,74,0.30)"
_SHEET = "#ddd5c6"
"""What it is drawn on: light enough for dark letters, and no bright plate at night."""
_SAME_DEPTH_IN = 2.2
"""Lines at one depth are drawn this far apart in the profile, so that each is seen."""


def _stops(alignment: Alignment) -> list[float]:
    """Return the even stations that are written along an alignment."""
    short = alignment.length_ft <= 120
    step = (5.0 if short else 20.0) / METRES_PER_FOOT if metric() else 20.0 if short else 50.0
    return [k * step for k in range(int(alignment.length_ft // step) + 1)]


@once(2)
def profile_figure(site: Site, sections: Mapping[str, Section], alignment: str) -> go.Figure:
    """Draw one alignment from the side: depths in inches, far taller than to scale, stations along.

    The trench bottom by reach, every line at its depth, structures, marked lines that cross,
    and stretches kept open. Lines at one depth are drawn a little apart.
    """
    named = next(a for a in site.alignments if a.id == alignment)
    reaches = [r for r in site.reaches if r.alignment == alignment]
    deepest = max((sections[r.id].depth_in for r in reaches), default=24.0)
    window = (-0.03 * named.length_ft, 1.14 * named.length_ft)
    down = _PROFILE_PX / (deepest + 42.0)
    sheet = Sheet(go.Figure(), _NARROWEST_PX / (window[1] - window[0]), window, down=down)
    for reach in reaches:
        low, high, depth = min(reach.from_, reach.to), max(reach.from_, reach.to), sections[reach.id].depth_in
        sheet.figure.add_scatter(
            x=[low, low, high, high], y=[0, depth, depth, 0], mode="lines", fill="toself", fillcolor=_TRENCH,
            line={"color": INK, "width": 1.2}, hoveron="fills", name=f"{reach.id}: {format_inches(depth)} deep",
            hoverinfo="name",
        )  # fmt: skip
        sheet.write(format_inches(depth), x=(low + high) / 2.0, y=depth, places=(BELOW,), needed=False)
    _lines_from_the_side(sheet, site, sections, named)
    _things_from_the_side(sheet, site, alignment)
    return _profile_frame(sheet, named, deepest)


def _lines_from_the_side(sheet: Sheet, site: Site, sections: Mapping[str, Section], alignment: Alignment) -> None:
    shown: list[tuple[float, float, float]] = []
    for line in site.lines:
        xs: list[float | None] = []
        ys: list[float | None] = []
        for reach in (r for r in site.reaches if r.alignment == alignment.id):
            placed = next((p for p in sections[reach.id].placed if p.line == line.id), None)
            for low, high in stretch_within(line, reach) if placed else []:
                depth = (placed.top_in + placed.bottom_in) / 2.0 if placed else 0.0
                while any(abs(depth - d) < _SAME_DEPTH_IN - 0.01 and a < high and low < b for a, b, d in shown):
                    depth += _SAME_DEPTH_IN
                xs += [low, high]
                ys += [depth, depth]
        points = [(x, y) for x, y in zip(xs, ys, strict=True) if x is not None and y is not None]
        if not points:
            continue
        shown += [(a, b, d) for (a, d), (b, _) in zip(points[::2], points[1::2], strict=True)]
        mark = MARKS[line.kind]
        sheet.figure.add_scatter(
            x=xs, y=ys, mode="lines", line={"width": 3, "color": mark.colour, "dash": mark.dash},
            hovertemplate=f"{mark.label} {html_escape(line.name)}<extra></extra>",
        )  # fmt: skip
        _end_label(sheet, line, points[-1], alignment)


def _end_label(sheet: Sheet, line: Line, end: Point, alignment: Alignment) -> None:
    """Write a line's letters at its end; those that end near the last station stand in one column."""
    x = alignment.length_ft if end[0] > 0.8 * alignment.length_ft else end[0]
    places: tuple[Spot, ...] = tuple(("left", along, up) for along in (6.0, 22.0) for up in (0.0, -9.0, 9.0))
    sheet.write(f"<b>{MARKS[line.kind].label}</b>", x=x, y=end[1], places=places, backed=True)


def _things_from_the_side(sheet: Sheet, site: Site, alignment: str) -> None:
    figure = sheet.figure
    for kept in (k for k in site.keep_open if k.alignment == alignment):
        low, high = min(kept.from_, kept.to), max(kept.from_, kept.to)
        figure.add_shape(type="line", x0=low, x1=high, y0=-3, y1=-3, line={"color": INK, "width": 7, "dash": "2px,2px"})
        sheet.write("kept open", x=(low + high) / 2.0, y=-3.0, places=(ABOVE, LEFT, RIGHT))
    for structure in (s for s in site.structures if s.alignment == alignment):
        figure.add_shape(
            type="line", x0=structure.station, x1=structure.station, y0=-6, y1=0, line={"color": INK, "width": 3}
        )
        word = structure.kind.replace("_", " ")
        places: tuple[Spot, ...] = tuple(
            ("center", shift, 12.0 + 15.0 * row) for row in range(4) for shift in (0.0, -20.0, 20.0)
        )
        sheet.write(word, x=structure.station, y=-6.0, places=places)
    for existing in (e for e in site.existing if e.alignment == alignment and e.depth_in is not None):
        mark, depth = MARKS[existing.kind], existing.depth_in or 0.0
        figure.add_scatter(
            x=[existing.station], y=[depth + existing.size_in / 2.0], mode="markers",
            marker={"symbol": "circle", "size": 11, "color": mark.colour, "line": {"width": 2, "color": INK}},
            hovertemplate=f"marked {existing.kind} line, {format_inches(depth)} down<extra></extra>",
        )  # fmt: skip
        sheet.write(f"{mark.label} crosses", x=existing.station, y=depth, places=(ABOVE, BELOW, RIGHT, LEFT))


def _profile_frame(sheet: Sheet, alignment: Alignment, deepest_in: float) -> go.Figure:
    figure = sheet.figure
    figure.add_shape(
        type="line", x0=sheet.window[0], x1=sheet.window[1], y0=0, y1=0, line={"color": "#5d7a3a", "width": 3}
    )
    stops = _stops(alignment)
    depths = [0.0, *range(12, int(deepest_in) + 12, 12)]
    if metric():
        depths = [mm / MM_PER_INCH for mm in range(0, int((deepest_in + 12) * MM_PER_INCH), 250)]
    figure.update_layout(
        height=350, margin={"l": 40, "r": 4, "t": 6, "b": 34}, paper_bgcolor="rgba(0,0,0,0)",
        plot_bgcolor=_SHEET, showlegend=False, dragmode="pan", font={"size": 11, "color": INK},
    )  # fmt: skip
    figure.update_xaxes(
        range=list(sheet.window), tickvals=stops, ticktext=[format_station(s) for s in stops], showgrid=False,
        zeroline=False, title={"text": "Station", "standoff": 2},
    )  # fmt: skip
    figure.update_yaxes(
        range=[deepest_in + 12.0, -30.0], tickvals=depths, zeroline=False,
        ticktext=[f"{d * MM_PER_INCH:.0f}" if metric() else f"{d:.0f}" for d in depths],
        title={"text": f"{'Millimetres' if metric() else 'Inches'} below grade", "standoff": 2},
        gridcolor="rgba(120,115,105,0.2)",
    )  # fmt: skip
    return figure
