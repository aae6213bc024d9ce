"""Writing something down from a page, and saying what came of it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import streamlit as st

from app.components.show_faults import show_not_done
from app.live import Live, write
from app.words import escape
from scheduler import BadInput
from scheduler.ledger import BY_NAME, Corrected, Entry, Refused, Wording, may_correct, read_event

WHY_LATE = "why late"
"""Where the session keeps why something old is written down only now."""
TOLD = "told"
"""Where the session keeps the last entry written from it."""


def tell(live: Live, name: str, body: Mapping[str, Any]) -> None:
    """Write an event down and show the page anew; say what is wrong with it when it cannot be written."""
    try:
        late = (
            {"late_because": st.session_state.get(WHY_LATE) or ""}
            if "late_because" in BY_NAME[name].model_fields
            else {}
        )
        entry = write(live, read_event(name, {**late, **body}))
    except BadInput as bad:
        show_not_done(bad, "Nothing was written down.")
        return
    st.session_state[TOLD] = entry
    st.rerun()


def ask_why_late() -> None:
    """Ask why something is written down only now; needed for what is more than a week old."""
    with st.expander("Did it happen more than a week ago?"):
        st.text_input("Why is it written down only now?", key=WHY_LATE, max_chars=500)


def may_take_back(live: Live, entry: Entry) -> bool:
    """Tell whether the person may take an entry back: their own, or as the contractor what no authority said."""
    if live.person is None or isinstance(entry.event, Corrected | Refused):
        return False
    rows = {e.number: e for e in live.entries}
    contractor = live.person.role == "general_contractor"
    return may_correct(entry, rows, live.person.name, contractor=contractor)


def show_told(live: Live) -> None:
    """Show what was last written down from this page, and offer to take it back at once."""
    entry: Entry | None = st.session_state.get(TOLD)
    if entry is None or entry not in live.entries[-1:]:
        return
    said = escape(Wording(live.case.site, live.case.network).sentence(entry.event))
    if isinstance(entry.event, Refused):
        st.error(f"**Refused, and the refusal is on record** (entry {entry.number}). {escape(entry.event.reason)}")
        return
    with st.container(border=True, horizontal=True, vertical_alignment="center", key="told"):
        st.markdown(f":material/check: **Written down** (entry {entry.number}). {said}")
        if may_take_back(live, entry) and st.button("Take it back", key="undo"):
            tell(live, "corrected", {"supersedes": entry.number, "reason": "A slip of the finger."})
