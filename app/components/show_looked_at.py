"""What the layout check looked at in a reach: the rules it applied, what it could not know, what nothing covers."""

from __future__ import annotations

from collections.abc import Sized

import streamlit as st

from app.words import escape, listed
from scheduler.site import Site
from scheduler.trench import JOINED_FIRST, Applied, LookedAt, OpenQuestion, alike, by_line


def show_verdict(looked: LookedAt, found: Sized) -> None:
    """Say how the check went: green only where nothing was found and nothing was left unasked."""
    (st.info if found or looked.untold else st.success)(looked.verdict(found))


def show_looked_at(site: Site, looked: LookedAt) -> None:
    """List what could not be told, and under it every rule that was applied, line by line."""
    show_open_questions(looked)
    if looked.joints:
        said = listed(escape(joint.text) for joint in looked.joints)
        st.markdown(f"**Lines join here: {JOINED_FIRST}**\n\n{said}")
    with st.expander("The rules that were applied here"):
        for names, rules in by_line(site, looked).items():
            head = escape("; ".join(names) or "The trench")
            st.markdown(f"**{head}**\n\n{listed(_rule(one) for one, _ in rules)}")


def show_open_questions(looked: LookedAt) -> None:
    """List what could not be known and what nothing in the site file covers, with what to fill in."""
    for head, questions in (
        ("What could not be known", looked.unknown),
        ("What nothing in the site file covers", looked.uncovered),
    ):
        if questions:
            st.markdown(f"**{head}**\n\n{_questions(questions)}")


def _rule(one: Applied) -> str:
    value = f": **{escape(one.value)}**" if one.value else ""
    return f"{escape(one.rule)}{value}, {escape(one.whose)}: {escape(one.source)}"


def _questions(questions: tuple[OpenQuestion, ...]) -> str:
    return listed(
        f"{escape(text)} {escape('; '.join(names))}. {escape(to_do.replace('`', ''))}"
        for (text, to_do), names in alike(questions).items()
    )
