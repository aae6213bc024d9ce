"""What lets a phone install the dashboard and show its first page, marked as old, without a connection.

The gate answers these addresses itself, to whoever is signed in.
"""

from __future__ import annotations

import json
from pathlib import Path

import streamlit as st

from app.served.visitors import served

_HERE = Path(__file__).parent
_MANIFEST = {
    "name": "Joint trench",
    "short_name": "Trench",
    "start_url": "/",
    "scope": "/",
    "display": "standalone",
    "background_color": "#fbf9f4",
    "theme_color": "#fbf9f4",
    "icons": [{"src": "/icon.svg", "type": "image/svg+xml", "sizes": "any"}],
}
JAVASCRIPT = b"text/javascript; charset=utf-8"
FILES: dict[str, tuple[bytes, bytes]] = {
    "/manifest.webmanifest": (b"application/manifest+json", json.dumps(_MANIFEST).encode()),
    "/icon.svg": (b"image/svg+xml", (_HERE.parent / "mark.svg").read_bytes()),
    "/worker.js": (JAVASCRIPT, (_HERE / "worker.js").read_bytes()),
    "/typed.js": (JAVASCRIPT, (_HERE / "typed.js").read_bytes()),
}
"""By address: media type and content."""
_KEEP = f"<script>{(_HERE / 'kept.js').read_text(encoding='utf-8')}</script>"


def keep_for_later() -> None:
    """Let the browser of a served dashboard install it and keep what its first page says."""
    if served() is not None:
        st.html(_KEEP, unsafe_allow_javascript=True)
