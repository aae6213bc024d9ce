"""Inspection visits and hold points: who comes when, what each releases, what waits for it."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from app.components.cautions import show_cautions
from app.components.words import moment
from scheduler.plan import Plan
from scheduler.planning import Planned


def show(planned: Planned) -> None:
    """Show every visit and every hold point."""
    st.title("Visits and holds")
    plan = planned.plan
    if not plan.activities:
        st.info("There is no plan to show. See Conflicts.")
        return
    people = {p.id: p.name for p in planned.case.site.people}
    _visits(plan)
    _holds(plan, people)
    show_cautions()


def _visits(plan: Plan) -> None:
    st.header("Visits")
    st.write("Hold points seen in one of an authority's windows share a visit.")
    names = {h.id: h.name for h in plan.holds}
    for visit in plan.visits:
        with st.expander(
            f"{moment(visit.start)} · {visit.name or visit.inspection} · {visit.authority} · {len(visit.covers)} to see"
        ):
            st.write(f"From {moment(visit.start)} to {moment(visit.finish)}.")
            st.markdown("\n".join(f"- {names[h]}" for h in visit.covers))


def _holds(plan: Plan, people: dict[str, str]) -> None:
    st.header("Hold points")
    work = {a.id: a for a in plan.activities}
    rows = []
    for hold in sorted(plan.holds, key=lambda h: (h.planned_release or plan.data_date, h.id)):
        gated = [work[g] for g in hold.gates if g in work]
        first = min(gated, key=lambda a: (a.start, a.id), default=None)
        rows.append(
            {
                "planned release": moment(hold.planned_release) if hold.planned_release else "-",
                "hold point": hold.name,
                "kind": hold.kind,
                "released by": people.get(hold.released_by, hold.released_by or "the authority"),
                "then may follow": first.name if first else "-",
                "which is planned": moment(first.start) if first else "-",
            }
        )
    st.dataframe(pd.DataFrame(rows), hide_index=True, width="stretch")
    st.caption("A plan releases nothing: only the named person does, on site.")
