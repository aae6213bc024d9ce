"""The plans to choose from: how late each finishes against what it costs, and how much margin its work has."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import plotly.graph_objects as go

from app.figures.frame import FAINT, PEN, THREAD, framed
from app.words import html_escape, short_day

MARK_PX = 17
NOTCH = 0.012
"""Half the height of the notch at the end of a margin, as a share of the figure's money."""
ROOM = 0.35
"""Room beside the outermost marks, as a share of the stretch between them."""


@dataclass(frozen=True, slots=True)
class ChoiceMark:
    """What is drawn of one plan."""

    name: str
    finish: datetime
    money: float
    margin: int
    """[%] of all own work."""
    shown: bool
    """It is the plan that the pages show."""


def choices_figure(marks: Sequence[ChoiceMark], *, begins: datetime) -> go.Figure:
    """Draw each plan as a box at its finish and its money, filled where it is the one shown.

    A line reaches back from the box over its margin: what it adds to the time from the data date to the finish.
    """
    figure = go.Figure()
    days = [(m.finish - begins).total_seconds() / 86400 for m in marks]
    money = [m.money for m in marks]
    spread = (max(money) - min(money)) or max(money) or 1.0
    for mark, at in zip(marks, days, strict=True):
        back, tick = at / (1 + mark.margin / 100), NOTCH * spread * (1 + 2 * ROOM)
        if mark.margin:
            xs, ys = [back, back, None, back, at], [mark.money - tick, mark.money + tick, None, mark.money, mark.money]
            line = {"width": 2.5, "color": PEN}
            figure.add_trace(go.Scatter(x=xs, y=ys, mode="lines", line=line, hoverinfo="skip"))
    figure.add_trace(
        go.Scatter(
            x=days,
            y=money,
            mode="markers+text",
            text=[f"<b>{html_escape(m.name)}</b>" for m in marks],
            textposition=["bottom center" if i % 2 else "top center" for i in range(len(marks))],
            marker={
                "size": MARK_PX,
                "symbol": "square",
                "color": [THREAD if m.shown else "rgba(0,0,0,0)" for m in marks],
                "line": {"width": 2.5, "color": THREAD},
            },
            hoverinfo="skip",
            cliponaxis=False,
        )
    )
    first = min([*days, *(at / (1 + m.margin / 100) for m, at in zip(marks, days, strict=True))])
    wide = (max(days) - first) or 1.0
    places = sorted(dict(zip(days, marks, strict=True)).items())
    figure.update_xaxes(
        tickvals=[at for at, _ in places],
        ticktext=[short_day(m.finish) for _, m in places],
        range=[first - ROOM * wide, max(days) + ROOM * wide],
        title="finished",
        showgrid=False,
    )
    figure.update_yaxes(
        range=[min(money) - ROOM * spread, max(money) + ROOM * spread],
        tickprefix="$",
        tickformat=",.0f",
        title="money",
        gridcolor=FAINT,
    )
    return framed(figure, height=340)
