"""The schedule as bands: one band for each trade or each reach, days running to the right."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

import plotly.graph_objects as go

from app.figures.frame import CLOSED, FAINT, THREAD, framed, stripe
from app.figures.marks import Look
from app.figures.scale import DayScale
from app.figures.work import Picture, lanes
from scheduler.plan import PlanActivity

ROW_PX = 30
WIDTH_PX = 1000
LETTER_PX = 7.5
BLOCK, UNDERLINE = 0.56, 0.40


@dataclass(frozen=True, slots=True)
class Row:
    """One lane of one band."""

    band: str
    activities: tuple[PlanActivity, ...]


@dataclass(frozen=True, slots=True)
class _Piece:
    """One stretch of worked time of an activity, placed."""

    row: int
    activity: PlanActivity
    left: float
    right: float


def band_rows(name_of: Callable[[PlanActivity], str], activities: Sequence[PlanActivity]) -> list[Row]:
    """Return the lanes of every band, bands in the order of their first work."""
    groups: dict[str, list[PlanActivity]] = {}
    for activity in sorted(activities, key=lambda a: (a.start, a.id)):
        groups.setdefault(name_of(activity), []).append(activity)
    return [Row(name, tuple(lane)) for name, members in groups.items() for lane in lanes(members)]


def bands_figure(picture: Picture, rows: Sequence[Row], *, first: date, last: date) -> go.Figure:
    """Draw bands from one day to another; each block is worked time, critical work is underlined."""
    opened = picture.opened(first, last)
    scale = DayScale.over(first, last, opened)
    figure = go.Figure()
    pieces: dict[Look, list[_Piece]] = {}
    for index, row in enumerate(rows):
        for activity in row.activities:
            for a, b in picture.worked(activity):
                if first <= a.date() <= last:
                    pieces.setdefault(picture.look(activity), []).append(
                        _Piece(index, activity, scale.at(a), scale.at(b))
                    )
    _joins(figure, scale, rows)
    for look in sorted(pieces, key=lambda k: k.name):
        figure.add_trace(_blocks(look, pieces[look], scale.length))
    _underline(figure, [p for group in pieces.values() for p in group if p.activity.critical])
    stripe(figure, scale.closed(opened), along="x", colour=CLOSED)
    _axes(figure, scale, rows)
    return framed(figure, height=70 + ROW_PX * max(len(rows), 3))


def _axes(figure: go.Figure, scale: DayScale, rows: Sequence[Row]) -> None:
    first = {row.band: i for i, row in reversed(list(enumerate(rows)))}
    bands = sorted(first, key=lambda b: first[b])
    figure.update_yaxes(
        tickvals=[first[b] for b in bands],
        ticktext=[_folded(b) for b in bands],
        range=[len(rows) - 0.4, -0.6],
        fixedrange=True,
        showgrid=False,
    )
    for band in bands[1:]:
        figure.add_hline(y=first[band] - 0.5, line_width=1, line_color=FAINT)
    positions, labels = scale.ticks()
    figure.update_xaxes(
        range=[0, scale.length], tickvals=positions, ticktext=labels, side="top", showgrid=False, tickangle=0
    )
    for edge in scale.day_edges():
        figure.add_vline(x=edge, line_width=0.5, line_color=FAINT, layer="below")


def _blocks(look: Look, pieces: Sequence[_Piece], length: float) -> go.Bar:
    def letters(piece: _Piece) -> str:
        width_px = (piece.right - piece.left) / length * WIDTH_PX
        return look.letters if width_px > LETTER_PX * len(look.letters) + 4 else ""

    return go.Bar(
        orientation="h",
        name=look.name,
        y=[p.row for p in pieces],
        base=[p.left for p in pieces],
        x=[p.right - p.left for p in pieces],
        width=BLOCK,
        marker=block_marker(look),
        text=[letters(p) for p in pieces],
        textposition="inside",
        insidetextanchor="middle",
        textangle=0,
        textfont={"color": look.ink, "size": 10},
        constraintext="none",
        customdata=[p.activity.id for p in pieces],
        hovertext=[describe(p.activity) for p in pieces],
        hoverinfo="text",
    )


def block_marker(look: Look) -> dict[str, object]:
    """Return the fill of a block: its colour, hatched in its ink where it has a hatch."""
    hatch = {"shape": look.hatch, "bgcolor": look.colour, "fgcolor": look.ink, "size": 6, "solidity": 0.2}
    marker: dict[str, object] = {"color": look.colour, "line": {"width": 0.5, "color": "rgba(60,60,60,0.6)"}}
    return marker | ({"pattern": hatch} if look.hatch else {})


def _joins(figure: go.Figure, scale: DayScale, rows: Sequence[Row]) -> None:
    """Draw a thin line from start to finish, so that work over a night reads as one."""
    xs: list[float | None] = []
    ys: list[int | None] = []
    for index, row in enumerate(rows):
        for activity in row.activities:
            xs += [scale.at(activity.start), scale.at(activity.finish), None]
            ys += [index, index, None]
    line = {"width": 1.2, "color": "rgba(120,115,105,0.9)"}
    figure.add_trace(go.Scatter(x=xs, y=ys, mode="lines", line=line, hoverinfo="skip"))


def _underline(figure: go.Figure, critical: Sequence[_Piece]) -> None:
    xs: list[float | None] = []
    ys: list[float | None] = []
    for piece in critical:
        xs += [piece.left, piece.right, None]
        ys += [piece.row + UNDERLINE, piece.row + UNDERLINE, None]
    line = {"width": 4, "color": THREAD}
    figure.add_trace(go.Scatter(x=xs, y=ys, mode="lines", line=line, hoverinfo="skip"))


def describe(activity: PlanActivity) -> str:
    """Return what a block says when pointed at."""
    times = f"{activity.start:%a %-d %b %H:%M} to {activity.finish:%a %-d %b %H:%M}"
    room = "moves the finish if it slips" if activity.critical else f"can slip {hours(activity.total_float_minutes)}"
    return f"<b>{activity.name}</b><br>{times}<br>{room}"


def hours(minutes: int | None) -> str:
    """Write working minutes as hours."""
    return "an unknown time" if minutes is None else f"{minutes / 60:,.1f}".removesuffix(".0") + " working hours"


def _folded(name: str, most: int = 15) -> str:
    """Fold a long band name over two lines at a space, and cut what still does not fit."""
    words, lines = name.split(" "), [""]
    for word in words:
        if len(lines[-1]) + len(word) + 1 > most and lines[-1]:
            lines.append(word)
        else:
            lines[-1] = f"{lines[-1]} {word}".strip()
    kept = lines[:2]
    if len(lines) > 2:
        kept[1] = (kept[1] + " " + " ".join(lines[2:]))[: most - 1] + "…"
    return "<br>".join(kept)
