"""A plan on its way: the best finish so far, what is proved, the seconds, and a way to stop."""

from __future__ import annotations

import streamlit as st

from app.jobs import Job
from app.live import live_of
from app.served.served_roles import PLAN
from app.words import AIMS, amount, escape
from scheduler import Progress
from scheduler.units import tell_in, told_measure


@st.fragment(run_every=0.5)
def watch(job: Job) -> None:
    """Show how far a solve is, until there is a plan to show or a failure; then show the page."""
    if job.done or job.answer is not None:
        st.rerun()
    tell_in(job.case.site.site.units)
    st.title("Finding the best sequence")
    st.write(escape(job.case.site.site.name))
    if job.seconds is None:
        st.write("Another plan is being made on this machine; yours is next.")
    else:
        _progress(job.seconds, _latest(job.progress))
    if job.stopped:
        st.info("Stopping. The best plan so far will be checked and shown.")
    elif live_of(job.case).may(PLAN) and st.button("Stop and keep the best so far", key="stop"):
        job.stop.set()
        st.rerun(scope="fragment")


def _latest(progress: list[Progress]) -> dict[str, Progress]:
    return {p.stage: p for p in progress}


def _progress(seconds: float, latest: dict[str, Progress]) -> None:
    st.markdown(f"Working for **{seconds:.0f} s**.")
    lines = [] if latest else ["Reading the work and its rules, and making a first plan."]
    for stage, at in latest.items():
        name, unit = AIMS.get(stage, (stage.capitalize(), ""))
        if at.value is None and at.bound is None:
            lines.append(f"- **{escape(name)}**: {escape(at.note)}.")
            continue
        (value, said), (least, _) = told_measure(at.value, unit), told_measure(at.bound, unit)
        best = "no plan yet" if value is None else f"best so far {amount(value)} {said}"
        bound = "" if least is None else f", no plan can do better than {amount(least)}"
        lines.append(f"- **{escape(name)}**: {best}{bound}. {escape(at.note)}")
    st.markdown("\n".join(lines))
    st.caption("The finish comes first, then open trench, then money, then work as early as it can be.")


def show_failure(job: Job) -> None:
    """Say that planning failed, and what to do."""
    st.title("No plan could be made")
    st.error("Planning broke off because of a fault in this program, not in your site file.")
    st.write("Please report it with the site file and this line:")
    st.code(f"{type(job.failure).__name__}: {job.failure}", language=None)


@st.fragment(run_every=1.0)
def await_end(job: Job) -> None:
    """Hold the place of what comes when a job has ended, and draw the page again then."""
    if job.done:
        st.rerun()
    st.caption("Being worked out; it will appear here.")
