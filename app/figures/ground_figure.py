"""The site from above and from the side: alignments with stations, lines, structures, crossings."""

from __future__ import annotations

import math
from collections.abc import Mapping
from itertools import pairwise

import plotly.graph_objects as go

from app.figures.dimensions import ABOVE, BELOW, INK, LEFT, RIGHT, Sheet, Spot
from app.figures.palette import MARKS
from app.words import html_escape
from scheduler.site import Alignment, Line, Site, Surrounding
from scheduler.trench import Section, stretch_within
from scheduler.units import METRES_PER_FOOT, MM_PER_INCH, format_feet, format_inches, format_station, metric

Point = tuple[float, float]
_NARROWEST_PX = 366.0
_PROFILE_PX = 310.0
"""Height of the profile's drawing."""
_TRENCH, _OPEN = "rgba(160,113,74,0.30)", "rgba(255,255,255,0.35)"
_BESIDE = "#5f6b66"
"""What stands beside the trench."""
_LINE_GAP_PX, _SHORT_PX = 4.5, 60.0
"""Lines are drawn this far apart on the narrowest screen, far wider than they lie; short ones get no letter."""
_SAME_DEPTH_IN = 2.2
"""Lines at one depth are drawn this far apart in the profile, so that each is seen."""


def plan_figure(site: Site) -> go.Figure:
    """Draw the site from above, to scale along the alignments, lines spread apart so that each is seen.

    Alignments without coordinates are laid out straight, branches square to what they leave.
    """
    paths = {a.id: laid_out(site, a) for a in site.alignments}
    seen = [*paths.values(), *(_standing(thing, paths[thing.alignment]) for thing in site.surroundings)]
    xs = [x for points in seen for x, _ in points]
    ys = [y for points in seen for _, y in points]
    size = max(max(xs) - min(xs), max(ys) - min(ys), 40.0)
    room = 0.09 * size
    window = (min(xs) - room, max(xs) + room)
    scale = _NARROWEST_PX / (window[1] - window[0])
    sheet = Sheet(go.Figure(), scale, window, down=-scale)
    for alignment in site.alignments:
        _trench_from_above(sheet, site, paths[alignment.id], alignment, gap_ft=_LINE_GAP_PX / scale)
    for existing in site.existing:
        x, y = at_station(paths[existing.alignment], existing.station)
        mark = MARKS[existing.kind]
        sheet.figure.add_scatter(
            x=[x], y=[y], mode="markers", hovertemplate=f"marked {existing.kind} line crosses<extra></extra>",
            marker={"symbol": "x-thin", "size": 13, "line": {"width": 3, "color": mark.colour}},
        )  # fmt: skip
        _write(sheet, f"{mark.label} crosses", x, y)
    for structure in site.structures:
        x, y = at_station(paths[structure.alignment], structure.station)
        sheet.figure.add_scatter(
            x=[x], y=[y], mode="markers", marker={"symbol": "square", "size": 9, "color": INK},
            hovertemplate=f"{html_escape(structure.name)}<extra></extra>",
        )  # fmt: skip
        _write(sheet, structure.kind.replace("_", " "), x, y)
    for thing in site.surroundings:
        _beside_from_above(sheet, thing, paths[thing.alignment])
    _stations_from_above(sheet, site, paths)
    return _plan_frame(sheet, (min(ys) - room, max(ys) + room))


def _standing(thing: Surrounding, path: list[Point]) -> list[Point]:
    """Return the face of a thing beside the trench, as plan coordinates [ft]."""
    aside = thing.distance_ft if thing.side == "right" else -thing.distance_ft
    return _along(path, *thing.span, aside)


