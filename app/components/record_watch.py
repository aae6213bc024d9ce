"""The record as a page needs it: looked at every few seconds, and told of when it cannot be read."""

from __future__ import annotations

import streamlit as st

from app.components.fresh import LOOK_EVERY_S, stay_fresh
from app.live import Live, live_of
from app.words import escape, listed
from scheduler.ledger import no_answer


@st.fragment(run_every=LOOK_EVERY_S)
def watch_record(shown: Live) -> None:
    """Draw the page anew when something was written since, anywhere, or when the record comes or goes."""
    if live_of(shown.case).standing != shown.standing:
        st.rerun()
    stay_fresh("page")


def show_unreadable(live: Live) -> None:
    """Say that the record cannot be read, why, and that the answer to everything that rests on it is No."""
    if live.fault is None:
        return
    why = listed(escape(r.text) for r in no_answer(live.fault, live.moment).reasons)
    st.error(
        "**No. The record cannot be read: do not cover anything.** The journal of this site cannot be used just now. "
        "Nothing can be read from it or written down. Nobody can tell from here what was released, failed or stopped, "
        "and dates shown here rest on an old plan at best.\n\n"
        f"{why}\n\n"
        "**Covered before its release: not known.** What was flagged before stands until the record can be read.\n\n"
        f"Looked up at {live.looked_up:%H:%M:%S}; it is looked for again every few seconds.",
        icon=":material/front_hand:",
    )


def shows_without_record(live: Live, title: str) -> bool:
    """Tell whether a page is wanted although the record cannot be read; until it is, say what the matter is."""
    wanted = bool(st.session_state.get("without record"))
    if not wanted:
        st.title(title)
        st.write(escape(live.case.site.site.name))
        show_unreadable(live)
    st.toggle("Show a plan made from the site file alone, which knows nothing of the record", key="without record")
    return wanted
