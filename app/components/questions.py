"""Two questions about one piece of work: what if it started then, and how late it may really finish."""

from __future__ import annotations

from datetime import datetime, timedelta

import streamlit as st

from app.answer import Answer
from app.errands import answer_on_click
from app.words import escape, moment
from scheduler.explain import Latest
from scheduler.plan import PlanActivity

STEP = timedelta(minutes=15)


def show_questions(answer: Answer, activity: PlanActivity) -> None:
    """Offer both questions about the activity picked."""
    earlier, later = st.columns(2, gap="medium")
    with earlier:
        _what_if(answer, activity)
    with later:
        _how_late(answer, activity)


def _what_if(answer: Answer, activity: PlanActivity) -> None:
    st.markdown("**What if it started then?**")
    first = answer.plan.data_date
    with st.container(horizontal=True, vertical_alignment="bottom", gap="small"):
        day = st.date_input(
            "Day",
            value=activity.start.date(),
            min_value=first.date(),
            format="YYYY-MM-DD",
            key=f"then {activity.id}",
            width=150,
        )
        hour = st.time_input("Time", value=activity.start.time(), step=STEP, key=f"hour {activity.id}", width=120)
    then = datetime.combine(day, hour)  # local to the site, as the network's clock takes it
    if answer.planned.schedule is None or then == activity.start.replace(tzinfo=None):
        st.caption("Pick another day or time; everything else stays where it is.")
        return
    broken = answer.explained.why_not(activity.id, then)
    if broken is None:
        st.write(f"{moment(then)}: nothing would be in its way.")
    else:
        st.write(f"{moment(then)}: {escape(broken.text)}")
        st.caption(f"Found: {escape(broken.found)}. Expected: {escape(broken.required)}.")


def _how_late(answer: Answer, activity: PlanActivity) -> None:
    st.markdown("**How late may it finish?**")
    st.caption("With everything else free to move, and the finish of the job kept.")
    explained = answer.explained
    if explained.schedule is None:
        return

    def say(found: Latest | None) -> None:
        if found is None:
            return
        when = explained.when
        sure = (
            "No plan that keeps the finish has it later."
            if found.proved
            else (f"Later was not shown to be impossible before {moment(when(found.bound))}.")
        )
        st.write(f"**{moment(when(found.finish))}**. {sure}")

    key = (answer.case.sha256, tuple(a.start for a in answer.plan.activities), activity.id)
    answer_on_click("Work it out", key, lambda: explained.latest_finish(activity.id), say)
