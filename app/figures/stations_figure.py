"""Where and when at once: stations across, dates down, one alignment a figure."""

from __future__ import annotations

from datetime import date

import plotly.graph_objects as go

from app.figures.frame import FAINT, framed, shade_closed, strokes
from app.figures.patches import Patch, add_patches
from app.figures.scale import DayScale
from app.figures.signs import eyes, gates, picked_out, thread
from app.figures.work import Picture
from app.words import short_day
from scheduler.units import METRES_PER_FOOT, format_station, metric

DAY_PX, LEAST_PX, MOST_PX = 84, 420, 1600
MOST_STATIONS, MOST_DAYS = 6, 40


def stations_figure(picture: Picture, alignment: str, *, first: date, last: date, picked: str = "") -> go.Figure:
    """Draw the work along one alignment: a patch from station to station, from start to finish.

    Open trench is outlined in dots; the left edge of work without slack is thick and teal;
    a gate lies across the top of work that waits at a hold point; an eye stands where an inspector looks.
    """
    opened = picture.opened(first, last)
    scale = DayScale.over(first, last, opened)
    patches = [
        Patch(a, a.from_ft, a.to_ft, scale.at(start), scale.at(end))
        for a in picture.plan.activities
        if a.alignment == alignment and a.reach and a.finish.date() >= first and a.start.date() <= last
        for start, end in picture.worked(a)
        if first <= start.date() <= last
    ]
    length_ft = next(a.length_ft for a in picture.site.alignments if a.id == alignment)
    figure = go.Figure()
    strokes(figure, [(0.0, y, length_ft, y) for y in scale.starts], width=0.5, colour=FAINT)
    _open_trench(figure, picture, alignment, scale)
    add_patches(figure, picture, patches)
    thread(figure, [(p.left, p.top, p.left, p.bottom) for p in patches if p.activity.critical])
    starts = {p.activity.id: p for p in reversed(patches)}
    inset = 0.01 * length_ft
    tops = [(p.left + inset, p.top, p.right - inset, p.top) for a, p in starts.items() if a in picture.gated]
    gates(figure, tops, along="y")
    eyes(
        figure,
        [(p.right - 2 * inset, (p.top + p.bottom) / 2) for p in starts.values() if p.activity.kind.is_look],
    )
    picked_out(figure, [p for p in patches if p.activity.id == picked])
    shade_closed(figure, scale.closed(opened), along="y")
    _axes(figure, scale, length_ft)
    return framed(figure, height=int(min(MOST_PX, max(LEAST_PX, 80 + DAY_PX * scale.length))))


def _axes(figure: go.Figure, scale: DayScale, length_ft: float) -> None:
    per = 1.0 / METRES_PER_FOOT if metric() else 1.0
    step = next(s for s in (10, 20, 50, 100, 200, 500, 10_000) if length_ft <= s * per * MOST_STATIONS)
    stations = [t * per for t in range(0, int(length_ft / per) + 1, step)]
    figure.update_xaxes(
        range=[-0.02 * length_ft, 1.02 * length_ft],
        tickvals=stations,
        ticktext=[format_station(t) for t in stations],
        side="top",
        gridcolor=FAINT,
    )
    days = scale.days(MOST_DAYS)
    figure.update_yaxes(
        range=[scale.length, 0],
        tickvals=[position for position, _ in days],
        ticktext=[short_day(on).replace(" ", "<br>", 1) for _, on in days],
        showgrid=False,
    )


def _open_trench(figure: go.Figure, picture: Picture, alignment: str, scale: DayScale) -> None:
    xs: list[float | None] = []
    ys: list[float | None] = []
    for opening in picture.network.openings:
        digs, closes = picture.work[opening.opens], picture.work[opening.closes]
        top, bottom = scale.at(digs.start), scale.at(closes.finish)
        if digs.alignment == alignment and bottom > top:
            xs += [digs.from_ft, digs.to_ft, digs.to_ft, digs.from_ft, digs.from_ft, None]
            ys += [top, top, bottom, bottom, top, None]
    line = {"width": 1.2, "color": "#a0714a", "dash": "dot"}
    fill = "rgba(160,113,74,0.12)"
    figure.add_trace(go.Scatter(x=xs, y=ys, mode="lines", fill="toself", line=line, fillcolor=fill, hoverinfo="skip"))
