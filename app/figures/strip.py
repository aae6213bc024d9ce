"""How far the trench is on a day: one strip an alignment, stations across, each stretch drawn as it stands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import plotly.graph_objects as go

from app.figures.frame import PAPER, PEN, framed
from app.words import html_escape
from scheduler.explain import StretchState, TrenchStretch
from scheduler.units import format_station

_EARTH, _BARE, _LINE = "#a0714a", "rgba(255,255,255,0.0)", "#6b7077"
_ROW_PX = 58
_HALF = 0.3
"""Half the height of a strip, of the room for one alignment."""


def strip_figure(
    alignments: Mapping[str, tuple[str, float]], parts: Sequence[TrenchStretch], *, picked: str = ""
) -> go.Figure:
    """Draw the stretches of each alignment, given by id as (name, length in ft), in their state.

    Ground not dug is an outline in dots; open trench is hollow, with a floor; laid lines are strokes
    along it; an inspector's eye stands in what was seen; what is covered is filled with earth.
    """
    figure = go.Figure()
    longest = max((length for _, length in alignments.values()), default=1.0)
    rows = {key: -float(i) for i, key in enumerate(alignments)}
    for part in parts:
        if part.alignment in rows:
            _draw(figure, part, rows[part.alignment], picked=part.reach == picked)
    for key, (name, length) in alignments.items():
        figure.add_annotation(
            x=0, y=rows[key] + _HALF + 0.16, text=f"{html_escape(name)}, to {format_station(length)}",
            showarrow=False, xanchor="left", font={"size": 11},
        )  # fmt: skip
    figure.update_xaxes(range=[-0.01 * longest, 1.01 * longest], visible=False)
    figure.update_yaxes(range=[min(rows.values(), default=0.0) - 0.45, 0.65], visible=False)
    framed(figure, height=30 + _ROW_PX * len(rows))
    figure.update_layout(margin={"l": 4, "r": 4, "t": 4, "b": 4})
    return figure


def _draw(figure: go.Figure, part: TrenchStretch, y: float, *, picked: bool) -> None:
    low, high = y - _HALF, y + _HALF
    dug = part.state is not StretchState.NOT_DUG
    filled = part.state is StretchState.COVERED
    said = f"{part.state}, {format_station(part.from_ft)} to {format_station(part.to_ft)}"
    xs = [part.from_ft, part.to_ft, part.to_ft, part.from_ft, part.from_ft]
    figure.add_scatter(
        x=xs, y=[low, low, high, high, low], mode="lines", fill="toself", hoveron="fills", name=said, hoverinfo="name",
        fillcolor=_EARTH if filled else _BARE,
        line={"color": PEN if dug else _LINE, "width": 3 if picked else 1.2, "dash": "solid" if dug else "dot"},
    )  # fmt: skip
    if dug and not filled:
        _stroke(figure, part, low + 0.05, colour=_EARTH, width=5)
    if part.state in (StretchState.LAID, StretchState.INSPECTED):
        for level in (0.22, 0.34):
            _stroke(figure, part, low + level, colour=PEN, width=2)
    if part.state is StretchState.INSPECTED:
        ring = {"symbol": "circle-dot", "size": 9, "color": PAPER, "line": {"width": 1.5, "color": PEN}}
        middle = (part.from_ft + part.to_ft) / 2
        figure.add_scatter(x=[middle], y=[y + 0.1], mode="markers", marker=ring, hoverinfo="skip")


def _stroke(figure: go.Figure, part: TrenchStretch, y: float, *, colour: str, width: float) -> None:
    figure.add_scatter(
        x=[part.from_ft, part.to_ft], y=[y, y], mode="lines", hoverinfo="skip", line={"color": colour, "width": width}
    )
