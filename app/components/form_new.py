"""A new site: a few questions, then a draft with everything usual in it, ready to be filled in."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path as File
from zoneinfo import available_timezones

import streamlit as st

from app.components.form_faults import EDITING, PART, VIEW
from app.components.form_state import OPEN, Desk, drafts, keep_draft
from app.words import escape
from scheduler.site.editor import LONGEST_FT, NAMES, SHORTEST_FT, Start, about, new_site
from scheduler.units import Units, parse_length

REFUSED = "new-site refused"
UNITS: dict[Units, str] = {"feet": "Feet and inches", "metres": "Metres"}


def show_new(at: Desk) -> None:
    """Offer to begin a new site, or to go on with another draft of this session."""
    others = {key: draft.name for key, draft in drafts().items() if key != at.key}
    if others:
        other = st.selectbox(
            "Drafts of this page", list(others), key="other-draft", format_func=lambda k: others.get(k, k)
        )
        st.button("Go on with it", key="resume", on_click=_resume, args=(other,))
    st.header("Begin a new site", anchor=False)
    refused: str = st.session_state.pop(REFUSED, "")
    if refused:
        st.error(escape(refused))
    with st.form("new-site", enter_to_submit=False):
        st.radio("Begin with", list(NAMES), format_func=NAMES.__getitem__, key="new-template")
        st.caption(" ".join(f"{NAMES[t]}: {about(t)}" for t in NAMES))
        ask_start()
        st.form_submit_button("Begin", key="begin", type="primary", on_click=_begin)
    st.caption("The open site stays as it is. Depths, covers and notices of a template are a start, not a design.")


def ask_start() -> None:
    """Ask what is asked before a new site is begun; `start_said` reads it."""
    left, right = st.columns(2)
    left.text_input("Name of the site", key="new-name", max_chars=200, placeholder="Such as Mill Road 14")
    right.date_input("First day on site", value=date.today(), key="new-day", format="YYYY-MM-DD")
    left.text_input("Length of the main trench", "100", key="new-length", max_chars=20, help="Such as 100 or 30 m")
    zones = sorted(z for z in available_timezones() if "/" in z)
    right.selectbox("Time zone", zones, index=zones.index("America/Denver"), key="new-zone")
    left.text_input("Country, for public holidays", "US", key="new-country", max_chars=2)
    right.text_input("State, in short", key="new-state", max_chars=8, placeholder="Such as UT; may stay empty")
    st.radio("Told in", list(UNITS), format_func=UNITS.__getitem__, key="new-units", horizontal=True)


def start_said() -> Start | str:
    """Return what was said, or what is wrong with it."""
    state = st.session_state
    units: Units = state["new-units"]
    try:
        length_ft = parse_length(state["new-length"], units)
    except ValueError:
        length_ft = 0.0
    if not SHORTEST_FT <= length_ft <= LONGEST_FT:
        return f"“{state['new-length']}” is no length of a trench. Write one such as 100, 100 ft or 30 m."
    return Start(
        name=state["new-name"] or "New site",
        first_day=state["new-day"],
        length_ft=length_ft,
        units=units,
        time_zone=state["new-zone"],
        country=state["new-country"],
        state=state["new-state"],
    )


def _resume(key: str) -> None:
    st.session_state[OPEN] = key
    st.session_state[VIEW] = EDITING


def _begin() -> None:
    state = st.session_state
    start = start_said()
    if isinstance(start, str):
        state[REFUSED] = start
        return
    draft = new_site(state["new-template"], start)
    key = File(draft.name).stem
    while key in drafts():
        key = _next(key)
    keep_draft(key, draft)
    state[VIEW] = EDITING
    state[PART] = "site" if draft.judged()[0] else "reaches"


def _next(key: str) -> str:
    number = re.fullmatch(r"(.*)-(\d+)", key)
    return f"{number[1]}-{int(number[2]) + 1}" if number else f"{key}-2"
