"""The calls to make: to whom, by when, what they know and what is wanted, each ticked off with its answer."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta

import streamlit as st

from app.components.ask_in_writing import Letters, show_answer_by_mail
from app.components.pickers import pick_time
from app.components.told import show_told, tell
from app.components.who import show_who
from app.live import Live
from app.once import once
from app.words import count, escape, listed
from scheduler import Situation
from scheduler.situation import (
    CallDue,
    PhoneCall,
    about_what,
    agreed_ahead,
    calls_of,
    how_it_stands,
    phone_calls,
    said_in_call,
    ticked_off,
)

AHEAD = timedelta(days=7)
MOST_CALLS = 8
"""Telephone calls shown at once; the rest is folded away."""


def calls_seen(live: Live, situation: Situation) -> list[PhoneCall]:
    """Return the calls to make, what is overdue first; to a trade or authority that looks, those to itself."""
    own = tuple(c for c in _calls(situation) if live.concerns(c.of, c.person))
    return phone_calls(own, situation.moment.date())


@once(1)
def _calls(situation: Situation) -> tuple[CallDue, ...]:
    return tuple(calls_of(situation))


def calls_ahead(live: Live, situation: Situation, on: date) -> list[PhoneCall]:
    """Return the calls to make in the week from a day on; whoever answers their own calls sees all of those."""
    together = calls_seen(live, situation)
    return [c for c in together if on <= c.on and (c.on < on + AHEAD or not live.may("asked"))]


def show_calls(live: Live, situation: Situation, calls: Sequence[PhoneCall]) -> None:
    """Show who agreed to come, and the calls to make in the coming week, with a button for each answer."""
    agreed = agreed_ahead(situation, live.concerns)
    if agreed:
        st.markdown(f"**Agreed to come ({len(agreed)})**\n\n{listed(map(escape, agreed))}")
    if not calls:
        st.write("Nobody needs to be called in the next seven days.")
        return
    able = show_who(live) and live.may("called")
    show_told(live)
    letters = Letters(live, situation, _calls(situation)) if able and live.may("asked") else None
    if letters is not None:
        show_answer_by_mail(live, situation)
    for call in calls[:MOST_CALLS]:
        _one_call(live, call, letters, able=able)
    if len(calls) > MOST_CALLS:
        st.markdown(f"**And {count(len(calls) - MOST_CALLS, 'call')} more in these seven days**")
        for call in calls[MOST_CALLS:]:
            _one_call(live, call, letters, able=able)


def _one_call(live: Live, phone: PhoneCall, letters: Letters | None, *, able: bool) -> None:
    first = phone.due[0]
    with st.container(border=True, gap="small", key=f"call-{first.id}"):
        late = ":material/priority_high: " if first.due_since else ""
        st.markdown(f"{late}**{phone.when}: {escape(phone.to)}**")
        for call in phone.due:
            stands = how_it_stands(call)
            after = f"**{escape(stands)}**" if stands else escape(call.if_no)
            st.markdown(f"{escape(about_what(call))} {after}".rstrip())
            if able and ticked_off(call):
                _answers(live, call)
            if letters is not None and ticked_off(call):
                letters.show(call)


def _answers(live: Live, call: CallDue) -> None:
    calls_others = live.may("asked")
    themselves = {"person": live.person.id} if live.person is not None and not calls_others else {}
    said = said_in_call(call) | {"when": live.moment} | themselves
    with st.container(horizontal=True):
        if st.button("Agreed", key=f"agreed-{call.id}", icon=":material/check:", width=130):
            tell(live, "called", {**said, "answer": "agreed"})
        unheard = f"no-answer-{call.id}"
        if calls_others and st.button("No answer", key=unheard, icon=":material/phone_missed:", width=150):
            tell(live, "called", {**said, "answer": "no_answer"})
        if call.now is not None:
            with st.popover("Said no", icon=":material/close:"), st.form(f"refused-{call.id}", border=False):
                offered = st.checkbox("They offer another time", key=f"offers-{call.id}")
                when = pick_time(live, "From when on they can come", f"offer-{call.id}", call.now + timedelta(days=1))
                words = st.text_input("What they said", key=f"said-no-{call.id}", max_chars=500)
                sent = st.form_submit_button("Write it down", type="primary")
            if sent:
                refused = {**said, "answer": "refused", "offers": when if offered else None, "words": words}
                tell(live, "called", refused)
