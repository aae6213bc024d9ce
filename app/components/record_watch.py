"""The record as a page needs it: looked at every few seconds, and told of when it cannot be read."""

from __future__ import annotations

from datetime import timedelta

import streamlit as st

from app.components.fresh import LOOK_EVERY_S, stay_fresh
from app.components.typed_words import tell_on_record
from app.live import Live, live_of
from app.served.visitors import served
from app.words import escape, listed
from scheduler.ledger import no_answer
from scheduler.spoken import to_the_second

LOOKED_AT = "hold points looked at"
"""Where a session keeps when it last worked out again how the hold points stand."""


@st.fragment(run_every=LOOK_EVERY_S)
def watch_record(shown: Live) -> None:
    """Draw the page anew when something was written since, anywhere, or when the record comes or goes."""
    now = live_of(shown.case)
    if served() is not None and now.person != shown.person:  # archived, or not in this role any more
        st.rerun()
    if now.standing != shown.standing or _changed_by_time(shown, now):
        st.rerun()
    stay_fresh("page")
    tell_on_record(now)


def _changed_by_time(shown: Live, now: Live) -> bool:
    """Tell, once a minute, whether a hold point stands otherwise than shown though nothing was written."""
    if now.read_at - st.session_state.get(LOOKED_AT, shown.read_at) < timedelta(minutes=1):
        return False
    st.session_state[LOOKED_AT] = now.read_at
    return [p.status for p in now.holds] != [p.status for p in shown.holds]


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
        f"Looked up at {to_the_second(live.looked_up)}; it is looked for again every few seconds.",
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
