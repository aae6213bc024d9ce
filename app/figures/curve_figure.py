"""What a later finish buys in open trench, and down to where it is proved."""

from __future__ import annotations

import plotly.graph_objects as go

from app.figures.frame import FAINT, THREAD, framed
from scheduler.plan import Plan


def curve_figure(plan: Plan) -> go.Figure:
    """Draw days given up against open trench in foot-nights, down to the proved floor of each."""
    points = plan.curve
    figure = go.Figure()
    for p in points:
        if p.bound is not None and not p.proved:
            line = {"width": 8, "color": FAINT}
            ends = [p.bound, p.exposure_ft_nights]
            figure.add_trace(go.Scatter(x=[p.slack_days] * 2, y=ends, mode="lines", line=line, hoverinfo="skip"))
    figure.add_trace(
        go.Scatter(
            x=[p.slack_days for p in points],
            y=[p.exposure_ft_nights for p in points],
            mode="lines+markers+text",
            text=[f"{p.exposure_ft_nights:,.0f}" for p in points],
            textposition="top center",
            line={"color": THREAD, "width": 2},
            marker={"size": 9, "symbol": "square"},
            hoverinfo="skip",
            cliponaxis=False,
        )
    )
    figure.update_xaxes(
        tickvals=[p.slack_days for p in points], title="Working days given up", showgrid=False, range=[-0.15, 2.15]
    )
    figure.update_yaxes(rangemode="tozero", title="ft nights open", gridcolor=FAINT)
    return framed(figure, height=300)
