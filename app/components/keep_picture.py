"""Two buttons under a picture that keep what is seen of it as a file: PNG for a message, SVG for print."""

from __future__ import annotations

import re
from pathlib import Path

import streamlit as st

_HERE = Path(__file__)
_mount = st.components.v2.component(
    "keep_picture",
    html='<div class="keep">Keep this picture: <button data-format="png">PNG</button> '
    '<button data-format="svg">SVG</button></div>',
    css=_HERE.with_suffix(".css").read_text(encoding="utf-8"),
    js=_HERE.with_suffix(".js").read_text(encoding="utf-8"),
)


def offer_to_keep(key: str, *, name: str) -> None:
    """Offer the drawing of an element as a file; `key` is that of the element, `name` names the file."""
    drawn_in = "st-key-" + re.sub(r"[^a-zA-Z0-9_-]", "-", key)
    _mount(key=f"keep-{key}", data={"drawnIn": drawn_in, "name": re.sub(r"[^\w.+ -]", "", name)})
