"""Choosing the site: bundled, named on the command line, or uploaded."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from app.session import MAX_UPLOAD_BYTES, keep_upload, site_choices


def choose_site() -> Path:
    """Show the choice of site in the sidebar and return the chosen file."""
    with st.sidebar:
        upload = st.file_uploader("Open a site file", type=["yaml", "yml"], key="upload")
        if upload is not None and st.session_state.get("uploaded") != upload.file_id:
            st.session_state["uploaded"] = upload.file_id
            if upload.size > MAX_UPLOAD_BYTES:
                st.error("That file is too large for a site file: 1 MB is the most.")
            else:
                st.session_state["site"] = keep_upload(upload.name, upload.getvalue())
        choices = site_choices()
        names = list(choices)
        name = st.selectbox(
            "Site",
            names,
            key="site",
            bind="query-params",
            persist_state="session",
            format_func=lambda n: n.replace("-", " ").capitalize(),
        )
        st.select_slider(
            "Finish given up for less open trench",
            [0.0, 0.5, 1.0, 2.0],
            key="slack_days",
            persist_state="session",
            format_func=lambda d: f"{d:g} days",
        )
        st.caption("Bundled sites are invented.")
    return choices[name or names[0]]
