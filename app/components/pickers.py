"""Fields that forms on several pages offer: a moment, one of some named things, a stretch."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any

import streamlit as st

from app.address import told_apart
from app.live import Live
from scheduler import BadInput, Finding, Severity
from scheduler.units import MM_PER_INCH, metric, parse_station

Body = Mapping[str, Any]
Ask = Callable[[], Body]
"""Reads the fields of a form once it is sent; raises BadInput."""
EVIDENCE_TYPES = ["pdf", "jpg", "jpeg", "png", "webp", "heic"]
MEGABYTE = 1024 * 1024
STEP = 900
"""Times are offered by the quarter hour [s]; any minute may be typed."""


def pick_time(live: Live, label: str, key: str, value: datetime | None = None) -> datetime:
    """Offer a moment on site: first the one looked at, when nothing else is said.

    A clock that runs does not change what stands in the field; a practice clock that is set anew does.
    """
    plain = (value or live.moment).replace(tzinfo=None, second=0, microsecond=0)
    if live.case.site.site.invented:
        key = f"{key} {plain.isoformat()}"
    first = f"first {key}"
    if key not in st.session_state:  # not on the page a moment ago
        st.session_state[first] = plain
    # Given as the value: a field in a closed popover is made when that opens, and shows the value it was given last.
    begins = st.session_state[first]
    chosen: datetime = st.datetime_input(label, begins, step=STEP, format="YYYY-MM-DD", key=key) or plain
    return chosen.replace(tzinfo=live.moment.tzinfo)


def pick_one(label: str, names: Mapping[str, str], key: str) -> str | None:
    """Offer one of some named things."""
    names = told_apart(names)
    chosen: str | None = st.selectbox(
        label, list(names), key=key, format_func=lambda i: names.get(i, i), index=None, placeholder="Choose one"
    )
    return chosen


def pick_inches(label: str, most: tuple[float, float], value: float | None, step: float, key: str) -> float | None:
    """Ask for an amount in inches, or in millimetres on a site in metres; `{}` in the label is that unit.

    Returns inches, whichever was asked for.
    """
    per, unit = (MM_PER_INCH, "millimetres") if metric() else (1.0, "inches")
    asked = label.format(unit)
    low, high = (m * per for m in most)
    first, by = None if value is None else value * per, 1.0 if metric() else step
    given = st.number_input(asked[:1].upper() + asked[1:], low, high, first, by, key=key)
    return None if given is None else given / per


def read_stretch(alignment: str | None, start: str, end: str) -> Body:
    """Read a stretch from its fields; raises BadInput with every fault."""
    faults, feet = [], []
    if alignment is None:
        faults.append(Finding("report/input", Severity.STOP, "Alignment", "is not chosen."))
    for label, text in (("From station", start), ("To station", end)):
        try:
            feet.append(parse_station(text))
        except ValueError as error:
            faults.append(Finding("report/input", Severity.STOP, label, f"cannot be read: {error}.", text))
    if faults:
        raise BadInput(faults)
    return {"alignment": alignment, "from_ft": min(feet), "to_ft": max(feet)}


def pick_stretch(live: Live, key: str) -> tuple[str | None, str, str]:
    """Offer an alignment and two stations on it."""
    names = {a.id: a.name for a in live.case.site.alignments}
    alignment = pick_one("Alignment", names, f"{key}-alignment")
    with st.container(horizontal=True):
        start = st.text_input("From station", placeholder="0+012" if metric() else "0+40", key=f"{key}-from", width=140)
        end = st.text_input("To station", placeholder="0+036.5" if metric() else "1+20", key=f"{key}-to", width=140)
    return alignment, start, end
