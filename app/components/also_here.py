"""Who else is there on a served dashboard, and what somebody wrote while this page was being tapped."""

from __future__ import annotations

import streamlit as st

from app.live import Live
from app.served.visitors import seen_here
from app.words import escape, listed
from scheduler.ledger import Wording

HERE_S = 60.0
"""Whoever was heard of so lately is there."""
LOOK_EVERY_S = 15.0
DRAWN = "entries drawn"
"""Where a session keeps how many entries the page that it shows was drawn from, by the record."""
WRITES = tuple(
    ["started-", "finished-", "agreed-", "no-answer-", "as-planned-write", "put-in-force", "undo", "FormSubmitter:"]
)
"""How the keys of buttons begin that write something down."""


@st.fragment(run_every=LOOK_EVERY_S)
def show_also_here(live: Live) -> None:
    """Name the others of this site who were heard of in the last minute; nobody where nobody is signed in at all."""
    own = live.person.id if live.person else ""
    here = seen_here(HERE_S)
    others = [p.name for p in live.case.site.people if p.id in here and p.id != own]
    if others:
        st.caption(f":material/group: Also here now: {escape(', '.join(others))}")


def say_written_meanwhile(live: Live) -> None:
    """Say what others wrote between the page that was tapped and now, where the tap wrote nothing.

    To be called once a page was drawn: what a tap writes ends that before. The order of writing decides; whoever came
    second finds that what they tapped is no longer offered, and must know why.
    """
    where, drawn = st.session_state.get(DRAWN, ("", 0))
    st.session_state[DRAWN] = live.place.record, len(live.entries)
    new = live.entries[drawn:] if where == live.place.record else ()
    tapped = any(value is True and str(key).startswith(WRITES) for key, value in st.session_state.items())
    if not (new and tapped):
        return
    wording = Wording(live.case.site, live.case.network)
    said = listed(f"{escape(e.writer)}: {escape(wording.sentence(e.event))}" for e in new)
    if live.person is not None and all(e.by == live.person.name for e in new):
        st.info(f"**Written down by your first press**; the second wrote nothing.\n\n{said}", icon=":material/check:")
        return
    words = "**Nothing was written down by your tap: somebody wrote just before.** If it is still needed, do it again."
    st.warning(f"{words}\n\n{said}", icon=":material/group:")
