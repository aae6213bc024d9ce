"""How far the trench is: one strip an alignment, stations across, each layer of each stretch drawn as it stands."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import plotly.graph_objects as go

from app.figures.frame import PAPER, PEN, framed
from app.words import html_escape
from scheduler.situation import LayerState, StretchStands
from scheduler.units import format_station

_EARTH, _BARE, _LINE = "#a0714a", "rgba(255,255,255,0.0)", "#6b7077"
_FAILED = "#b3261e"
_ROW_PX = 78
_HALF = 0.32
"""Half the height of a strip, of the room for one alignment."""
_LAID = (LayerState.LAID, LayerState.TESTED, LayerState.SEEN)


def strip_figure(
    alignments: Mapping[str, tuple[str, float]],
    parts: Sequence[StretchStands],
    *,
    picked: str = "",
    planned: bool = False,
) -> go.Figure:
    """Draw the stretches of each alignment, given by id as (name, length in ft), layer over layer.

    Recorded: ground not dug is an outline in dots; open trench is hollow, with a floor; laid lines are strokes along
    it, ticked across once tested; an inspector's eye stands in what was seen; what is covered is filled with earth;
    a cross stands in what failed, a question mark where the plan is further. `planned` draws what the plan has
    instead, in thin open lines.
    """
    figure = go.Figure()
    longest = max((length for _, length in alignments.values()), default=1.0)
    rows = {key: -float(i) for i, key in enumerate(alignments)}
    layers: dict[str, list[StretchStands]] = {}
    for part in parts:
        layers.setdefault(part.opening, []).append(part)
    for stack in layers.values():
        if stack[0].alignment in rows:
            height = 2 * _HALF / len(stack)
            bottom = rows[stack[0].alignment] - _HALF
            for n, part in enumerate(stack):
                edges = bottom + n * height, bottom + (n + 1) * height
                _draw(figure, part, edges, picked=part.reach == picked, planned=planned)
    for key, (name, length) in alignments.items():
        figure.add_annotation(
            x=0, y=rows[key] + _HALF + 0.13, text=f"{html_escape(name)}, to {format_station(length)}",
            showarrow=False, xanchor="left", font={"size": 11},
        )  # fmt: skip
    figure.update_xaxes(range=[-0.01 * longest, 1.01 * longest], visible=False)
    figure.update_yaxes(range=[min(rows.values(), default=0.0) - 0.45, 0.65], visible=False)
    framed(figure, height=30 + _ROW_PX * len(rows))
    figure.update_layout(margin={"l": 4, "r": 4, "t": 4, "b": 4})
    return figure


def _draw(figure: go.Figure, part: StretchStands, edges: tuple[float, float], *, picked: bool, planned: bool) -> None:
    low, high = edges
    state = part.planned if planned else part.recorded
    dug, filled = state is not LayerState.NOT_DUG, state is LayerState.COVERED
    layer = f", layer {part.layer + 1}" if part.layer is not None else ""
    how = "planned" if planned else "recorded"
    said = f"{how}: {state}, {format_station(part.from_ft)} to {format_station(part.to_ft)}{layer}"
    xs = [part.from_ft, part.to_ft, part.to_ft, part.from_ft, part.from_ft]
    width = 0.8 if planned else 3 if picked else 1.2
    figure.add_scatter(
        x=xs, y=[low, low, high, high, low], mode="lines", fill="toself", hoveron="fills", name=said, hoverinfo="name",
        fillcolor=_EARTH if filled and not planned else _BARE,
        line={"color": PEN if dug and not planned else _LINE, "width": width, "dash": "solid" if dug else "dot"},
    )  # fmt: skip
    tall, thin = high - low, 0.8 if planned else 2.0
    if dug and not filled:
        _stroke(figure, part, low + 0.08 * tall, colour=_LINE if planned else _EARTH, width=0.8 if planned else 5)
    if filled and planned:
        for share in (0.25, 0.5, 0.75):
            _stroke(figure, part, low + share * tall, colour=_LINE, width=0.8)
    if state in _LAID:
        for share in (0.38, 0.55):
            _stroke(figure, part, low + share * tall, colour=_LINE if planned else PEN, width=thin)
    if state in (LayerState.TESTED, LayerState.SEEN):
        _ticks(figure, part, (low + 0.3 * tall, low + 0.63 * tall), planned=planned)
    middle = (part.from_ft + part.to_ft) / 2, low + 0.72 * tall
    if state is LayerState.SEEN:
        ring = {"symbol": "circle-dot", "size": 9, "color": PAPER, "line": {"width": thin, "color": PEN}}
        figure.add_scatter(x=[middle[0]], y=[middle[1]], mode="markers", marker=ring, hoverinfo="skip")
    if not planned and part.failed:
        _letter(figure, middle, "✕", _FAILED)
    elif not planned and part.behind:
        _letter(figure, middle, "?", PEN)


def _letter(figure: go.Figure, at: tuple[float, float], text: str, colour: str) -> None:
    figure.add_annotation(
        x=at[0], y=at[1], text=f"<b>{text}</b>", showarrow=False, font={"size": 13, "color": colour}, bgcolor=PAPER
    )


def _ticks(figure: go.Figure, part: StretchStands, edges: tuple[float, float], *, planned: bool) -> None:
    """Draw small ticks across laid lines: they are tested."""
    step = (part.to_ft - part.from_ft) / 6
    xs: list[float | None] = []
    ys: list[float | None] = []
    for n in range(1, 6):
        xs += [part.from_ft + n * step] * 2 + [None]
        ys += [*edges, None]
    line = {"color": _LINE if planned else PEN, "width": 0.8 if planned else 1.2}
    figure.add_scatter(x=xs, y=ys, mode="lines", hoverinfo="skip", line=line)


def _stroke(figure: go.Figure, part: StretchStands, y: float, *, colour: str, width: float) -> None:
    figure.add_scatter(
        x=[part.from_ft, part.to_ft], y=[y, y], mode="lines", hoverinfo="skip", line={"color": colour, "width": width}
    )
