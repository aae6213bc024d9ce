"""A plan on its way: the best finish so far, what is proved, the seconds, and a way to stop."""

from __future__ import annotations

import time

import streamlit as st

from app.jobs import Job


@st.fragment(run_every=0.5)
def watch(job: Job) -> None:
    """Show how far a solve is, until it is done; then show the page."""
    if job.done:
        st.rerun()
    st.header("Finding the best sequence")
    if job.waiting:
        st.write("Another plan is being made on this machine; yours is next.")
        return
    seconds = time.monotonic() - job.begun
    last = job.progress[-1] if job.progress else None
    left, middle, right = st.columns(3)
    left.metric("Seconds", f"{seconds:.0f}")
    middle.metric("Best so far", _amount(last.value if last else None))
    right.metric("Proved no better than", _amount(last.bound if last else None))
    st.write(f"Now: {last.stage}. {last.note}" if last else "Now: reading the work and its rules.")
    st.caption("The finish comes first, then open trench, then money, then early starts.")
    if st.button("Stop and keep the best so far", key="stop", disabled=job.stop.is_set()):
        job.stop.set()
        st.rerun(scope="fragment")


def show_failure(job: Job) -> None:
    """Say that planning failed, and what to do."""
    st.error("Planning broke off because of a fault in this program, not in your site file.")
    st.write(f"What it said: {type(job.failure).__name__}: {job.failure}")


def _amount(value: float | None) -> str:
    return "-" if value is None else f"{value:,.1f}".removesuffix(".0")