def _beside_from_above(sheet: Sheet, thing: Surrounding, path: list[Point]) -> None:
    face = _standing(thing, path)
    sheet.figure.add_scatter(
        x=[x for x, _ in face], y=[y for _, y in face], mode="lines+markers",
        line={"width": 3, "color": _BESIDE, "dash": "dot" if thing.what == "overhead_line" else "solid"},
        marker={"symbol": "diamond", "size": 9, "color": _BESIDE},
        hovertemplate=f"{html_escape(thing.said)}, {format_feet(thing.distance_ft)} from the centreline<extra></extra>",
    )  # fmt: skip
    _write(sheet, thing.said.removeprefix("the "), *face[0])


def _plan_frame(sheet: Sheet, y_range: Point) -> go.Figure:
    tall = sheet.scale * (y_range[1] - y_range[0])
    sheet.figure.update_layout(
        height=int(min(560.0, max(300.0, 2.4 * tall))), margin={"l": 4, "r": 4, "t": 4, "b": 4},
        paper_bgcolor="rgba(0,0,0,0)", plot_bgcolor="rgba(255,255,255,0.92)", showlegend=False, dragmode="pan",
        font={"size": 11, "color": INK},
    )  # fmt: skip
    sheet.figure.update_xaxes(range=list(sheet.window), visible=False, constrain="range")
    sheet.figure.update_yaxes(range=list(y_range), visible=False, scaleanchor="x", scaleratio=1, constrain="range")
    return sheet.figure


def _write(sheet: Sheet, text: str, x: float, y: float, *, needed: bool = False) -> None:
    """Write words beside a place seen from above, where y counts upwards."""
    sheet.write(text, x=x, y=y, places=(ABOVE, BELOW, RIGHT, LEFT), needed=needed, backed=True)


def laid_out(site: Site, alignment: Alignment) -> list[Point]:
    """Return the plan coordinates of an alignment [ft]: its own, or straight from where it leaves."""
    if alignment.path and len(alignment.path) > 1:
        return list(alignment.path)
    if alignment.leaves is None:
        return [(0.0, 0.0), (alignment.length_ft, 0.0)]
    parent = next(a for a in site.alignments if a.id == alignment.leaves.alignment)
    path = laid_out(site, parent)
    x, y = at_station(path, alignment.leaves.station)
    along_x, along_y = _direction(path, alignment.leaves.station)
    siblings = [a.id for a in site.alignments if a.leaves and a.leaves.alignment == parent.id]
    side = 1.0 if siblings.index(alignment.id) % 2 == 0 else -1.0
    return [(x, y), (x - side * along_y * alignment.length_ft, y + side * along_x * alignment.length_ft)]


def at_station(path: list[Point], station_ft: float) -> Point:
    """Return the plan coordinates of a station; beyond the end, the end."""
    walked = 0.0
    for (x1, y1), (x2, y2) in pairwise(path):
        leg = math.hypot(x2 - x1, y2 - y1)
        if leg > 0 and station_ft <= walked + leg:
            share = max(0.0, (station_ft - walked) / leg)
            return x1 + share * (x2 - x1), y1 + share * (y2 - y1)
        walked += leg
    return path[-1]


def _direction(path: list[Point], station_ft: float) -> Point:
    walked, unit = 0.0, (1.0, 0.0)
    for (x1, y1), (x2, y2) in pairwise(path):
        leg = math.hypot(x2 - x1, y2 - y1)
        if leg > 0:
            unit = ((x2 - x1) / leg, (y2 - y1) / leg)
        walked += leg
        if station_ft <= walked:
            break
    return unit


def _along(path: list[Point], from_ft: float, to_ft: float, aside_ft: float) -> list[Point]:
    """Return the part of a path between two stations, moved to the right of it."""
    corners, walked = [], 0.0
    for (x1, y1), (x2, y2) in pairwise(path):
        walked += math.hypot(x2 - x1, y2 - y1)
        corners.append(walked)
    stops = [from_ft, *(c for c in corners if from_ft < c < to_ft), to_ft]
    points = []
    for stop in stops:
        (x, y), (ux, uy) = at_station(path, stop), _direction(path, stop)
        points.append((x + aside_ft * uy, y - aside_ft * ux))
    return points


