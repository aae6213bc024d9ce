"""Showing a figure, and the story of the activity picked in it or in the list beside it."""

from __future__ import annotations

import plotly.graph_objects as go
import streamlit as st

from app.components.words import moment
from app.figures.bands import hours
from app.figures.key import key_figure
from app.figures.palette import CODE_NAME
from app.figures.work import Picture
from scheduler.explain.story import story
from scheduler.plan import Plan
from scheduler.planning import Planned

TOOLS = {"displaylogo": False, "scrollZoom": True, "modeBarButtonsToRemove": ["lasso2d", "select2d", "toImage"]}


def show_figure(figure: go.Figure, *, key: str, alt: str) -> str | None:
    """Show a figure; return the id of the activity picked in it, if any."""
    event = st.plotly_chart(
        figure, key=key, on_select="rerun", selection_mode="points", width="stretch", config=TOOLS, alt=alt
    )
    points = event["selection"]["points"] if event else []
    picked = points[0].get("customdata") if points else None
    return picked[0] if isinstance(picked, list) and picked else picked


def show_key(picture: Picture) -> None:
    """Offer the key to the marks of the figures."""
    with st.expander("What the marks mean"):
        st.caption(f"Lines take the colours of the {CODE_NAME}, with letters beside the colour.")
        alt = "Every sort of work with its colour, hatch and letters"
        st.plotly_chart(key_figure(picture), key="key", width="stretch", config={"staticPlot": True}, alt=alt)


def activity_picker(plan: Plan, *, key: str, picked: str | None) -> str | None:
    """Let the reader pick an activity by name; one picked in a figure comes first."""
    names = {a.id: f"{a.name} ({moment(a.start)})" for a in plan.activities}
    if picked in names and st.session_state.get(f"{key}-last") != picked:
        st.session_state[f"{key}-last"] = picked
        st.session_state[key] = picked
    return st.selectbox(
        "Why is this when it is? Pick work in the picture, or by name here",
        list(names),
        key=key,
        index=None,
        format_func=names.__getitem__,
        placeholder="Pick an activity",
        bind="query-params",
    )


def show_story(planned: Planned, activity_id: str) -> None:
    """Tell what one activity is, and what drives it, back to the start."""
    activity = next(a for a in planned.plan.activities if a.id == activity_id)
    with st.container(border=True):
        st.subheader(activity.name)
        room = (
            "It moves the finish if it slips."
            if activity.critical
            else f"It can slip {hours(activity.total_float_minutes)} before the finish moves."
        )
        st.write(f"{moment(activity.start)} to {moment(activity.finish)}. {room}")
        if activity.because:
            st.caption(f"{activity.because} Source: {activity.source or 'site file'}.")
        if planned.schedule is not None:
            for sentence in story(planned.case.network, planned.schedule, activity_id):
                st.markdown(f"- {escape(sentence)}")


def escape(text: str) -> str:
    """Return text that markdown shows as it stands."""
    return "".join(f"\\{c}" if c in "\\`*_{}[]<>#|$~" else c for c in text)
