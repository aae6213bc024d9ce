"""The head of every page: its title, the site, the finish and how sure it is."""

from __future__ import annotations

import streamlit as st

from app.jobs import Job
from app.session import current_job
from app.words import day, escape, moment, proof
from scheduler.plan import Plan


def head(job: Job, plan: Plan, title: str = "") -> bool:
    """Show the head of a page, named after the site if no title is given; return whether there are dates to show."""
    site = escape(plan.site.name)
    st.title(title or site)
    if plan.finish is None:
        _no_dates(plan, site)
    elif title:
        sure = "proved best" if plan.status == "optimal" else "not proved best"
        st.markdown(f"{site}: finished by **{moment(plan.finish)}**, {sure}.")
    else:
        st.subheader(f"Finished by {day(plan.finish)}, {plan.finish:%H:%M}", anchor=False)
        st.write(proof(plan))
    _stopped(job)
    return plan.finish is not None


def _no_dates(plan: Plan, site: str) -> None:
    if plan.conflicts or plan.status == "infeasible":
        st.error(f"{site}: no plan exists, because some rules cannot all be kept. The page Conflicts names them.")
    elif plan.status == "stopped":
        st.warning(f"{site}: stopped before a plan was found. None was proved impossible.")
    else:
        st.warning(f"{site}: no plan was found in the time given. None was proved impossible.")


def _stopped(job: Job) -> None:
    if job.stopped:
        st.info("The search was stopped. This is the best it had; later aims may not have been looked at.")
        if st.button("Search again, to the end", key="again"):
            current_job(job.case, again=True)
            st.rerun()
