"""The open site: chosen by the address (`?site=`), an upload, or the command line."""

from __future__ import annotations

import os
import re
import shutil
import tempfile
from collections.abc import Iterable
from functools import lru_cache
from pathlib import Path

import streamlit as st

import scheduler
from app.jobs import Job, jobs
from scheduler import Case, Options, bundled_sites

MAX_UPLOAD_BYTES = 1_000_000
SITE_VARIABLE = "JOINTTRENCH_SITE"
"""Names the site file that the server was started for."""


def site_choices() -> dict[str, Path]:
    """Return the sites this session offers, by the name that stands in the address."""
    choices = dict(bundled_sites())
    given = os.environ.get(SITE_VARIABLE)
    if given:
        path = Path(given)
        choices = {path.stem: path} | {k: v for k, v in choices.items() if v.resolve() != path.resolve()}
    return choices | uploads()


def uploads() -> dict[str, Path]:
    """Return the site files uploaded in this session, by name."""
    kept: dict[str, Path] = st.session_state.get("uploads", {})
    return kept


@lru_cache(maxsize=32)
def _open(path: str, changed: float) -> Case:  # noqa: ARG001 - `changed` is part of the cache key
    return scheduler.load(Path(path))


def open_site(path: Path) -> Case:
    """Open a site once for every content of its file. Raises BadInput."""
    return _open(str(path), path.stat().st_mtime)


def given_file() -> Path | None:
    """Return the site file the server was started for, where it is the user's own and so may be written."""
    given = os.environ.get(SITE_VARIABLE)
    bundled = {path.resolve() for path in bundled_sites().values()}
    return Path(given) if given and Path(given).resolve() not in bundled else None


def keep_upload(name: str, content: bytes, *, beside: Iterable[Path] = ()) -> str:
    """Keep a site file for this session, with its rule sheets beside it; return the name it is offered under."""
    safe = re.sub(r"[^A-Za-z0-9_-]+", "-", Path(name).stem).strip("-")[:40] or "site"
    folder = Path(tempfile.mkdtemp(prefix="jointtrench-"))
    path = folder / f"{safe}.yaml"
    path.write_bytes(content)
    for sheet in beside:
        shutil.copy(sheet, folder / sheet.name)
    st.session_state["uploads"] = uploads() | {safe: path}
    return safe


def current_job(case: Case, *, again: bool = False) -> Job:
    """Return the solve of the open site, started if nobody asked before, or once more when it was stopped."""
    options = Options(slack_days=float(st.session_state.get("slack_days", 0.0)))
    return jobs().ask(case, options, again=again)
