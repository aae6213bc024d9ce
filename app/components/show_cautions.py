"""The cautions, wherever depths, cover or energised lines are shown."""

from __future__ import annotations

import streamlit as st

from app.words import listed
from scheduler.trench import CAUTIONS


def show_cautions(*, full: bool = False) -> None:
    """Show the usual cautions, the gravest first and in bold: in one line with the rest folded in it, or in `full`.

    They stand in full where depths and slopes are shown and where something is released.
    """
    first, *rest = CAUTIONS
    if full:
        with st.container(border=True):
            st.markdown(f"**{first}**")
            st.markdown(listed(rest))
        return
    with st.expander(f"**{first}**"):
        st.markdown(listed(rest))
