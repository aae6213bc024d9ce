"""Why no plan exists: rules that cannot all hold, and ways out."""

from __future__ import annotations

import streamlit as st

from app.answer import Answer
from app.components.head import head
from app.jobs import Job
from app.words import escape, listed, moment
from scheduler.plan import Conflict, Repair


def show(job: Job, answer: Answer) -> None:
    """Show every conflict, or that there is none."""
    plan = answer.plan
    if head(job, plan, "Conflicts"):
        st.success("Every rule of the site can be kept: the plan shown keeps them all, and was checked against each.")
    for index, conflict in enumerate(plan.conflicts, 1):
        _conflict(index, conflict)


def _conflict(index: int, conflict: Conflict) -> None:
    with st.container(border=True):
        st.subheader(f"{index}. These cannot hold together", anchor=False)
        st.markdown(listed(escape(m.because) for m in conflict.members))
        if conflict.minimal:
            st.caption("Each is needed: without any one of them a plan exists.")
        if conflict.repairs:
            st.markdown("**Ways out**")
            st.markdown(listed(_repair(r) for r in conflict.repairs))


def _repair(repair: Repair) -> str:
    cost = "" if repair.cost is None else f" It costs {repair.cost:,.0f}."
    finish = "" if repair.finish is None else f" Finished by {moment(repair.finish)}."
    return f"{escape(repair.text)}{cost}{finish}"
