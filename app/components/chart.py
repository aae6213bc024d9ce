"""Showing a figure, and the story of the activity picked in it or in the list beside it."""

from __future__ import annotations

import plotly.graph_objects as go
import streamlit as st

from app.address import choose
from app.answer import Answer
from app.components.keep_picture import offer_to_keep
from app.components.questions import show_questions
from app.components.show_words import show_words
from app.figures.key import SIGNS, key_figure
from app.figures.palette import CODE_NAME
from app.figures.work import Picture
from app.stands import pictured
from app.words import escape, from_to, listed, moment
from scheduler import Situation
from scheduler.explain import slack_said
from scheduler.ledger import in_todays_names
from scheduler.plan import PlanActivity

BARE = {"displayModeBar": False, "scrollZoom": False}


def show_picture(figure: go.Figure, *, key: str, alt: str, kept_as: str = "") -> None:
    """Show a figure that is only looked at; a finger on it scrolls the page.

    With a name for a file it can be kept as a picture.
    """
    figure.update_layout(dragmode=False)
    figure.update_xaxes(fixedrange=True)
    figure.update_yaxes(fixedrange=True)
    st.plotly_chart(figure, key=key, width="stretch", config=BARE, alt=alt)
    if kept_as:
        offer_to_keep(key, name=kept_as)


def show_work(figure: go.Figure, *, key: str, alt: str, kept_as: str = "") -> None:
    """Show a figure of work; the activity touched in it becomes the one picked on the page.

    With a name for a file it can be kept as a picture.
    """

    def take() -> None:
        points = st.session_state[key]["selection"]["points"]
        picked = next((p["customdata"] for p in points if p.get("customdata")), None)
        if picked:
            st.session_state["activity"] = picked[0] if isinstance(picked, list) else picked

    st.plotly_chart(figure, key=key, on_select=take, selection_mode="points", width="stretch", config=BARE, alt=alt)
    if kept_as:
        offer_to_keep(key, name=kept_as)


def show_key(picture: Picture) -> None:
    """Offer the key to the marks of the figures."""
    fold = st.expander("What the marks mean", key="marks-fold", on_change="rerun")
    if fold.open:
        with fold:
            st.caption(f"Lines take the colours of the {CODE_NAME}, with letters beside the colour.")
            alt = f"Every sort of work with its colour, hatch and letters; then the signs: {', '.join(SIGNS).lower()}"
            show_picture(key_figure(picture), key="key", alt=alt)
    show_words()


def pick_activity(answer: Answer) -> PlanActivity | None:
    """Let the reader pick an activity by name; one touched in a figure, or named by the address, stands here too."""
    names = {a.id: f"{a.name} ({moment(a.start)})" for a in answer.plan.activities}
    picked = choose(
        "Why is this when it is? Touch work in the picture, or pick it here",
        names,
        key="activity",
        what="task",
        placeholder="Pick a task",
    )
    return answer.picture.work[picked] if picked else None


def show_story(answer: Answer, activity: PlanActivity, situation: Situation | None) -> None:
    """Tell what one activity is, and what drives it, back to the start."""
    with st.container(border=True):
        st.subheader(escape(activity.name), anchor=False)
        who = escape(pictured(answer, situation).trade_name(activity))
        st.markdown(f"{who}, {from_to(activity.start, activity.finish)}. {slack_said(activity)}")
        if activity.because:
            st.caption(f"{escape(activity.because)} Source: {escape(activity.source or 'site file')}.")
        story = answer.story(activity.id)
        if situation is not None:
            story = [in_todays_names(situation.site, situation.state, sentence) for sentence in story]
        st.markdown(listed(escape(sentence) for sentence in story))
        with st.expander("What if it moved?"):
            show_questions(answer, activity)
