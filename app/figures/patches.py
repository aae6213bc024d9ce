"""Work as patches: stretches of worked time, coloured, hatched and lettered by what is done in them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import plotly.graph_objects as go

from app.figures.frame import PEN
from app.figures.marks import Look
from app.figures.work import Picture
from app.words import from_to, html_escape
from scheduler.explain import slack_in_short
from scheduler.plan import PlanActivity


@dataclass(frozen=True, slots=True)
class Patch:
    """One stretch of worked time of an activity, by its edges along both axes."""

    activity: PlanActivity
    left: float
    right: float
    top: float
    bottom: float


def add_patches(figure: go.Figure, picture: Picture, patches: Iterable[Patch]) -> None:
    """Draw patches; those of one look are one trace, named by it."""
    by_look: dict[Look, list[Patch]] = {}
    for patch in patches:
        by_look.setdefault(picture.look(patch.activity), []).append(patch)
    for look in sorted(by_look, key=lambda k: k.name):
        figure.add_trace(_trace(picture, look, by_look[look]))


def _trace(picture: Picture, look: Look, patches: Sequence[Patch]) -> go.Bar:
    return go.Bar(
        orientation="h",
        name=look.name,
        y=[(p.top + p.bottom) / 2 for p in patches],
        width=[p.bottom - p.top for p in patches],
        base=[p.left for p in patches],
        x=[p.right - p.left for p in patches],
        marker=fill(look),
        unselected={"marker": {"opacity": 1}},
        text=[look.letters] * len(patches),
        textposition="inside",
        insidetextanchor="middle",
        textangle=0,
        insidetextfont={"color": look.ink, "size": 10},
        customdata=[p.activity.id for p in patches],
        hovertext=[describe(picture, p.activity) for p in patches],
        hoverinfo="text",
    )


def fill(look: Look) -> dict[str, object]:
    """Return the fill of a patch: its colour, hatched in its ink where it has a hatch."""
    marker: dict[str, object] = {"color": look.colour, "line": {"width": 0.7, "color": PEN}}
    if not look.hatch:
        return marker
    pattern = {"shape": look.hatch, "bgcolor": look.colour, "fgcolor": look.ink, "fgopacity": 0.55}
    return marker | {"pattern": pattern | {"size": 6, "solidity": 0.2}}


def describe(picture: Picture, activity: PlanActivity) -> str:
    """Return what a patch says when pointed at."""
    room = slack_in_short(activity)
    waits = "<br>waits at a hold point" if activity.id in picture.gated else ""
    who = html_escape(picture.trade_name(activity))
    name = html_escape(activity.name)
    return f"<b>{name}</b><br>{who}, {from_to(activity.start, activity.finish)}<br>{room}{waits}"
