"""A re-plan on its way: the seconds, what is looked at, and a way to stop."""

from __future__ import annotations

import streamlit as st

from app.replans import Replan
from app.words import AIMS


@st.fragment(run_every=0.5)
def watch_replan(job: Replan) -> None:
    """Show how far a re-plan is, until it has ended; then show the page."""
    if job.done:
        st.rerun()
    with st.container(border=True, horizontal=True, vertical_alignment="center"):
        if job.seconds is None:
            st.markdown(":material/hourglass_top: Another re-plan is being made on this machine; yours is next.")
        else:
            last = job.progress[-1] if job.progress else None
            doing = AIMS.get(last.stage, (last.stage, ""))[0].lower() if last else "what the record says"
            st.markdown(
                f":material/hourglass_top: Working out the alternatives for **{job.seconds:.0f} s** "
                f"({doing}). The plan in force stands until you accept another."
            )
        if job.stopped:
            st.markdown("Stopping.")
        elif st.button("Stop", key="stop-replan"):
            job.stop.set()
            st.rerun(scope="fragment")
