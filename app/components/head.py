"""The head of every page: its title, the site, the finish and how sure it is."""

from __future__ import annotations

import streamlit as st

from app.answer import Answer
from app.components.plan_stands import show_verdict
from app.components.record_watch import show_unreadable
from app.components.show_faults import show_not_done
from app.in_force import put_first_in_force
from app.jobs import Job
from app.live import Live, live_of
from app.served.served_roles import PLAN
from app.session import current_job
from app.short_names import place_in_short
from app.stands import situation_of
from app.words import AIMS, count, escape, listed, moment
from scheduler import BadInput
from scheduler.ledger import clock_ahead_words
from scheduler.plan import Plan

DELAYS = "Delays"
MOST_COVERED = 3
"""Told one by one at the head of a page; the rest are counted."""


def head(job: Job, answer: Answer, title: str = "", *, every_cover: bool = False) -> bool:
    """Show the head of a page, named after the site if no title is given; return whether there are dates to show.

    `every_cover` tells each place that lies covered too early, however many there are.
    """
    dated = first_head(job, answer, title, every_cover=every_cover)
    rest_of_head(job, answer)
    return dated


def show_broken(answer: Answer) -> bool:
    """Warn of a plan that breaks rules by the audit; return whether it does."""
    broken = answer.planned.broken
    if broken:
        st.error(f"The audit found {count(len(broken), 'broken rule')} in this plan. Do not use it.")
    return bool(broken)


def first_head(job: Job, answer: Answer, title: str = "", *, every_cover: bool = False) -> bool:
    """Show of the head of a page what nobody may miss: the verdict, and what was covered too early."""
    plan, live = answer.plan, live_of(job.case)
    site = escape(plan.site.name)
    st.title(title or site)
    if plan.finish is None:
        _no_dates(plan, site)
    else:
        ways_out = "" if title == DELAYS else f"See what can be done on the page {DELAYS}."
        show_verdict(plan, situation_of(live, answer), large=not title, ways_out=ways_out)
    show_flags(live, every_cover=every_cover, folded=not every_cover)
    return plan.finish is not None


def rest_of_head(job: Job, answer: Answer) -> None:
    """Show which plan this is, the offer to put it in force, and whether it is still looked for."""
    live = live_of(job.case)
    show_accepted(live, answer.plan)
    still_open(job, answer)


def still_open(job: Job, answer: Answer) -> None:
    """Offer to put a plan in force, and say whether it is still looked for."""
    live = live_of(job.case)
    _offer(job, live, answer)
    if job.stopped:
        _stopped(job)
    elif not job.settled:
        _still_looking(job)


def show_flags(live: Live, *, every_cover: bool = False, folded: bool = False) -> None:
    """Say what nobody may miss, with or without a plan: no record, a wrong clock, what was covered too early.

    `folded` says of the last only where it is and what to do at once, with the rest a tap away.
    """
    show_unreadable(live)
    if live.known.clock_ahead:
        st.warning(clock_ahead_words(live.known.clock_ahead), icon=":material/schedule:")
    if live.covered and folded:
        where = list(dict.fromkeys(f.where for f in live.covered))
        place = place_in_short(live.case.site, where[0]) if len(where) == 1 else count(len(where), "place")
        said = f"**Covered before its release.** {escape(place)}. **Stop work there.**"
        with st.container(key="covered-early"), st.expander(said, icon=":material/front_hand:"):
            _covered_too_early(live, every=every_cover)
    elif live.covered:
        _covered_too_early(live, every=every_cover)


def _covered_too_early(live: Live, *, every: bool) -> None:
    """Say, on every page until it is resolved, what lies covered over a hold point that was not released."""
    told = [f"{escape(f.text)} {escape(f.remedy)}" for f in live.covered]
    more = len(told) - MOST_COVERED
    if more > 0 and not every:
        told[MOST_COVERED:] = [f"And {count(more, 'more place')}: see the page Visits and holds."]
    words = f" {told[0]}" if len(told) == 1 else f"\n\n{listed(told)}"
    st.error(f"**Covered before its release.**{words}", icon=":material/front_hand:")


def show_accepted(live: Live, plan: Plan, *, only_gone: bool = False) -> None:
    """Say which plan this is once one was accepted, and when it no longer fits the site file.

    `only_gone` says nothing of a plan that still fits.
    """
    accepted = live.known.plan
    if accepted is None:
        return
    since = moment(live.local(accepted.data_date))
    if plan.data_date == accepted.data_date:
        if only_gone:
            return
        st.caption(f":material/task_alt: The plan accepted as of {since}. {escape(accepted.why)}")
    else:
        st.warning(
            f"A plan was accepted as of {since}, but the site file has changed since. This is a new plan, "
            "which nobody has accepted. See what can be done on the page Delays."
        )


def _offer(job: Job, live: Live, answer: Answer) -> None:
    """Offer to put the plan shown in force while none is: whole, audited, and with nothing on record against it."""
    plan, situation = answer.plan, situation_of(live, answer)
    if live.known.plan is not None or plan.finish is None or situation is None or live.looking_back:
        return
    if not live.may("plan_accepted"):
        return
    if not (job.settled or job.stopped):
        st.caption("It may still change while it is looked for; it can be put in force once that is over.")
        return
    if answer.planned.broken or not situation.holds_still:
        return
    if live.person is None:
        st.caption("To put it in force, choose who you are on the page Record.")
        return
    if not st.button("Put this plan in force", key="put-in-force", type="primary", icon=":material/task_alt:"):
        return
    try:
        put_first_in_force(live, plan)
    except BadInput as bad:
        show_not_done(bad, "The plan was not put in force.")
        return
    st.rerun()


def _no_dates(plan: Plan, site: str) -> None:
    if plan.conflicts or plan.status == "infeasible":
        st.error(f"{site}: no plan exists, because some rules cannot all be kept. The page Conflicts names them.")
    elif plan.status == "stopped":
        st.warning(f"{site}: stopped before a plan was found. None was proved impossible.")
    else:
        st.warning(f"{site}: no plan was found in the time given. None was proved impossible.")


def _stopped(job: Job) -> None:
    st.info("The search was stopped. This is the best it had; later aims may not have been looked at.")
    if live_of(job.case).may(PLAN) and st.button("Search again, to the end", key="again", disabled=not job.done):
        current_job(job.case, again=True)
        st.rerun()


@st.fragment(run_every=1.0)
def _still_looking(job: Job) -> None:
    """Say that dates may still move without a later finish, until they are settled; offer to stop."""
    if job.settled or job.stopped:
        st.rerun()
    with st.container(border=True, horizontal=True, vertical_alignment="center"):
        at = job.progress[-1] if job.progress else None
        doing = AIMS.get(at.stage, (at.stage, ""))[0].lower() if at else "open trench"
        st.markdown(
            f":material/hourglass_top: This finish stands. Still looking for less open trench and fewer visits "
            f"({escape(doing)}, {job.seconds or 0:.0f} s); dates inside it may move."
        )
        if live_of(job.case).may(PLAN) and st.button("Stop looking", key="stop"):
            job.stop.set()
            st.rerun()
