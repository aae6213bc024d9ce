"""Whether the plan still holds, at the head of a page, and why not."""

from __future__ import annotations

import streamlit as st

from app.words import day_and_time, escape, in_words, listed, moment, proof
from scheduler import Situation
from scheduler.plan import Plan
from scheduler.situation import PROPOSAL, as_proposed, expected, expected_briefly, why_not

REASONS = 3
"""Told at the head of a page; the rest are counted."""


def show_verdict(plan: Plan, situation: Situation | None, *, large: bool, ways_out: str) -> None:
    """Show when all will be finished and how sure that is while the plan holds; else why it no longer does.

    `ways_out` says where to see what can be done then.
    """
    assert plan.finish is not None
    when = day_and_time(plan.finish)
    if situation is None:
        st.markdown(
            in_words(
                "By the site file alone all would finish {when}. **What happened on site is not known.**", when=when
            )
        )
        return
    if situation.proposed:
        if large and situation.holds_still:
            st.markdown(f"**{in_words('Would finish {when}.', when=when)}** {in_words(PROPOSAL)}")
        else:
            site = "" if large else f"{escape(plan.site.name)}: "
            st.markdown(f"{site}**{escape(as_proposed(situation))}**")
        if situation.holds_still:
            st.write(proof(plan))
        elif large:
            _why(situation, ways_out)
        else:
            st.warning(_reasons(situation, ways_out))
        return
    if situation.holds_still:
        if large:
            finish = in_words("Will finish {when}.", when=when)
            st.markdown(f":material/check_circle: {in_words('The plan holds.')} **{finish}**")
        else:
            st.markdown(f"{escape(plan.site.name)}: will finish **{moment(plan.finish)}**.")
        st.write(proof(plan))
        return
    failed = f"**{in_words('The plan no longer holds.')}**"
    with (
        st.container(key="broken-plan"),
        st.expander(f"{failed} {escape(expected_briefly(situation))}", icon=":material/warning:"),
    ):
        st.markdown(f"{escape(expected(situation))}\n\n{_reasons(situation, ways_out)}")


def _why(situation: Situation, ways_out: str) -> None:
    with st.expander(in_words("Why, and what can be done"), icon=":material/warning:"):
        st.markdown(_reasons(situation, ways_out))


def _reasons(situation: Situation, ways_out: str) -> str:
    return f"{listed([escape(w) for w in why_not(situation, REASONS)])}\n\n{ways_out}"
