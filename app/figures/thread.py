"""A chain drawn as a thread through the places it visits, from its first step to its last."""

from __future__ import annotations

from collections.abc import Sequence

import plotly.graph_objects as go

from app.figures.bands import Row, bands_figure
from app.figures.frame import THREAD
from app.figures.scale import DayScale
from app.figures.work import Picture
from scheduler.plan import PlanActivity

ABOVE = 0.36


def thread_figure(picture: Picture, steps: Sequence[PlanActivity], *, picked: str = "") -> go.Figure:
    """Draw a chain: its steps in one row for each place, joined in order."""
    places = list(dict.fromkeys(picture.place_name(a) for a in steps))
    rows = [Row(place, tuple(a for a in steps if picture.place_name(a) == place)) for place in places]
    first, last = min(a.start for a in steps).date(), max(a.finish for a in steps).date()
    figure = bands_figure(picture, rows, first=first, last=last, picked=picked)
    scale = DayScale.over(first, last, picture.opened(first, last))
    row_of = {place: i for i, place in enumerate(places)}
    xs: list[float] = []
    ys: list[float] = []
    for step in steps:
        row = row_of[picture.place_name(step)] - ABOVE
        xs += [scale.at(step.start), scale.at(step.finish)]
        ys += [row, row]
    line = {"color": THREAD, "width": 2, "shape": "hv"}
    figure.add_trace(go.Scatter(x=xs, y=ys, mode="lines", line=line, hoverinfo="skip"))
    return figure
