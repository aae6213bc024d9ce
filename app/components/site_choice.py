"""Choosing the site: bundled, named on the command line, or uploaded."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from app.address import choose, notice_unknown
from app.components.form_faults import EDITING, VIEW
from app.served.visitors import served
from app.session import MAX_UPLOAD_BYTES, keep_upload, shown_name, site_choices


def choose_site() -> Path:
    """Show the choice of site in the sidebar and return the chosen file."""
    with st.sidebar:
        if served() is None:
            _take_upload()
        choices = site_choices()
        names = {name: shown_name(name) for name in choices}
        name = choose("Site", names, key="site", what="site", noticed=False)
        if served() is None:
            st.caption("Bundled sites are invented.")
    if notice_unknown("site", "site"):
        st.write("No other site is shown in its place: the answer to one job's question is not another's.")
        st.stop()
    return choices[name or next(iter(choices))]


def _take_upload() -> None:
    upload = st.file_uploader(
        "Open a site file", type=["yaml", "yml"], key="upload", max_upload_size=MAX_UPLOAD_BYTES // 1_000_000
    )
    if upload is None or st.session_state.get("uploaded") == upload.file_id:
        return
    st.session_state["uploaded"] = upload.file_id
    if upload.size > MAX_UPLOAD_BYTES:
        st.error("That file is too large for a site file: 1 MB is the most.")
    else:
        st.session_state["site"] = keep_upload(upload.name, upload.getvalue())
        st.session_state[VIEW] = EDITING  # the editor shows what was opened, not the offer of a new site
