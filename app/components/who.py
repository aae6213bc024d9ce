"""Who stands before the dashboard, and the moment the job is looked at: the strip on every page of the live job."""

from __future__ import annotations

import streamlit as st

from app.address import told_apart
from app.components.pickers import pick_time
from app.components.show_faults import show_refusal
from app.live import Live, look_from
from app.served.visitors import served
from app.session import given_file
from app.words import escape, in_words, moment
from scheduler import BadInput
from scheduler.ledger import begin_record
from scheduler.site import Person


def show_who(live: Live, *, clock: bool = True) -> bool:
    """Show who is there and what moment it is; return whether anything can be written down now.

    Without `clock` another moment cannot be chosen.

    The head of the page has said it when the record cannot be read.
    """
    if live.fault is not None:
        return False
    if live.place.job is None:
        _begin(live)
        return False
    if served() is not None:
        with st.container(horizontal=True, vertical_alignment="center", gap="small"):
            st.markdown(f"**{escape(said_role(live.person))}**" if live.person else "Nobody is signed in here.")
            if clock:
                _clock(live)
        return live.person is not None and not live.looking_back
    people = told_apart({p.id: said_role(p) for p in live.case.site.people})
    if st.session_state.get("person") not in people:
        st.session_state.pop("person", None)
    with st.container(horizontal=True, vertical_alignment="bottom", gap="small"):
        st.selectbox(
            "I am",
            list(people),
            index=None,
            key="person",
            format_func=lambda p: people.get(p, p),
            placeholder=in_words("Choose who you are"),
            persist_state="session",
            width="stretch" if not clock else 320,
            label_visibility="visible" if clock else "collapsed",
        )
        if clock:
            _clock(live)
    if not people:
        st.warning("The site file names no people, so nobody can write anything down. Add them under `people`.")
    elif live.looking_back:
        st.info(
            f"You are looking at the job as it was known at {moment(live.moment)}. "
            "To write something down, come back to now."
        )
    elif live.person is None:
        st.caption(in_words("Choose who you are to write something down: the record says who wrote each entry."))
    return live.person is not None and not live.looking_back


def _begin(live: Live) -> None:
    """Offer to give the job its id where its file is the user's own; nothing can be written down without one."""
    file = given_file()
    st.warning("This site file has no job id yet. The record of a job is found by it, so nothing can be written down.")
    if file is None or file != live.case.path or served() is not None:
        st.write("Give it one with `jointtrench journal SITE begin`, or plan it in the site editor.")
    elif served() is None and st.button(
        f"Begin the record: write an id into {file.name}", key="begin-record", type="primary"
    ):
        try:
            begin_record(file)
        except BadInput as bad:
            st.error("The file was not changed.")
            show_refusal(bad)
            return
        st.rerun()


def said_role(person: Person) -> str:
    """Name a person with the role that the site file gives them."""
    return f"{person.name}, {person.role.replace('_', ' ')}"


def _clock(live: Live) -> None:
    """Offer the moment looked at; on an invented site it is the clock to practise with."""
    practice = live.case.site.site.invented
    label = f"Practice clock: {moment(live.moment)}" if practice else f"As of {moment(live.moment)}"
    with st.popover(label, icon=":material/schedule:"):
        buttons = st.container(horizontal=True)  # above the field, whose calendar opens below it where it has room
        chosen = pick_time(live, "Date and time on site", "clock")
        st.write(
            "This site is invented. Its clock stands where you set it; entries are written down as of then."
            if practice
            else "Look at the job as it was known at an earlier moment."
        )
        with buttons:
            if st.button("Look from there", key="clock-set", type="primary"):
                if practice or chosen <= live.moment:
                    look_from(live.case, chosen)
                    st.rerun()
                st.warning("That has not come yet.")
            if st.button("Back to the last entry" if practice else "Back to now", key="clock-now"):
                look_from(live.case, None)
                st.rerun()
