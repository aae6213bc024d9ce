"""The key to the marks: every sort of work in a plan, with its colour, hatch and letters."""

from __future__ import annotations

import plotly.graph_objects as go

from app.figures.bands import block_marker
from app.figures.frame import framed
from app.figures.work import Picture


def key_figure(picture: Picture) -> go.Figure:
    """Draw one block for each sort of work in the plan, with its name beside it."""
    looks = sorted({picture.look(a) for a in picture.plan.activities}, key=lambda k: k.name)
    figure = go.Figure()
    for row, look in enumerate(looks):
        figure.add_trace(
            go.Bar(
                orientation="h",
                y=[row],
                x=[1],
                width=0.7,
                marker=block_marker(look),
                text=[look.letters],
                textposition="inside",
                insidetextanchor="middle",
                textfont={"color": look.ink, "size": 10},
                hoverinfo="skip",
            )
        )
        figure.add_annotation(x=1.08, y=row, text=look.name, showarrow=False, xanchor="left", font={"size": 12})
    figure.update_xaxes(visible=False, range=[0, 4], fixedrange=True)
    figure.update_yaxes(visible=False, range=[len(looks) - 0.4, -0.6], fixedrange=True)
    return framed(figure, height=40 + 24 * len(looks))
