"""The schedule as bands: one band for each trade, reach or alignment, days running to the right."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date

import plotly.graph_objects as go

from app.figures.frame import FAINT, PEN, framed, shade_closed, strokes
from app.figures.patches import Patch, add_patches
from app.figures.scale import DayScale
from app.figures.signs import eyes, gates, picked_out, thread
from app.figures.work import Picture, lanes
from app.words import html_escape
from scheduler.plan import PlanActivity

ROW_PX, LOW_ROW_PX, MANY_ROWS = 34, 26, 24
HALF, UNDERLINE, EYE = 0.28, 0.38, -0.40
GATE = (-0.42, 0.28)
MOST_DAYS = 14


@dataclass(frozen=True, slots=True)
class Row:
    """One lane of one band."""

    band: str
    activities: tuple[PlanActivity, ...]


def band_rows(name_of: Callable[[PlanActivity], str], activities: Iterable[PlanActivity]) -> list[Row]:
    """Return the lanes of every band, bands in the order of their first work."""
    groups: dict[str, list[PlanActivity]] = {}
    for activity in sorted(activities, key=lambda a: (a.start, a.id)):
        groups.setdefault(name_of(activity), []).append(activity)
    return [Row(name, tuple(lane)) for name, members in groups.items() for lane in lanes(members)]


def bands_figure(picture: Picture, rows: Sequence[Row], *, first: date, last: date, picked: str = "") -> go.Figure:
    """Draw bands from one day to another: a patch is worked time, a gate waits, an eye looks."""
    opened = picture.opened(first, last)
    scale = DayScale.over(first, last, opened)
    patches = [p for i, row in enumerate(rows) for a in row.activities for p in _placed(picture, scale, a, i)]
    figure = go.Figure()
    _grid(figure, scale, rows)
    _joins(figure, scale, rows)
    add_patches(figure, picture, patches)
    thread(figure, [_under(p) for p in patches if p.activity.critical])
    starts = {p.activity.id: p for p in reversed(patches)}
    gates(figure, [_before(p) for a, p in starts.items() if a in picture.gated], along="x")
    eyes(figure, [_over(p) for p in starts.values() if p.activity.kind.is_look])
    picked_out(figure, [p for p in patches if p.activity.id == picked])
    shade_closed(figure, scale.closed(opened), along="x")
    _axes(figure, scale, rows)
    row_px = ROW_PX if len(rows) <= MANY_ROWS else LOW_ROW_PX
    return framed(figure, height=80 + row_px * max(len(rows), 3))


def _placed(picture: Picture, scale: DayScale, activity: PlanActivity, row: int) -> list[Patch]:
    return [
        Patch(activity, scale.at(a), scale.at(b), row - HALF, row + HALF)
        for a, b in picture.worked(activity)
        if scale.first <= a.date() <= scale.last
    ]


def _under(patch: Patch) -> tuple[float, float, float, float]:
    level = patch.top + HALF + UNDERLINE
    return patch.left, level, patch.right, level


def _before(patch: Patch) -> tuple[float, float, float, float]:
    row = patch.top + HALF
    return patch.left, row + GATE[0], patch.left, row + GATE[1]


def _over(patch: Patch) -> tuple[float, float]:
    return (patch.left + patch.right) / 2, patch.top + HALF + EYE


def _bands(rows: Sequence[Row]) -> dict[str, int]:
    """Return the first row of each band, in order."""
    first: dict[str, int] = {}
    for i, row in enumerate(rows):
        first.setdefault(row.band, i)
    return first


def _axes(figure: go.Figure, scale: DayScale, rows: Sequence[Row]) -> None:
    bands = _bands(rows)
    figure.update_yaxes(
        tickvals=list(bands.values()),
        ticktext=[folded(b) for b in bands],
        range=[len(rows) - 0.4, -0.6],
        showgrid=False,
    )
    positions, labels = scale.ticks(MOST_DAYS)
    figure.update_xaxes(range=[0, scale.length], tickvals=positions, ticktext=labels, side="top", showgrid=False)


def _grid(figure: go.Figure, scale: DayScale, rows: Sequence[Row]) -> None:
    """Draw a fine line at each day's start and between bands."""
    low, high = -0.6, len(rows) - 0.4
    strokes(figure, [(x, low, x, high) for x in scale.starts], width=0.5, colour=FAINT)
    levels = [row - 0.5 for row in _bands(rows).values() if row]
    strokes(figure, [(0, y, scale.length, y) for y in levels], width=1, colour=FAINT)


def _joins(figure: go.Figure, scale: DayScale, rows: Sequence[Row]) -> None:
    """Draw a thin line from start to finish, so that work over a night reads as one."""
    spans = [(scale.at(a.start), i, scale.at(a.finish), i) for i, row in enumerate(rows) for a in row.activities]
    strokes(figure, spans, width=1.2, colour=PEN)


def folded(name: str, most: int = 15) -> str:
    """Fold a long band name over two lines; what does not fit is cut before its last words, which tell bands apart."""
    words = name.split()
    tail: list[str] = []
    while words and (not tail or len(" ".join([words[-1], *tail])) <= most):
        tail.insert(0, words.pop())
    lines = [" ".join(words), " ".join(tail)] if words else [" ".join(tail)]
    return "<br>".join(html_escape(t if len(t) <= most else t[: most - 1].rstrip() + "…") for t in lines)
