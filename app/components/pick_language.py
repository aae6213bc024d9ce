"""The language of a page that crews read: chosen by the address or a button, and kept for the visit."""

from __future__ import annotations

import streamlit as st

from scheduler.spoken import LANGUAGES, Language, spoken_in, unread

ADDRESS, KEPT = "lang", "language"
STYLE = "<style>[class*=st-key-speak-] button { min-height: 44px; min-width: 44px }</style>"


def language() -> Language:
    """Return the language chosen by the address (`?lang=es`), or before in this visit; English otherwise."""
    asked = st.query_params.get(ADDRESS) or st.session_state.get(KEPT)
    return next((known for known in LANGUAGES if known == asked), "en")


def show_languages() -> None:
    """Offer the other languages, and say of a translation that nobody has read it yet."""
    now = language()
    st.session_state[KEPT] = now
    st.html(STYLE)
    with spoken_in(now):
        if unread():
            st.caption(f":material/translate: {unread()}")
    for other, name in LANGUAGES.items():
        if other != now:
            st.button(
                name, key=f"speak-{other}", icon=":material/translate:", on_click=_speak, args=(other,), type="tertiary"
            )


def _speak(other: Language) -> None:
    st.session_state[KEPT] = other
    st.query_params[ADDRESS] = other
