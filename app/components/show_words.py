"""What the words on the pages mean."""

from __future__ import annotations

import streamlit as st

from app.words import escape, listed
from scheduler.spoken import GLOSSARY


def show_words() -> None:
    """Offer the glossary."""
    with st.expander("What the words mean"):
        st.markdown(listed(f"**{escape(term.word)}**: {escape(term.meaning)}" for term in GLOSSARY))
