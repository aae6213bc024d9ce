"""Inspection visits and hold points: who comes when, what each releases, what waits for it."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from itertools import groupby

import streamlit as st

from app.address import choose
from app.answer import Answer
from app.components.cautions import show_cautions
from app.components.head import head
from app.jobs import Job
from app.words import count, day, escape, from_to, listed, moment
from scheduler.plan import Plan, PlanHold

ALL = "all"


def show(job: Job, answer: Answer) -> None:
    """Show every visit and every hold point."""
    if not head(job, answer.plan, "Visits and holds"):
        return
    visits, holds = st.tabs([f"Visits ({len(answer.plan.visits)})", f"Hold points ({len(answer.plan.holds)})"])
    with visits:
        _visits(answer.plan)
    with holds:
        _holds(answer)
    show_cautions()


def _visits(plan: Plan) -> None:
    st.write("Hold points seen in one of an authority's windows share a visit.")
    names = {h.id: h.name for h in plan.holds}
    for visit in plan.visits:
        what = f"**{moment(visit.start)}** · {escape(visit.name or visit.inspection)}"
        with st.expander(f"{what} · {count(len(visit.covers), 'hold point')}"):
            st.write(f"{escape(visit.authority)}, {from_to(visit.start, visit.finish)}.")
            st.markdown(listed(escape(names[h]) for h in visit.covers))


def _holds(answer: Answer) -> None:
    names = {ALL: "All reaches", **answer.picture.reach_names}
    reach = choose("Reach", names, key="holds-at", what="reach") or ALL
    holds = [h for h in answer.plan.holds if reach in (ALL, *h.reaches)]
    if not holds:
        st.info("No hold point stands in this reach.")
        return
    st.caption(f"{count(len(holds), 'hold point')}. A plan releases nothing: only the named person does, on site.")
    holds.sort(key=lambda h: (_released(answer.plan, h), h.id))
    for on, group in groupby(holds, key=lambda h: _released(answer.plan, h)):
        st.markdown(f"**{day(on)}**")
        st.markdown(listed(_hold(answer, h) for h in group))


def _released(plan: Plan, hold: PlanHold) -> date:
    return (hold.planned_release or plan.data_date).date()


def _hold(answer: Answer, hold: PlanHold) -> str:
    who = escape(answer.people.get(hold.released_by, hold.released_by or "the authority"))
    at = f"**{hold.planned_release:%H:%M}** " if hold.planned_release else ""
    kind = "" if hold.kind == "hold" else f" ({escape(hold.kind)} point)"
    return f"{at}{escape(hold.name)}{kind}: released by {who}. {_then(answer, hold.gates)}"


def _then(answer: Answer, gates: Iterable[str]) -> str:
    work = [answer.picture.work[g] for g in gates if g in answer.picture.work]
    first = min(work, key=lambda a: (a.start, a.id), default=None)
    return f"Then may follow: {escape(first.name)}, {moment(first.start)}." if first else "Nothing waits for it."
