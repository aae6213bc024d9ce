"""Where and when at once: stations across, dates down, one alignment a figure."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

import plotly.graph_objects as go

from app.figures.bands import describe
from app.figures.frame import CLOSED, FAINT, THREAD, framed, stripe
from app.figures.marks import Look
from app.figures.scale import DayScale
from app.figures.work import Picture
from scheduler.plan import PlanActivity
from scheduler.units import format_station

DAY_PX = 64
Box = tuple[float, float, float, float]
"""Left, right, top, bottom."""


def stations_figure(picture: Picture, alignment: str, *, first: date, last: date) -> go.Figure:
    """Draw the work along one alignment: a patch from station to station, from start to finish.

    Open trench is outlined in dots; the left edge of work that moves the finish is a thick line.
    """
    opened = picture.opened(first, last)
    scale = DayScale.over(first, last, opened)
    shown = [
        a
        for a in picture.plan.activities
        if a.alignment == alignment and a.reach and a.finish.date() >= first and a.start.date() <= last
    ]
    figure = go.Figure()
    _open_trench(figure, picture, alignment, scale)
    patches: dict[Look, list[PlanActivity]] = {}
    for activity in shown:
        patches.setdefault(picture.look(activity), []).append(activity)
    for look in sorted(patches, key=lambda k: k.name):
        _patches(figure, picture, scale, look, patches[look])
    _edges(figure, picture, scale, [a for a in shown if a.critical])
    stripe(figure, scale.closed(opened), along="y", colour=CLOSED)
    _axes(figure, scale, next(a.length_ft for a in picture.site.alignments if a.id == alignment))
    return framed(figure, height=int(min(2400, max(420, 80 + DAY_PX * scale.length))))


def _axes(figure: go.Figure, scale: DayScale, length_ft: float) -> None:
    step = 20 if length_ft <= 240 else 50 if length_ft <= 600 else 100
    stations = [float(t) for t in range(0, int(length_ft) + 1, step)]
    figure.update_xaxes(
        range=[-0.02 * length_ft, 1.02 * length_ft],
        tickvals=stations,
        ticktext=[format_station(t) for t in stations],
        side="top",
        gridcolor=FAINT,
    )
    positions, labels = scale.ticks()
    figure.update_yaxes(
        range=[scale.length, 0], tickvals=positions, ticktext=[t.replace("<br>", " ") for t in labels], showgrid=False
    )
    for edge in scale.day_edges():
        figure.add_hline(y=edge, line_width=0.5, line_color=FAINT, layer="below")


def _outline(boxes: Iterable[Box]) -> tuple[list[float | None], list[float | None]]:
    xs: list[float | None] = []
    ys: list[float | None] = []
    for left, right, top, bottom in boxes:
        xs += [left, right, right, left, left, None]
        ys += [top, top, bottom, bottom, top, None]
    return xs, ys


def _boxes(picture: Picture, scale: DayScale, activity: PlanActivity) -> list[Box]:
    return [(activity.from_ft, activity.to_ft, scale.at(a), scale.at(b)) for a, b in picture.worked(activity)]


def _patches(figure: go.Figure, picture: Picture, scale: DayScale, look: Look, activities: list[PlanActivity]) -> None:
    boxes = [(a, box) for a in activities for box in _boxes(picture, scale, a)]
    xs, ys = _outline(box for _, box in boxes)
    hatch = {"shape": look.hatch, "fgcolor": look.ink, "bgcolor": look.colour, "size": 6, "solidity": 0.2}
    figure.add_trace(
        go.Scatter(
            x=xs,
            y=ys,
            mode="lines",
            fill="toself",
            name=look.name,
            line={"width": 0.6, "color": "rgba(60,60,60,0.7)"},
            fillcolor=look.colour,
            fillpattern=hatch if look.hatch else None,
            hoverinfo="skip",
        )
    )
    tall = [(a, (left, right, top, bottom)) for a, (left, right, top, bottom) in boxes if bottom > top]
    figure.add_trace(
        go.Scatter(
            x=[(left + right) / 2 for _, (left, right, _, _) in tall],
            y=[(top + bottom) / 2 for _, (_, _, top, bottom) in tall],
            mode="markers+text",
            text=[look.letters if (bottom - top) * DAY_PX > 13 else "" for _, (_, _, top, bottom) in tall],
            textfont={"color": look.ink, "size": 10},
            marker={"size": 16, "opacity": 0},
            hovertext=[describe(a) for a, _ in tall],
            hoverinfo="text",
            customdata=[a.id for a, _ in tall],
        )
    )


def _open_trench(figure: go.Figure, picture: Picture, alignment: str, scale: DayScale) -> None:
    dates = {a.id: a for a in picture.plan.activities}
    pairs = [(dates[o.opens], dates[o.closes]) for o in picture.network.openings]
    boxes = [(a.from_ft, a.to_ft, scale.at(a.start), scale.at(b.finish)) for a, b in pairs if a.alignment == alignment]
    xs, ys = _outline(boxes)
    line = {"width": 1.2, "color": "#a0714a", "dash": "dot"}
    fill = "rgba(160,113,74,0.12)"
    figure.add_trace(go.Scatter(x=xs, y=ys, mode="lines", fill="toself", line=line, fillcolor=fill, hoverinfo="skip"))


def _edges(figure: go.Figure, picture: Picture, scale: DayScale, critical: list[PlanActivity]) -> None:
    xs: list[float | None] = []
    ys: list[float | None] = []
    for activity in critical:
        for left, _, top, bottom in _boxes(picture, scale, activity):
            xs += [left, left, None]
            ys += [top, bottom, None]
    line = {"width": 5, "color": THREAD}
    figure.add_trace(go.Scatter(x=xs, y=ys, mode="lines", line=line, hoverinfo="skip"))
