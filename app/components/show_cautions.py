"""The cautions, wherever depths, cover or energised lines are shown."""

from __future__ import annotations

import streamlit as st

from app.words import listed
from scheduler.trench import CAUTIONS


def show_cautions() -> None:
    """Show the usual cautions, the gravest first and in bold."""
    with st.container(border=True):
        first, *rest = CAUTIONS
        st.markdown(f"**{first}**")
        st.markdown(listed(rest))
