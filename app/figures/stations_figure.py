"""Where and when at once: stations across, dates down, one alignment a figure."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

import plotly.graph_objects as go

from app.figures.frame import FAINT, PEN, framed, shade_closed, strokes
from app.figures.patches import Patch, add_patches
from app.figures.scale import DayScale
from app.figures.signs import eyes, gates, picked_out, thread
from app.figures.work import Ink, Picture
from app.words import moment, short_day, time_of_day
from scheduler.units import METRES_PER_FOOT, format_station, metric

DAY_PX, LEAST_PX, MOST_PX = 84, 420, 1600
MOST_STATIONS, MOST_DAYS = 6, 40


def stations_figure(
    picture: Picture,
    alignment: str,
    *,
    first: date,
    last: date,
    picked: str = "",
    planned: Picture | None = None,
    now: datetime | None = None,
) -> go.Figure:
    """Draw the work along one alignment: a patch from station to station, from start to finish.

    A dashed line across stands at the moment `now`, a full one at the finish of the plan. Beside a record, `planned` is
    the plan without it: where work was recorded at another time, a dotted frame stays where the plan had it.

    Open trench is outlined in dots; the left edge of work without slack is thick and teal;
    a gate lies across the top of work that waits at a hold point; an eye stands where an inspector looks.
    """
    opened = picture.opened(first, last)
    scale = DayScale.over(first, last, opened)
    patches = _patches(picture, alignment, scale)
    length_ft = next(a.length_ft for a in picture.site.alignments if a.id == alignment)
    figure = go.Figure()
    strokes(figure, [(0.0, y, length_ft, y) for y in scale.starts], width=0.5, colour=FAINT)
    _open_trench(figure, picture, alignment, scale)
    if planned is not None:
        _moved(figure, picture, _patches(planned, alignment, scale))
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
    finish = (planned or picture).plan.finish
    if finish is not None:
        _across(figure, scale, finish, f"finish {moment(finish)}", dash="solid")
    if now is not None:
        _across(figure, scale, now, f"now {time_of_day(now)}", dash="dash")
    return framed(figure, height=int(min(MOST_PX, max(LEAST_PX, 80 + DAY_PX * scale.length))))


def _patches(picture: Picture, alignment: str, scale: DayScale) -> list[Patch]:
    return [
        Patch(a, a.from_ft, a.to_ft, scale.at(start), scale.at(end))
        for a in picture.plan.activities
        if a.alignment == alignment and a.reach and a.finish.date() >= scale.first and a.start.date() <= scale.last
        for start, end in picture.worked(a)
        if scale.first <= start.date() <= scale.last
    ]


def _moved(figure: go.Figure, picture: Picture, planned: Sequence[Patch]) -> None:
    """Draw a dotted frame where the plan had work that is recorded at another time."""
    xs: list[float | None] = []
    ys: list[float | None] = []
    for p in planned:
        recorded = picture.work[p.activity.id]
        if picture.ink(recorded) is Ink.RECORDED and (recorded.start, recorded.finish) != (
            p.activity.start,
            p.activity.finish,
        ):
            xs += [p.left, p.right, p.right, p.left, p.left, None]
            ys += [p.top, p.top, p.bottom, p.bottom, p.top, None]
    line = {"width": 1.4, "color": PEN, "dash": "dot"}
    figure.add_trace(go.Scatter(x=xs, y=ys, mode="lines", line=line, hoverinfo="skip"))


def _across(figure: go.Figure, scale: DayScale, when: datetime, words: str, *, dash: str) -> None:
    """Draw a line across all stations at a moment in the days drawn, with words at its right end."""
    if not scale.first <= when.date() <= scale.last:
        return
    figure.add_hline(
        y=scale.at(when),
        line={"width": 2, "color": PEN, "dash": dash},
        annotation={"text": words, "font": {"size": 11}},
        annotation_position="top right",
    )


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
