"""Work as patches: stretches of worked time, coloured, hatched and lettered by what is done in them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from textwrap import wrap

import plotly.graph_objects as go

from app.figures.frame import HOLLOW, PEN
from app.figures.marks import Look
from app.figures.work import Ink, Picture
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
    by_look: dict[tuple[Look, Ink], list[Patch]] = {}
    for patch in patches:
        by_look.setdefault((picture.look(patch.activity), picture.ink(patch.activity)), []).append(patch)
    for look, ink in sorted(by_look, key=lambda k: (k[0].name, k[1].value)):
        figure.add_trace(_trace(picture, look, ink, by_look[look, ink]))


def _trace(picture: Picture, look: Look, ink: Ink, patches: Sequence[Patch]) -> go.Bar:
    return go.Bar(
        orientation="h",
        name=look.name,
        y=[(p.top + p.bottom) / 2 for p in patches],
        width=[p.bottom - p.top for p in patches],
        base=[p.left for p in patches],
        x=[p.right - p.left for p in patches],
        marker=fill(look, ink),
        unselected={"marker": {"opacity": 1}},
        text=[f"{look.letters}?" if ink is Ink.MISSING else look.letters] * len(patches),
        textposition="inside",
        insidetextanchor="middle",
        textangle=0,
        insidetextfont={"color": PEN if ink in THIN else look.ink, "size": 10},
        customdata=[p.activity.id for p in patches],
        hovertext=[describe(picture, p.activity) for p in patches],
        hoverinfo="text",
    )


THIN = (Ink.PLANNED, Ink.MISSING)


def fill(look: Look, ink: Ink = Ink.PLAN) -> dict[str, object]:
    """Return the fill of a patch: its colour, hatched in its ink where it has a hatch.

    Beside a record, what is only planned is open with an edge in its colour; what is due and not on record has a
    thick dark edge as well.
    """
    if ink in THIN:
        edge = {"width": 2.2, "color": PEN} if ink is Ink.MISSING else {"width": 1.6, "color": look.colour}
        return {"color": HOLLOW, "line": edge}
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
    said = picture.standing_said(activity)
    stands = "<br>" + "<br>".join(map(html_escape, wrap(said, 60))) if said else ""
    return f"<b>{name}</b><br>{who}, {from_to(activity.start, activity.finish)}<br>{room}{waits}{stands}"
