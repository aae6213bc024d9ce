"""The cautions, wherever depths, cover or energised lines are shown."""

from __future__ import annotations

import streamlit as st

from scheduler.trench.cautions import CAUTIONS


def show_cautions() -> None:
    """Show the usual cautions."""
    with st.container(border=True):
        st.markdown("**Trenches kill.**")
        st.markdown("\n".join(f"- {text}" for text in CAUTIONS))
