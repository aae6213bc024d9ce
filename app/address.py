"""The address as a link to what is shown: choices stand in it, survive a reload, and can be sent to others."""

from __future__ import annotations

from collections import Counter
from collections.abc import Container, Mapping

import streamlit as st

from app.words import escape


def settle(key: str, choices: Container[str]) -> None:
    """Let the address, when it asks for something new, set a choice before its control is drawn.

    What is asked for but unknown is kept for `notice_unknown`; a choice that no longer exists is dropped. One that was
    forgotten, as happens when somebody acts again before the page has answered, is taken from the address again.
    """
    state = st.session_state
    asked = st.query_params.get(key)
    if asked is not None and key not in state and asked in choices:
        state[key] = asked
    if asked is not None and asked != state.get(_shown(key)):
        if asked in choices:
            state[key] = asked
        else:
            state[_unknown(key)] = asked
            del st.query_params[key]
    if state.get(key) is not None and state[key] not in choices:
        del state[key]


def publish(key: str, value: str | None) -> None:
    """Put a choice in the address."""
    if value is None:
        st.query_params.pop(key, None)
    elif st.query_params.get(key) != value:
        st.query_params[key] = value
    if value != st.session_state.get(_shown(key)):
        st.session_state[_shown(key)] = value


def notice_unknown(key: str, what: str) -> bool:
    """Say that the address asked for something that is not there, until it is put away; return whether it did."""
    asked = st.session_state.get(_unknown(key))
    if asked is not None:
        st.warning(
            f"This link asks for the {what} “{escape(asked[:80])}”, which is not here. It may have been renamed."
        )
        if st.button("All right", key=f"{key}-seen"):
            del st.session_state[_unknown(key)]
            st.rerun()
    return asked is not None


def choose(
    label: str,
    names: Mapping[str, str],
    *,
    key: str,
    what: str,
    placeholder: str | None = None,
    width: int | None = None,
    noticed: bool = True,
) -> str | None:
    """Offer a choice that stands in the address: the first one, or none when there is a `placeholder`.

    Unless `noticed` is off, it is said beside it when the address asks for what is not there.
    """
    settle(key, names)
    names = told_apart(names)
    say_anew(key, names.get(st.session_state.get(key, "")))
    chosen: str | None = st.selectbox(
        label,
        list(names),
        index=0 if placeholder is None else None,
        key=key,
        format_func=lambda value: names.get(value, value),
        placeholder=placeholder,
        persist_state="session",
        width=width or "stretch",
    )
    publish(key, chosen)
    if noticed:
        notice_unknown(key, what)
    return chosen


def say_anew(key: str, words: object) -> None:
    """Set a choice once more where the words shown for it have changed: its control knows it by them alone.

    Only then: to set it while somebody types another choice would take away what is typed.
    """
    state, said = st.session_state, f"{key} in words"
    if key in state and state.get(said) != words:
        state[key] = state[key]
    state[said] = words


def told_apart(names: Mapping[str, str]) -> dict[str, str]:
    """Return names with the id behind each that stands for several: a control knows its choice by the words alone."""
    often = Counter(names.values())
    return {key: f"{name} ({key})" if often[name] > 1 else name for key, name in names.items()}


def choose_side_by_side(label: str, names: Mapping[str, str], *, key: str, usual: str) -> str:
    """Offer a few choices side by side, `usual` unless `settle` or the user has set another; returns the one made."""
    chosen = st.segmented_control(
        label,
        list(names),
        default=None if key in st.session_state else usual,
        required=True,
        key=key,
        format_func=names.__getitem__,
        persist_state="session",
    )
    return chosen or usual


def _shown(key: str) -> str:
    return f"{key} in the address"


def _unknown(key: str) -> str:
    return f"{key} unknown"
