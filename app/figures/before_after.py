"""What a new plan moves: for each party whose work moves, the time before above the time now, joined where it moved."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime

import plotly.graph_objects as go

from app.figures.frame import FAINT, PEN, THREAD, framed, shade_closed, strokes
from app.figures.patches import Patch, add_patches, describe
from app.figures.scale import DayScale
from app.figures.work import Picture
from app.words import html_escape
from scheduler.plan import PlanActivity

HALF, LANE, BAND = 0.3, 0.85, 2.3
"""Half a patch's height; from the lane before to the lane now; from one party to the next."""
BAND_PX = 92
MOST_DAYS = 14
MOST_JOINS = 24


def before_after_figure(before: Picture, after: Picture, moved: Iterable[str], *, since: datetime) -> go.Figure:
    """Draw the work of every party that has a moved piece, from a moment on: hollow as it was, filled as it is now.

    A slanted line joins a moved piece to its new place (of many, those that move furthest); what stays is
    faint in both lanes. The dotted line is the finish before, the teal one the finish now.
    """
    moved = {a for a in moved if a in after.work}
    parties = list(
        dict.fromkeys(after.trade_name(a) for a in sorted(after.work.values(), key=_by_start) if a.id in moved)
    )
    first = since.date()
    last = max([first, *(p.plan.finish.date() for p in (before, after) if p.plan.finish)])
    opened = after.opened(first, last)
    scale = DayScale.over(first, last, opened)
    figure = go.Figure()
    levels = [BAND * (i + 1) - 0.75 for i in range(len(parties) - 1)]
    strokes(figure, [(0, y, scale.length, y) for y in levels], width=1, colour=FAINT)
    strokes(figure, [(x, -0.9, x, BAND * len(parties)) for x in scale.starts], width=0.5, colour=FAINT)
    was = _patches(before, parties, scale, since, 0.0)
    now = _patches(after, parties, scale, since, LANE)
    stays = [p for p in (*was, *now) if p.activity.id not in moved]
    gone = [p for p in was if p.activity.id in moved]
    come = [p for p in now if p.activity.id in moved]
    _hollow(figure, before, stays, FAINT)
    _hollow(figure, before, gone, PEN)
    add_patches(figure, after, come)
    _joins(figure, gone, come)
    _finishes(figure, scale, before, after, len(parties))
    shade_closed(figure, scale.closed(opened), along="x")
    _axes(figure, scale, parties)
    return framed(figure, height=80 + BAND_PX * max(len(parties), 1))


def _by_start(activity: PlanActivity) -> tuple[datetime, str]:
    return activity.start, activity.id


def _patches(picture: Picture, parties: Sequence[str], scale: DayScale, since: datetime, lane: float) -> list[Patch]:
    row_of = {party: BAND * i + lane for i, party in enumerate(parties)}
    return [
        Patch(a, scale.at(max(start, since)), scale.at(end), row - HALF, row + HALF)
        for a in sorted(picture.plan.activities, key=_by_start)
        if (row := row_of.get(picture.trade_name(a))) is not None
        for start, end in picture.worked(a)
        if end > since and _shown(scale, start.date())
    ]


def _shown(scale: DayScale, on: date) -> bool:
    return on <= scale.last


def _hollow(figure: go.Figure, picture: Picture, patches: Sequence[Patch], colour: str) -> None:
    figure.add_trace(
        go.Bar(
            orientation="h",
            y=[(p.top + p.bottom) / 2 for p in patches],
            width=[p.bottom - p.top for p in patches],
            base=[p.left for p in patches],
            x=[p.right - p.left for p in patches],
            marker={"color": "rgba(0,0,0,0)", "line": {"width": 1.3, "color": colour}},
            hovertext=[describe(picture, p.activity) for p in patches],
            hoverinfo="text",
        )
    )


def _joins(figure: go.Figure, gone: Sequence[Patch], come: Sequence[Patch]) -> None:
    """Join the first patch of each moved piece before to its first patch now; of many, those that move furthest."""
    starts = {p.activity.id: p for p in reversed(gone)}
    ends = {p.activity.id: p for p in reversed(come)}
    both = [(starts[a], ends[a]) for a in starts if a in ends]
    both = sorted(both, key=lambda pair: -abs(pair[0].left - pair[1].left))[:MOST_JOINS]
    strokes(figure, [(w.left, w.bottom, n.left, n.top) for w, n in both], width=1.2, colour=PEN)


def _finishes(figure: go.Figure, scale: DayScale, before: Picture, after: Picture, parties: int) -> None:
    low, high = -0.9, BAND * parties - 0.75
    for picture, colour, dash in ((before, PEN, "dot"), (after, THREAD, "solid")):
        if picture.plan.finish is not None:
            x = scale.at(picture.plan.finish)
            line = {"width": 2.5, "color": colour, "dash": dash}
            figure.add_trace(go.Scatter(x=[x, x], y=[low, high], mode="lines", line=line, hoverinfo="skip"))


def _axes(figure: go.Figure, scale: DayScale, parties: Sequence[str]) -> None:
    tops = [BAND * i for i in range(len(parties))]
    for top, party in zip(tops, parties, strict=True):
        figure.add_annotation(
            x=0.0, y=top - 0.52, text=f"<b>{html_escape(party)}</b>", showarrow=False, xanchor="left", font={"size": 12}
        )
    figure.update_yaxes(
        tickvals=[y for top in tops for y in (top, top + LANE)],
        ticktext=["before", "now"] * len(tops),
        range=[BAND * max(len(parties), 1) - 0.75, -0.9],
        showgrid=False,
    )
    positions, labels = scale.ticks(MOST_DAYS)
    figure.update_xaxes(range=[0, scale.length], tickvals=positions, ticktext=labels, side="top", showgrid=False)
