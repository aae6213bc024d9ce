"""A delay: who cannot come, what can be done about it, side by side, whom to call, and the plan to work by from now."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

import streamlit as st

from app.answer import Answer
from app.components.alternatives import show_alternatives
from app.components.head import head
from app.components.pickers import pick_one, pick_time
from app.components.replan_watch import watch_replan
from app.components.show_faults import show_not_done
from app.components.told import show_told, tell
from app.components.who import show_who
from app.jobs import Job
from app.live import Live, live_of
from app.replans import ASKED, Key, Replan, replans
from app.served.served_roles import PLAN
from app.words import escape, listed
from scheduler import BadInput
from scheduler.ledger import Event, Wording, read_event, trade_names
from scheduler.situation import parties_of

NEXT = "next"
"""Asked for with the delay that is being written down."""
RUN_ON = timedelta(minutes=30)
"""A clock that has run on so far makes other alternatives worth looking for."""


def show(job: Job, answer: Answer) -> None:
    """Take word of a delay, and show what can be done after all that the record says."""
    dated = head(job, answer, "Delays")
    live = live_of(job.case)
    able = show_who(live)
    if live.fault is not None:
        return
    show_told(live)
    if not dated:
        st.info("There is no plan to change yet.")
        return
    _standing(live, able=able)
    if able and live.may("delayed"):
        _report(answer, live)
    if able and live.may("taken_over"):
        _leaves(answer, live)
    if live.may(PLAN):
        _replan(answer, live, able=able)


def _standing(live: Live, *, able: bool) -> None:
    """List every delay on record that still lies ahead, and every trade that left."""
    wording = Wording(live.case.site, live.case.network)
    ahead: list[Event] = [d for d in live.known.delays if d.not_before > live.moment]
    ahead += live.known.taken_over.values()
    if ahead:
        st.header("Who is late", anchor=False)
        st.markdown(listed(escape(wording.sentence(d)) for d in ahead))
    else:
        report = "Report one below" if able else "Choose who you are to report one"
        st.info(f"No delay is on record. {report}, or see what can be done after what happened so far.")


def _report(answer: Answer, live: Live) -> None:
    site, network = live.case.site, live.case.network
    names, work = trade_names(site, live.known), dict[str, list[str]]()
    for party in parties_of(site, network):
        work.setdefault(party.who, []).extend(party.activities)
    for trade in site.trades:
        work.setdefault(names[trade.id], []).extend(a.id for a in network.activities if a.trade == trade.id)
    work = {who: ids for who, ids in work.items() if live.concerns(who)}
    with st.expander("Report a delay", expanded=not live.known.delays, icon=":material/phone_missed:"):
        who = pick_one("Who cannot come?", {name: name for name in work}, "delay-who")
        if who is None:
            return
        open_work = [a for a in work[who] if live.known.actual(a).finish is None]
        with st.form("delay", border=False):
            about = st.multiselect(
                "Which of their work waits? Leave empty for all of it",
                open_work,
                format_func=lambda a: network.by_id[a].name,
                key=f"delay-about-{who}",
                placeholder="All of it",
            )
            not_before = pick_time(live, "They cannot come before", "delay-when", _morning(live))
            why = st.text_input("Why, in their words", key="delay-why", max_chars=500)
            tries = "Try it without writing it down" if live.may(PLAN) else ""
            written, tried = _buttons("Write it down and see what can be done" if tries else "Write it down", tries)
        body = {"who": who, "not_before": not_before, "about": tuple(about), "why": why}
        _sent(answer, live, "delayed", body, written=written, tried=tried)


def _leaves(answer: Answer, live: Live) -> None:
    """Take word that another firm does the work of a trade that leaves."""
    with (
        st.expander("Another firm takes over from a trade", icon=":material/swap_horiz:"),
        st.form("over", border=False),
    ):
        trade = pick_one("Which trade leaves?", trade_names(live.case.site, live.known), "over-trade")
        firm = st.text_input("Which firm does its open work?", key="over-firm", max_chars=200)
        since = pick_time(live, "From when on", "over-since", _morning(live))
        days = st.number_input("Working days of notice it asks for", 0, 365, 0, key="over-notice")
        cost = st.number_input("What it takes to come to site, in dollars", 0.0, 1e6, 0.0, 50.0, key="over-cost")
        why = st.text_input("Why they leave", key="over-why", max_chars=500)
        written, tried = _buttons("Write the take-over down", "Try the take-over without writing it down")
    body = {
        "trade": trade or "",
        "firm": firm,
        "since": since,
        "notice_days": days,
        "mobilisation_cost": cost,
        "why": why,
        "when": live.moment,
    }
    _sent(answer, live, "taken_over", body, written=written, tried=tried)


def _morning(live: Live) -> datetime:
    return (live.moment + timedelta(days=1)).replace(hour=8, minute=0)


def _buttons(write: str, attempt: str) -> tuple[bool, bool]:
    """Return whether it is to be written down, and whether it is only to be tried, where that is offered."""
    with st.container(horizontal=True):
        return st.form_submit_button(write, type="primary"), bool(attempt) and st.form_submit_button(attempt)


def _sent(answer: Answer, live: Live, name: str, body: Mapping[str, Any], *, written: bool, tried: bool) -> None:
    """Write word of a delay down, or see only what it would lead to."""
    if written:
        st.session_state[ASKED] = NEXT
        tell(live, name, body)
        st.session_state.pop(ASKED)
    elif tried:
        try:
            _ask((*_key(live)[:4], (read_event(name, body),)), answer, live)
        except BadInput as bad:
            show_not_done(bad, "Nothing was tried.")


def _key(live: Live) -> Key:
    """Return what a new re-plan goes by; a clock that runs is read by the minute that has everything in it."""
    as_of = live.moment
    if not live.case.site.site.invented:
        as_of = as_of.replace(second=0, microsecond=0) + timedelta(minutes=1)
    return live.case.path, live.case.sha256, live.entries[-1].hash if live.entries else "", as_of, ()


def _replan(answer: Answer, live: Live, *, able: bool) -> None:
    st.header("What can be done", anchor=False)
    key, asked = _key(live), st.session_state.get(ASKED)
    if asked == NEXT:
        job: Replan | None = _ask(key, answer, live)
    else:
        same: Key | None = None
        if isinstance(asked, tuple) and asked[:3] == key[:3] and key[3] - asked[3] < RUN_ON:
            same = asked
        job = replans().asked(same) if same else None
        if isinstance(asked, tuple) and not same:
            st.info("The record or the clock has moved on since the alternatives were worked out.")
    if job is None or job.stopped or job.failure is not None:
        _say_ended(job)
        if st.button("See what can be done", key="replan", type="primary"):
            _ask(key, answer, live)
            st.rerun()
    elif job.result is None:
        watch_replan(job)
    else:
        show_alternatives(live, job, able=able)


def _ask(key: Key, answer: Answer, live: Live) -> Replan:
    st.session_state[ASKED] = key
    return replans().ask(key, live.case, live.entries, answer)


def _say_ended(job: Replan | None) -> None:
    if job is None:
        st.caption("What is done stays as it happened; what is left is planned again in up to five ways.")
    elif job.failure is not None:
        st.error("Planning again broke off because of a fault in this program. Nothing was changed.")
        st.code(f"{type(job.failure).__name__}: {job.failure}", language=None)
    else:
        st.info("The search was stopped. Nothing was changed.")
