"""The common frame of figures: clear ground, quiet grid, closed time in grey."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Literal

import plotly.graph_objects as go

CLOSED = "rgba(120,115,105,0.18)"
FAINT = "rgba(120,115,105,0.35)"
THREAD = "#0f7f86"
"""The mark of what has no slack or sets the finish: a teal that no line kind and no earthwork uses."""
PEN = "#6b7077"
"""Marks on top of work: dark enough for paper, light enough for night."""
PAPER = "#fbf9f4"
HOLLOW = "rgba(0,0,0,0)"
"""The fill of what is only planned beside a record: what lies behind it is seen, in light and dark."""
Axis = Literal["x", "y"]
Segment = tuple[float, float, float, float]
"""From x, from y, to x, to y."""


def framed(figure: go.Figure, *, height: int) -> go.Figure:
    """Give a figure the house frame: clear ground, quiet grid, room for long labels.

    Nothing is dragged or zoomed by touch, so that a finger on a figure scrolls the page.
    """
    figure.update_layout(
        height=height,
        margin={"l": 4, "r": 4, "t": 40, "b": 8},
        paper_bgcolor="rgba(0,0,0,0)",
        plot_bgcolor="rgba(0,0,0,0)",
        font={"size": 12},
        barmode="overlay",
        showlegend=False,
        hoverlabel={"align": "left"},
        dragmode=False,
        uniformtext={"mode": "hide", "minsize": 9},
    )
    figure.update_xaxes(zeroline=False, automargin=True, fixedrange=True, tickangle=0)
    figure.update_yaxes(zeroline=False, automargin=True, fixedrange=True)
    return figure


def shade_closed(figure: go.Figure, spans: Iterable[tuple[float, float]], *, along: Axis) -> None:
    """Fill the figure across with grey between positions along one axis, behind everything else."""
    across = "y" if along == "x" else "x"
    common = {"type": "rect", "layer": "below", "line": {"width": 0}, "fillcolor": CLOSED}
    full = {f"{across}ref": "paper", f"{across}0": 0, f"{across}1": 1}
    figure.update_layout(shapes=[common | full | {f"{along}0": a, f"{along}1": b} for a, b in spans])


def strokes(figure: go.Figure, segments: Iterable[Segment], *, width: float, colour: str) -> None:
    """Draw straight strokes in one pen; they answer no touch."""
    xs: list[float | None] = []
    ys: list[float | None] = []
    for x0, y0, x1, y1 in segments:
        xs += [x0, x1, None]
        ys += [y0, y1, None]
    line = {"width": width, "color": colour}
    figure.add_trace(go.Scatter(x=xs, y=ys, mode="lines", line=line, hoverinfo="skip"))