def _trench_from_above(sheet: Sheet, site: Site, path: list[Point], alignment: Alignment, *, gap_ft: float) -> None:
    """Draw one alignment: its trench, its lines side by side, stretches kept open."""
    along = [line for line in site.lines if any(s.alignment == alignment.id for s in line.route)]
    along.sort(key=lambda line: (line.offset_in or 0.0, line.id))
    half = gap_ft * (len(along) + 1) / 2.0
    _strip(sheet, path, 0.0, alignment.length_ft, half, colour=_TRENCH, said=html_escape(alignment.name))
    for kept in (k for k in site.keep_open if k.alignment == alignment.id):
        low, high = min(kept.from_, kept.to), max(kept.from_, kept.to)
        _strip(sheet, path, low, high, half + gap_ft, colour=_OPEN, hatch="x", said=f"kept open: {kept.because}")
        _write(sheet, "kept open", *_along(path, low, high, half + gap_ft)[-1], needed=True)
    for place, line in enumerate(along):
        aside = (place - (len(along) - 1) / 2.0) * gap_ft
        mark = MARKS[line.kind]
        for stretch in (s for s in line.route if s.alignment == alignment.id):
            points = _along(path, min(stretch.from_, stretch.to), max(stretch.from_, stretch.to), aside)
            sheet.figure.add_scatter(
                x=[x for x, _ in points], y=[y for _, y in points], mode="lines",
                line={"width": 2.5, "color": mark.colour, "dash": mark.dash},
                hovertemplate=f"{mark.label} {html_escape(line.name)}<extra></extra>",
            )  # fmt: skip
            if abs(stretch.to - stretch.from_) * sheet.scale < _SHORT_PX:
                continue
            share = (place + 0.6) / len(along)
            x, y = _along(path, stretch.from_ + share * (stretch.to - stretch.from_), stretch.to, aside)[0]
            sheet.write(f"<b>{mark.label}</b>", x=x, y=y, needed=False, backed=True)


def _strip(
    sheet: Sheet, path: list[Point], low: float, high: float, half_ft: float, *, colour: str, said: str, hatch: str = ""
) -> None:
    """Draw a strip along a path, this far to either side of it."""
    edge = _along(path, low, high, -half_ft) + _along(path, low, high, half_ft)[::-1]
    sheet.figure.add_scatter(
        x=[x for x, _ in edge], y=[y for _, y in edge], mode="lines", fill="toself", fillcolor=colour,
        fillpattern={"shape": hatch, "fgcolor": INK, "size": 6, "solidity": 0.3} if hatch else None,
        line={"width": 0}, hoveron="fills", name=said, hoverinfo="name",
    )  # fmt: skip


def _stops(alignment: Alignment) -> list[float]:
    """Return the even stations that are written along an alignment."""
    short = alignment.length_ft <= 120
    step = (5.0 if short else 20.0) / METRES_PER_FOOT if metric() else 20.0 if short else 50.0
    return [k * step for k in range(int(alignment.length_ft // step) + 1)]


def _stations_from_above(sheet: Sheet, site: Site, paths: Mapping[str, list[Point]]) -> None:
    for alignment in site.alignments:
        path = paths[alignment.id]
        middle = at_station(path, alignment.length_ft / 2.0)
        _write(sheet, f"<b>{html_escape(alignment.name)}</b>", *middle)
        stops = _stops(alignment)
        for stop in stops[1:] if alignment.leaves else stops:
            x, y = at_station(path, stop)
            sheet.figure.add_scatter(
                x=[x], y=[y], mode="markers", hoverinfo="skip",
                marker={"symbol": "circle-open", "size": 6, "color": INK},
            )  # fmt: skip
            _write(sheet, format_station(stop), x, y)


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
        plot_bgcolor="rgba(255,255,255,0.92)", showlegend=False, dragmode="pan", font={"size": 11, "color": INK},
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
