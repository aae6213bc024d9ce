"""Signs on top of work: the thread of what sets the finish, gates at hold points, eyes of inspectors."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import plotly.graph_objects as go

from app.figures.frame import PAPER, PEN, THREAD, Axis, Segment, strokes
from app.figures.patches import Patch


def thread(figure: go.Figure, segments: Iterable[Segment]) -> None:
    """Underline, or edge, in teal what has no slack, or is on the chain that sets the finish."""
    strokes(figure, segments, width=4, colour=THREAD)


def gates(figure: go.Figure, bars: Iterable[Segment], *, along: Axis) -> None:
    """Draw a closed gate, a bar with a cap at each end, where work waits at a hold point. Time runs `along`."""
    bars = list(bars)
    strokes(figure, bars, width=1.5, colour=PEN)
    cap = {"symbol": "line-ew" if along == "x" else "line-ns", "size": 3.5, "line": {"width": 1.5, "color": PEN}}
    ends = [end for x0, y0, x1, y1 in bars for end in ((x0, y0), (x1, y1))]
    _points(figure, ends, cap)


def eyes(figure: go.Figure, points: Iterable[tuple[float, float]]) -> None:
    """Draw an eye, a ring with its pupil, where an inspector looks."""
    ring = {"symbol": "circle-dot", "size": 7, "color": PAPER, "line": {"width": 1.5, "color": PEN}}
    _points(figure, list(points), ring)


def picked_out(figure: go.Figure, patches: Iterable[Patch]) -> None:
    """Draw a frame around the patches of the work that was picked, and point at the first of them."""
    patches = list(patches)
    sides = [
        side
        for p in patches
        for side in (
            (p.left, p.top, p.right, p.top),
            (p.right, p.top, p.right, p.bottom),
            (p.right, p.bottom, p.left, p.bottom),
            (p.left, p.bottom, p.left, p.top),
        )
    ]
    strokes(figure, sides, width=3.5, colour=PEN)
    pointed = [((p.left + p.right) / 2, p.top) for p in patches[:1]]
    arrow = {"symbol": "triangle-down", "size": 13, "color": PEN, "line": {"width": 1.5, "color": PAPER}}
    _points(figure, pointed, arrow)


def _points(figure: go.Figure, points: list[tuple[float, float]], marker: Mapping[str, object]) -> None:
    xs, ys = [x for x, _ in points], [y for _, y in points]
    figure.add_trace(go.Scatter(x=xs, y=ys, mode="markers", marker=marker, hoverinfo="skip", cliponaxis=False))
