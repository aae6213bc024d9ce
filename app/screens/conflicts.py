"""Why no plan exists: rules that cannot all hold, and ways out."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from app.answer import Answer
from app.components.head import DELAYS, head, show_broken
from app.jobs import Job
from app.live import live_of
from app.stands import situation_of
from app.words import escape, listed, moment
from scheduler.explain import compared, nearest_to_conflict, slack_said
from scheduler.plan import Conflict, Repair

MOST_BESIDE = 3


def show(job: Job, answer: Answer) -> None:
    """Show every conflict, or that there is none."""
    plan = answer.plan
    if head(job, answer, "Conflicts"):
        _none(job, answer)
    for index, conflict in enumerate(plan.conflicts, 1):
        _conflict(index, conflict)


def _none(job: Job, answer: Answer) -> None:
    """Say what the plan was compared with and keeps, and what is nearest to a conflict."""
    found = compared(answer.case.network)
    kept = f"the plan keeps all {sum(found.values()):,} rules of the site; each was checked"
    situation = situation_of(live_of(job.case), answer)
    if show_broken(answer):
        return
    if situation is None:
        st.warning(f"By its own dates {kept}. What happened on site is not known: nobody can say that it still does.")
    elif situation.holds_still:
        st.success(f"No conflict: {kept}.")
    else:
        st.info(f"By its own dates {kept}. What has happened since is another matter: see the page {DELAYS}.")
    st.markdown(f"**Compared with**\n\n{listed(f'**{number:,}** {words}' for words, number in found.items())}")
    near = nearest_to_conflict(answer.plan, answer.plan.data_date if situation is None else situation.moment)
    if near:
        st.header("Nearest to a conflict", anchor=False)
        st.caption("The least slack before a visit or a set date is missed. What moves the finish: page Critical path.")
        st.markdown(listed(f"{escape(a.name)}, {moment(a.start)}: {escape(slack_said(a))}" for a in near))


def _conflict(index: int, conflict: Conflict) -> None:
    with st.container(border=True):
        st.subheader(f"{index}. These cannot hold together", anchor=False)
        st.markdown(listed(escape(m.because) for m in conflict.members))
        if conflict.minimal:
            st.caption("Each is needed: without any one of them a plan exists.")
        elif len(conflict.members) > 1:
            st.caption("Perhaps not all of them are needed for that.")
        if conflict.repairs:
            _ways_out(conflict.repairs)
        else:
            st.write("No single change was found that makes a plan possible.")


def _ways_out(repairs: Sequence[Repair]) -> None:
    """Show repairs side by side, the cheapest first; on a narrow screen one under another."""
    st.markdown("**Ways out**")
    st.caption("Each was tried: with that change alone, a plan exists that keeps every other rule.")
    columns = st.columns(min(len(repairs), MOST_BESIDE), gap="small", border=True)
    for number, repair in enumerate(repairs):
        with columns[number % len(columns)]:
            st.markdown(f"**{escape(repair.text)}**")
            cost = "nothing" if not repair.cost else f"{repair.cost:,.0f} dollars"
            st.markdown(f"Costs {cost}." if repair.cost is not None else "What it costs is not known.")
            if repair.finish is not None:
                st.markdown(f"Would finish {moment(repair.finish)}.")
