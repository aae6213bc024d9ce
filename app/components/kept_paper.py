"""A photo or paper that is kept in the journal with an entry."""

from __future__ import annotations

from contextlib import closing

import streamlit as st

from app.components.show_faults import show_refusal
from app.live import Live
from scheduler import BadInput

SHOWN_TYPES = ("image/jpeg", "image/png", "image/webp")


def show_kept(live: Live, digest: str, what: str, key: str) -> None:
    """Show a photo, or offer the paper, that belongs to something; say so where it is missing or damaged.

    `what` is what it belongs to, such as 'release'; `key` tells one download from another on the page.
    """
    try:
        with closing(live.place.open()) as journal:
            kept = journal.attachment(digest)
    except BadInput as bad:
        st.warning(f"The photo or paper that belongs to this {what} cannot be shown.")
        show_refusal(bad)
        return
    if kept is None:
        st.warning(f"The photo or paper that belongs to this {what} is missing from the journal.")
    elif kept.media in SHOWN_TYPES:
        st.image(kept.content, width=420, caption=f"Kept with the {what}")
    else:
        suffix = "pdf" if kept.media == "application/pdf" else "heic"
        name = f"{what}-{kept.hash[:12]}.{suffix}"
        st.download_button("Get the paper kept with it", kept.content, name, kept.media, key=f"paper-{key}")
