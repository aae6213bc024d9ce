"""People and phones, on a served dashboard: who is signed in, a link for somebody, and taking links and phones back."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import segno
import streamlit as st

from app.components.show_faults import show_not_done
from app.live import Live, live_of
from app.served.sent_links import MOST_DAYS, drafts, end, moment_of, send, stands
from app.served.sign_ins import SignInState
from app.words import count, escape, moment
from scheduler import BadInput, Case
from scheduler.site import Person

MADE = "link just made"
"""Where a session keeps the link that it made last: for whom, address, number, until when; it is shown this once."""
USUAL_DAYS = 14


def show(case: Case) -> None:
    """Show everybody of the site with what they may be sent, and what can be taken back."""
    st.title("People and phones")
    live = live_of(case)
    st.write(
        "Each person opens a link of their own once, on their own phone, with a number that you tell them by voice. "
        "Then they choose a code for themselves, which confirms what they release."
    )
    st.caption("Names, roles and telephone numbers stand in the site file. Never open somebody else's link yourself.")
    try:
        for person in case.site.people:
            _person(case, live, person)
    except BadInput as bad:
        show_not_done(bad, "Nothing was done.")


def _person(case: Case, live: Live, person: Person) -> None:
    access = stands(case, person)
    firm = f", {escape(person.of)}" if person.of else ""
    with st.container(border=True, key=f"person-{person.id}"):
        st.markdown(f"**{escape(person.name)}**, {person.role.replace('_', ' ')}{firm}  \n{_standing(live, access)}")
        with st.container(horizontal=True, vertical_alignment="bottom"):
            days = st.number_input("Days it is good for", 1, MOST_DAYS, USUAL_DAYS, key=f"days-{person.id}", width=150)
            if st.button("Make a link", key=f"make-link-{person.id}", type="primary"):
                made = send(case, person, int(days))
                st.session_state[MADE] = (person.id, *made, datetime.now(UTC) + timedelta(days=int(days)))
                st.rerun()
            if live.person != person and (access.phones or access.links_until):
                _end(case, person, access)
        if st.session_state.get(MADE, ("",))[0] == person.id:
            _made(case, live, person)


def _standing(live: Live, access: SignInState) -> str:
    said = [count(access.phones, "phone") + " signed in" if access.phones else "No phone signed in"]
    if access.seen is not None:
        said.append(f"last seen {moment(live.local(moment_of(access.seen)))}")
    if access.links_until is not None:
        said.append(f"a link waits to be opened until {moment(live.local(moment_of(access.links_until)))}")
    said.append("a code is chosen" if access.code else "no code chosen yet")
    return "; ".join(said) + "."


def _end(case: Case, person: Person, access: SignInState) -> None:
    with st.popover("Take back", icon=":material/phonelink_erase:"):
        st.write("Every link of theirs opens nothing any more, and every phone of theirs is signed out at once.")
        if st.button("End links and phones", key=f"end-{person.id}"):
            _forget_made()
            end(case, person)
            st.rerun()
        if access.code:
            st.write("If they no longer know their code: they choose another one with a new link.")
            if st.button("End them, and forget the code", key=f"forget-{person.id}"):
                _forget_made()
                end(case, person, code=True)
                st.rerun()


def _forget_made() -> None:
    st.session_state.pop(MADE, None)


def _made(case: Case, live: Live, person: Person) -> None:
    """Show a link that was just made, as a code to be scanned and as drafts, and the number beside it."""
    _, address, number, until = st.session_state[MADE]
    text, mail = drafts(case.site.site.name, person, address, live.local(until))
    st.markdown(
        f"Tell {escape(person.name)} this number **by voice**, not with the link: **{number[:3]} {number[3:]}**"
    )
    st.html(segno.make(address, error="m").svg_inline(scale=4, light="white"))
    st.code(address, language=None, wrap_lines=True)
    with st.container(horizontal=True):
        st.link_button("Text it", text, icon=":material/sms:")
        st.link_button("Mail it", mail, icon=":material/mail:")
        if st.button("Done", key="link-sent"):
            _forget_made()
            st.rerun()
    st.caption("It is shown here this once. Whoever has both, link and number, is taken for this person.")
