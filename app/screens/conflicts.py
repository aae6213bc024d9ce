"""Why no plan exists: rules that cannot all hold, and ways out."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from app.components.chart import escape
from app.components.words import moment
from scheduler.plan import Conflict
from scheduler.planning import Planned


def show(planned: Planned) -> None:
    """Show every conflict, or that there is none."""
    st.title("Conflicts")
    plan = planned.plan
    if not plan.conflicts:
        if plan.activities:
            st.success(
                "Every rule of the site can be kept: the plan shown keeps them all, and was checked against each."
            )
        else:
            st.warning("No plan was found in the time given, and none was proved impossible.")
        return
    st.error("No plan can keep all the rules of this site.")
    for index, conflict in enumerate(plan.conflicts, 1):
        _conflict(index, conflict)


def _conflict(index: int, conflict: Conflict) -> None:
    with st.container(border=True):
        st.subheader(f"{index}. These cannot hold together")
        st.markdown("\n".join(f"- {escape(m.because)}" for m in conflict.members))
        if conflict.minimal:
            st.caption("Each is needed: without any one of them a plan exists.")
        if conflict.repairs:
            rows = [
                {
                    "way out": r.text,
                    "costs": "-" if r.cost is None else f"{r.cost:,.0f}",
                    "finished by": moment(r.finish) if r.finish else "-",
                }
                for r in conflict.repairs
            ]
            st.table(pd.DataFrame(rows).set_index("way out"))
