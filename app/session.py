"""The open site: chosen by the address (`?site=`), an upload, or the command line."""

from __future__ import annotations

import os
import re
import tempfile
from functools import lru_cache
from pathlib import Path

import streamlit as st

import scheduler
from app.jobs import Job, jobs
from app.served.visitors import served, visitor
from scheduler import BadInput, Case, Options, bundled_sites
from scheduler.ledger import keep_site, library, shelved
from scheduler.units import tell_in

MAX_UPLOAD_BYTES = 1_000_000
SITE_VARIABLE = "JOINTTRENCH_SITE"
"""Names the site file that the server was started for."""


def site_choices() -> dict[str, Path]:
    """Return the sites this session offers, by the name that stands in the address."""
    here = served()
    if here is not None:
        found = visitor()
        return {found[0].site: here.sites[found[0].site]} if found else {}
    choices = dict(bundled_sites())
    given = os.environ.get(SITE_VARIABLE)
    if given:
        path = Path(given)
        choices = {path.stem: path} | {k: v for k, v in choices.items() if v.resolve() != path.resolve()}
    return choices | uploads() | {job.job: job.path for job in library().values()}


def uploads() -> dict[str, Path]:
    """Return the files uploaded in this session that cannot be kept in the library as they are, by name."""
    kept: dict[str, Path] = st.session_state.get("uploads", {})
    return kept


@lru_cache(maxsize=32)
def _open(path: str, changed: float) -> Case:  # noqa: ARG001 - `changed` is part of the cache key
    return scheduler.load(Path(path))


def open_site(path: Path) -> Case:
    """Open a site once for every content of its file, and tell everything in its units. Raises BadInput."""
    case = _open(str(path), path.stat().st_mtime)
    tell_in(case.site.site.units)
    return case


def given_file() -> Path | None:
    """Return the site file the server was started for, where it is the user's own and so may be written."""
    given = os.environ.get(SITE_VARIABLE)
    bundled = {path.resolve() for path in bundled_sites().values()}
    return Path(given) if given and Path(given).resolve() not in bundled else None


def keep_upload(name: str, content: bytes) -> str:
    """Keep an uploaded site file in the job library; return the name it is offered under.

    One that cannot be read, or whose id is another job's, is kept for this session only, to be looked at and
    mended; it has no journal of its own.
    """
    safe = safe_name(name)
    try:
        return keep_site(content.decode("utf-8-sig"), f"{safe}.yaml").job
    except (BadInput, UnicodeDecodeError):
        path = Path(tempfile.mkdtemp(prefix="jointtrench-")) / f"{safe}.yaml"
        path.write_bytes(content)
        st.session_state["uploads"] = uploads() | {safe: path}
        return safe


def safe_name(name: str) -> str:
    """Return the name of a file without its ending and without anything that could lead elsewhere."""
    return re.sub(r"[^A-Za-z0-9_-]+", "-", Path(name).stem).strip("-")[:40] or "site"


def shown_name(key: str) -> str:
    """Return how a site is called where one is chosen."""
    kept = shelved(key)
    if kept is not None:
        return f"{kept.name or kept.file} (your file)"
    return key.replace("-", " ").capitalize() + (" (your file)" if key in uploads() else "")


def current_job(case: Case, *, again: bool = False) -> Job:
    """Return the solve of the open site, started if nobody asked before, or once more when it was stopped."""
    return jobs().ask(case, Options(), again=again)
