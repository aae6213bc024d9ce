"""The cross-section of a reach, to scale: lines, layers, cover and clearances, and what governs."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import pairwise
from textwrap import wrap

import plotly.graph_objects as go

from app.figures.dimensions import ABOVE, BELOW, INK, LEFT, ON, RIGHT, Sheet, across, between, over, upright
from app.figures.free_spots import Spot
from app.figures.palette import CODE_NAME, MARKS
from app.once import once
from app.words import html_escape
from scheduler import Finding
from scheduler.site import Line, Site
from scheduler.trench import (
    BANK_GAP_IN,
    CAUTIONS,
    Book,
    Layer,
    PlacedLine,
    Section,
    clear_in,
    half_widths_in,
    separation,
    size_said,
    water_and_sewer,
)
from scheduler.units import format_feet, format_inches

GROUND, FILL, SHADING, BEDDING = "#b39b7d", "#e6dccb", "#f2e6c4", "#dcd3c0"
RIBBON, SURFACE = "#b3261e", "#5d7a3a"
_WIDE_IN = 600.0
"""Ground drawn far beyond the trench, so that any window is filled with it."""
_NARROWEST_PX = 374.0
"""The drawing on the narrowest screen; words are placed for it."""
_ROW_PX, _ROW_CHARACTERS = 17, 66
"""Rows of the key below the drawing, for the narrowest screen."""
_COLUMN_IN = 9.0
"""Between dimension lines beside the trench."""
_SLOPE_SEEN_IN = 24.0
"""How much of a sloped side the narrowest window shows."""
_HOLDS_LETTER_IN = 5.5
"""A circle of this size holds its letter on the narrowest screen."""
_NEAR_IN = 6.0
"""Clearances with more to spare than this are not dimensioned."""


def section_figure(
    site: Site, section: Section, findings: Sequence[Finding] = (), *, with_key: bool = True
) -> go.Figure:
    """Draw one reach in section, looking along rising stations.

    Depths count down from grade and widths from the centreline, both in inches and to one
    scale. Dimensions at their least are thick. The key, with `findings`, stands below the
    drawing unless it is shown elsewhere.
    """
    return _drawn(site, section, tuple(findings), with_key)


@once(2)
def _drawn(site: Site, section: Section, findings: tuple[Finding, ...], with_key: bool) -> go.Figure:
    lines = {line.id: line for line in site.lines}
    columns = len(_levels(section)) + 1
    half = section.bottom_width_in / 2.0 + min(_SLOPE_SEEN_IN, section.slope * section.depth_in)
    window = (-half - _COLUMN_IN * columns - 5.0, half + 38.0)
    sheet = Sheet(go.Figure(), _NARROWEST_PX / (window[1] - window[0]), window)
    _ground(sheet, section)
    _layers(sheet, section)
    _outline(sheet, section)
    letters = letters_of(section, lines)
    for placed in section.placed:
        _line(sheet, lines[placed.line], placed, letters[placed.line])
    _dimensions(sheet, section, edge=-half)
    _clearances(sheet, site, section, lines)
    _ribbons(sheet, section)
    _names(sheet, site, section)
    rows = [row for entry in section_key(site, section, findings) for row in _wrapped(entry)] if with_key else []
    return _framed(sheet, section.depth_in, rows)


def _framed(sheet: Sheet, depth_in: float, rows: list[str]) -> go.Figure:
    figure, below = sheet.figure, _ROW_PX * len(rows) + 14 if rows else 4
    y_range = [depth_in + 18.0, -12.0]
    drawing = 1.25 * sheet.scale * (y_range[0] - y_range[1])
    for index, row in enumerate(rows):
        figure.add_annotation(
            text=row, x=0.0, y=0.0, xref="paper", yref="paper", xanchor="left", yanchor="middle",
            yshift=-(index + 1) * _ROW_PX, showarrow=False, align="left",
        )  # fmt: skip
    figure.update_layout(
        height=int(min(680.0, max(300.0, drawing))) + below + 4,
        margin={"l": 4, "r": 4, "t": 4, "b": below},
        paper_bgcolor="#ffffff" if rows else "rgba(0,0,0,0)",
        plot_bgcolor="rgba(0,0,0,0)",
        font={"size": 11, "color": INK},
        showlegend=False,
        dragmode=False,
    )
    figure.update_xaxes(range=list(sheet.window), visible=False, constrain="range")
    figure.update_yaxes(
        range=y_range, visible=False, scaleanchor="x", scaleratio=1, constrain="range", constraintoward="top"
    )
    return figure


def _polygon(sheet: Sheet, xs: list[float], ys: list[float], *, colour: str, hatch: str = "", name: str = "") -> None:
    pattern = {"shape": hatch, "fgcolor": "rgba(60,50,40,0.35)", "size": 7, "solidity": 0.12} if hatch else None
    sheet.figure.add_scatter(
        x=xs, y=ys, mode="lines", fill="toself", fillcolor=colour, fillpattern=pattern,
        line={"width": 0}, name=name, hoveron="fills", hoverinfo="name" if name else "skip",
    )  # fmt: skip


def _ground(sheet: Sheet, section: Section) -> None:
    deep = section.depth_in + _WIDE_IN
    _polygon(sheet, [-_WIDE_IN, _WIDE_IN, _WIDE_IN, -_WIDE_IN], [0, 0, deep, deep], colour=GROUND, name="Native ground")
    sheet.figure.add_shape(type="line", x0=-_WIDE_IN, x1=_WIDE_IN, y0=0, y1=0, line={"color": SURFACE, "width": 4})


def _sides(section: Section, upper_in: float, lower_in: float) -> tuple[list[float], list[float]]:
    """Return the outline of the open trench between two depths, down the left and up the right."""
    depths = {upper_in, lower_in, *(s.depth_in for s in section.shelves if upper_in < s.depth_in < lower_in)}
    left: list[tuple[float, float]] = []
    right: list[tuple[float, float]] = []
    for depth in sorted(depths):
        for nudge in (-1e-6, 1e-6):
            if upper_in <= depth + nudge <= lower_in:
                one, other = half_widths_in(section, depth + nudge)
                left.append((-one, depth))
                right.append((other, depth))
    points = left + right[::-1]
    return [x for x, _ in points], [y for _, y in points]


def _bands(section: Section) -> Iterable[tuple[float, float, str, str, str]]:
    """Yield what the trench is filled with: upper and lower depth, colour, hatch, name."""
    lowest = max((layer.bottom_in for layer in section.layers), default=section.depth_in)
    yield lowest, section.depth_in, BEDDING, "/", f"bedding {format_inches(section.bedding_in)}"
    for layer in section.layers:
        yield layer.shaded_to_in, layer.bottom_in, SHADING, ".", f"shading, layer {layer.index + 1}"
        yield _next_bottom(section, layer), layer.shaded_to_in, FILL, "", "fill in lifts"
    if not section.layers:
        yield 0.0, section.depth_in, FILL, "", "fill in lifts"


def _next_bottom(section: Section, layer: Layer) -> float:
    above = layer.index + 1
    return section.layers[above].bottom_in if above < len(section.layers) else 0.0


def _layers(sheet: Sheet, section: Section) -> None:
    for upper, lower, colour, hatch, name in _bands(section):
        if lower - upper > 0.1:
            xs, ys = _sides(section, upper, lower)
            _polygon(sheet, xs, ys, colour=colour, hatch=hatch, name=name)


def _outline(sheet: Sheet, section: Section) -> None:
    xs, ys = _sides(section, 0.0, section.depth_in)
    sheet.figure.add_scatter(x=xs, y=ys, mode="lines", line={"color": INK, "width": 2}, hoverinfo="skip")
    if section.protection == "shield":
        half = section.bottom_width_in / 2.0
        foot = min(section.depth_in, min((s.depth_in for s in section.shelves), default=section.depth_in))
        for side in (-1, 1):
            x = side * (half - 1.5)
            sheet.figure.add_shape(type="line", x0=x, x1=x, y0=-6, y1=foot, line={"color": INK, "width": 5})


def _ribbons(sheet: Sheet, section: Section) -> None:
    for depth in section.ribbons_in:
        left, right = half_widths_in(section, depth)
        sheet.figure.add_shape(
            type="line", x0=-left + 4, x1=right - 4, y0=depth, y1=depth,
            line={"color": RIBBON, "width": 3, "dash": "dash"},
        )  # fmt: skip
        words = f"ribbon {format_inches(depth)} down"
        sheet.write(words, x=0.0, y=depth, places=(ABOVE, BELOW), colour=RIBBON)


def letters_of(section: Section, lines: Mapping[str, Line]) -> dict[str, str]:
    """Return the letters each line goes by, numbered from the left where several are of one kind."""
    of_kind: dict[str, list[str]] = {}
    for placed in sorted(section.placed, key=lambda p: p.x_in):
        of_kind.setdefault(MARKS[lines[placed.line].kind].label, []).append(placed.line)
    return {
        line: label if len(ids) == 1 else f"{label}{number}"
        for label, ids in of_kind.items()
        for number, line in enumerate(ids, start=1)
    }


def _line(sheet: Sheet, line: Line, placed: PlacedLine, letters: str) -> None:
    """Draw the conduits or pipe of a run to scale, with its letters."""
    mark = MARKS[line.kind]
    first, middle = placed.x_in - placed.width_in / 2.0, (placed.top_in + placed.bottom_in) / 2.0
    for k in range(line.count):
        left = first + k * (placed.outside_in + BANK_GAP_IN)
        sheet.figure.add_shape(
            type="circle", x0=left, x1=left + placed.outside_in, y0=placed.top_in, y1=placed.bottom_in,
            fillcolor=mark.colour, line={"color": INK, "width": 1.5},
        )  # fmt: skip
    sheet.figure.add_scatter(
        x=[placed.x_in], y=[middle], mode="markers", marker={"size": 14, "opacity": 0},
        hovertemplate=f"{_described(line, placed)}<extra></extra>",
    )  # fmt: skip
    words = f"<b>{letters}</b>"
    if line.count == 1 and placed.outside_in >= _HOLDS_LETTER_IN:
        sheet.write(words, x=placed.x_in, y=middle, places=(ON,), colour=mark.ink)
    else:
        beside: tuple[Spot, ...] = (BELOW, ("center", -6, -11), ("center", 6, -11), ("center", 0, -24))
        sheet.write(words, x=placed.x_in, y=placed.bottom_in, places=beside, backed=True)
    sheet.block(left=first, right=first + placed.width_in, top=placed.top_in, bottom=placed.bottom_in)


def _described(line: Line, placed: PlacedLine) -> str:
    many = f"{line.count} of " if line.count > 1 else ""
    feeds = f", feeds {html_escape(line.feeds)}" if line.feeds else ""
    return f"{html_escape(line.name)}: {many}{size_said(line)}, {format_inches(placed.top_in)} of cover{feeds}"


def _levels(section: Section) -> list[float]:
    """Return the depths that get a cover dimension: the tops of lines that differ by over an inch."""
    tops = sorted({round(p.top_in, 1) for p in section.placed})
    return [top for i, top in enumerate(tops) if i == 0 or top - tops[i - 1] > 1.0]


def _dimensions(sheet: Sheet, section: Section, *, edge: float) -> None:
    """Dimension the cover of each level, the depth, and the width of the bottom."""
    levels = _levels(section)
    for column, depth in enumerate([*levels, section.depth_in], start=1):
        x = edge - _COLUMN_IN * column
        at_level = [p.x_in - p.width_in / 2.0 for p in section.placed if abs(p.top_in - depth) <= 1.0]
        to = min(at_level, default=edge) if depth in levels else -section.bottom_width_in / 2.0
        sheet.figure.add_shape(
            type="line", x0=x - 1.5, x1=to, y0=depth, y1=depth, line={"color": INK, "width": 0.7, "dash": "dot"}
        )
        upright(sheet, x=x, upper=0.0, lower=depth, text=format_inches(depth))
    whole = section.bottom_width_in / 2.0
    tight = section.bottom_width_in - section.width_needed_in < 1.0
    words = f"{format_inches(section.bottom_width_in)} wide"
    across(sheet, left=-whole, right=whole, y=section.depth_in + 9.0, text=words, governs=tight)


def _clearances(sheet: Sheet, site: Site, section: Section, lines: dict[str, Line]) -> None:
    """Dimension the gaps between neighbours in a layer, and the nearest pair between layers."""
    book = Book(site)
    reach = next(r for r in site.reaches if r.id == section.reach)

    def spare(first: PlacedLine, second: PlacedLine) -> float:
        pair = water_and_sewer(lines[first.line], lines[second.line])
        if pair and pair[0].shelf:
            shelf = book.get("water-sewer-shelf", reach=reach)
            return max(first.top_in - second.bottom_in, second.top_in - first.bottom_in) - shelf.value
        asked = separation(book, lines[first.line], lines[second.line], reach)
        return clear_in(first, second) - asked.value

    for layer in section.layers:
        row = sorted((p for p in section.placed if p.layer == layer.index), key=lambda p: p.x_in)
        for first, second in pairwise(row):
            left, right = first.x_in + first.width_in / 2.0, second.x_in - second.width_in / 2.0
            level = (max(first.top_in, second.top_in) + min(first.bottom_in, second.bottom_in)) / 2.0
            if right > left and spare(first, second) < _NEAR_IN:
                words = format_inches(right - left)
                across(sheet, left=left, right=right, y=level, text=words, governs=spare(first, second) < 1.0)
        lower = [p for p in section.placed if p.layer == layer.index - 1]
        pairs = [(spare(a, b), a, b) for a in row for b in lower if a.bottom_in < b.top_in]
        if pairs:
            left_over, above, beneath = min(pairs, key=lambda pair: pair[0])
            pair = water_and_sewer(lines[above.line], lines[beneath.line])
            if left_over >= _NEAR_IN:
                continue
            if pair and pair[0].shelf:
                over(
                    sheet, above, beneath, text=format_inches(beneath.top_in - above.bottom_in), governs=left_over < 1.0
                )
            else:
                words = format_inches(clear_in(above, beneath))
                between(sheet, above, beneath, text=words, governs=left_over < 1.0)


def _names(sheet: Sheet, site: Site, section: Section) -> None:
    """Name the surface, the ledge and what the trench is filled with, where there is room."""
    surface = next(r.surface for r in site.reaches if r.id == section.reach)
    edge = section.bottom_width_in / 2.0 + min(_SLOPE_SEEN_IN, section.slope * section.depth_in)
    sheet.write(surface, x=edge, y=0.0, places=(("left", 6, -10), ("left", 6, -24)))
    for shelf in section.shelves:
        side = -1.0 if shelf.side == "left" else 1.0
        x = side * (section.bottom_width_in / 2.0 + shelf.inner_in) / 2.0
        below: tuple[Spot, ...] = tuple(("center", along, -up) for up in (11, 26, 41) for along in (0, 14, -14))
        sheet.write("solid shelf", x=x, y=shelf.depth_in, places=below)
    for upper, lower, _, _, name in _bands(section):
        middle = (upper + lower) / 2.0
        side_in = min(half_widths_in(section, middle)[1], sheet.window[1])
        if lower - upper > 0.1:
            sheet.write(name, x=side_in, y=middle, places=(RIGHT, LEFT), needed=False)


def section_key(site: Site, section: Section, findings: Iterable[Finding] = ()) -> list[str]:
    """Return what the drawing means, one entry a line: the lines, what sets width and depth, the cautions."""
    lines = {line.id: line for line in site.lines}
    letters = letters_of(section, lines)
    rows: list[str] = []
    for placed in sorted(section.placed, key=lambda p: (p.top_in, p.x_in)):
        mark = MARKS[lines[placed.line].kind]
        rows.append(f"<b>{letters[placed.line]}</b> ({mark.colour_name}) {_described(lines[placed.line], placed)}")
    rows.append(f"Width {format_inches(section.bottom_width_in)}: {html_escape(section.width_governed_by)}")
    rows.append(f"Depth {format_inches(section.depth_in)}: {html_escape(section.depth_governed_by)}")
    rows.append(_sides_words(section))
    rows.append("Hatched: bedding. Dotted: shading round the lines of a layer. Plain: fill in lifts.")
    rows.append("Thick dimensions are at their least; they set the layout.")
    rows += [f"<b>{f.severity.value.upper()}</b> {html_escape(f'{f.text} {f.found}; {f.required}')}" for f in findings]
    rows.append(f"Line colours: {CODE_NAME}.")
    return [*rows, CAUTIONS[0]]


def _sides_words(section: Section) -> str:
    words = {
        "none": "Sides upright, no protective system by depth alone",
        "sloped": f"Sides sloped {section.slope:g} across to 1 up, {format_feet(section.top_width_ft)} wide at grade",
        "shield": "Sides upright inside a shield",
        "rock": "Sides upright in stable rock",
        "engineer": "An engineer designs the sides",
    }[section.protection]
    ladders = f"; {section.ladders} ladder{'s' if section.ladders != 1 else ''}" if section.ladders else ""
    spoil = f"; spoil bank {format_feet(section.spoil_base_ft)} wide" if section.spoil_base_ft else "; spoil hauled"
    return f"{words} (soil {section.soil.replace('_', ' ')}){ladders}{spoil}."


def _wrapped(text: str) -> list[str]:
    first, *rest = wrap(text, _ROW_CHARACTERS, break_long_words=False) or [""]
    return [first, *(f"   {r}" for r in rest)]
