"""The key to the marks: every sort of work in a plan with its colour, hatch and letters, and the signs."""

from __future__ import annotations

import plotly.graph_objects as go

from app.figures.frame import framed
from app.figures.patches import fill
from app.figures.signs import eyes, gates, thread
from app.figures.work import Picture

SIGNS = ("Sets the finish, or no slack", "Waits at a hold point", "Inspection")


def key_figure(picture: Picture) -> go.Figure:
    """Draw one block for each sort of work in the plan, then each sign, with its name beside it."""
    looks = sorted({picture.look(a) for a in picture.plan.activities}, key=lambda k: k.name)
    figure = go.Figure()
    for row, look in enumerate(looks):
        figure.add_trace(
            go.Bar(
                orientation="h",
                y=[row],
                x=[1],
                width=0.7,
                marker=fill(look),
                text=[look.letters],
                textposition="inside",
                insidetextanchor="middle",
                insidetextfont={"color": look.ink, "size": 10},
                hoverinfo="skip",
            )
        )
    first = len(looks)
    thread(figure, [(0, first, 1, first)])
    gates(figure, [(0.5, first + 0.7, 0.5, first + 1.3)], along="x")
    eyes(figure, [(0.5, first + 2)])
    names = [*(look.name for look in looks), *SIGNS]
    for row, name in enumerate(names):
        figure.add_annotation(x=1.08, y=row, text=name, showarrow=False, xanchor="left", font={"size": 12})
    figure.update_xaxes(visible=False, range=[0, 4])
    figure.update_yaxes(visible=False, range=[len(names) - 0.4, -0.6])
    return framed(figure, height=60 + 24 * len(names))
