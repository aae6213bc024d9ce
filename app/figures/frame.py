"""The common frame of figures: clear ground, quiet grid, closed time in grey."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import Literal

import plotly.graph_objects as go

CLOSED = "rgba(120,115,105,0.18)"
FAINT = "rgba(120,115,105,0.35)"
THREAD = "#0f7f86"
"""The mark of what moves the finish: a teal that no line kind and no earthwork uses."""


def framed(figure: go.Figure, *, height: int) -> go.Figure:
    """Give a figure the house frame: clear ground, quiet grid, room for long labels."""
    figure.update_layout(
        height=height,
        margin={"l": 8, "r": 8, "t": 40, "b": 8},
        paper_bgcolor="rgba(0,0,0,0)",
        plot_bgcolor="rgba(0,0,0,0)",
        font={"size": 12},
        barmode="overlay",
        showlegend=False,
        hoverlabel={"align": "left"},
        dragmode="pan",
    )
    figure.update_xaxes(zeroline=False, automargin=True)
    figure.update_yaxes(zeroline=False, automargin=True)
    return figure


def stripe(figure: go.Figure, spans: Iterable[tuple[float, float]], *, along: Literal["x", "y"], colour: str) -> None:
    """Fill the whole figure across, between positions along one axis, behind everything else."""
    across = "y" if along == "x" else "x"
    shapes = [
        {
            "type": "rect",
            "layer": "below",
            "line": {"width": 0},
            "fillcolor": colour,
            f"{along}0": a,
            f"{along}1": b,
            f"{across}ref": "paper",
            f"{across}0": 0,
            f"{across}1": 1,
        }
        for a, b in spans
    ]
    figure.update_layout(shapes=[*figure.layout.shapes, *shapes])


def naive(when: datetime) -> datetime:
    """Return local wall-clock time, as figures show it whatever zone the reader sits in."""
    return when.replace(tzinfo=None)
