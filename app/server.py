"""The server: begins to plan the site it was started for before anybody looks, and says so when a page breaks."""

from __future__ import annotations

import os
import sys
import webbrowser
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from pathlib import Path

import streamlit as st

from app.jobs import jobs
from app.session import SITE_VARIABLE, open_site
from scheduler import BadInput, Options

PAGE_VARIABLE = "JOINTTRENCH_PAGE"
"""Address to open in a browser once the server is up; unset: none is opened."""


@asynccontextmanager
async def begin(_: st.App) -> AsyncIterator[None]:
    """Start planning the given site, and open the dashboard in a browser if asked to and there is a screen."""
    given = os.environ.get(SITE_VARIABLE)
    if given:
        try:
            jobs().ask(open_site(Path(given)), Options())
        except (BadInput, OSError) as error:
            print(error, file=sys.stderr)
    page = os.environ.get(PAGE_VARIABLE)
    if page and (sys.platform in ("win32", "darwin") or os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
        webbrowser.open(page)
    yield


def broken(error: Exception) -> bool:
    """Show that a page broke, without the inside of the program; the terminal has the rest."""
    st.error("This page broke off because of a fault in this program. The other pages may still work.")
    st.write("Please report it with the site file and this line:")
    st.code(f"{type(error).__name__}: {error}", language=None)
    return True


app = st.App(Path(__file__).with_name("main.py"), lifespan=begin, on_script_error=broken)
