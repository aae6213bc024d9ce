"""What a draft comes to, drawn beside its form as it is typed: the site from above and a reach in section."""

from __future__ import annotations

import streamlit as st

from app.components.chart import show_picture
from app.components.form_state import Desk
from app.components.site_picture import show_drawn
from app.figures.section_figure import section_figure, section_key
from app.figures.site_from_above import LayerDrawn, StretchDrawn
from app.words import escape, plain
from scheduler import BadInput
from scheduler.site import Reach, Site
from scheduler.site.editor import value_at
from scheduler.situation import LayerState
from scheduler.trench import sections
from scheduler.units import format_station

DRAWN = ("alignments", "reaches", "lines", "existing", "surroundings", "structures", "keep_open", "backfill")
"""The parts of a site that are seen in the drawings."""


def show_drawing(desk: Desk, part: str, index: int | None) -> None:
    """Draw what can be drawn of a draft, with the reach that one record is about."""
    site = desk.drawable
    if site is None:
        st.caption("The site is drawn here as soon as an alignment and a reach on it are given.")
        return
    st.caption("As typed so far; nothing of it is planned or recorded.")
    show_drawn(site, [_stretch(site, reach) for reach in site.reaches], key=f"draft from above {desk.key}")
    reach = _about(desk, site, part, index)
    laid = [r for r in site.reaches if any(_through(site, r, line.id) for line in site.lines)]
    if reach not in laid:
        st.caption(f"{escape(_place(site, reach))}: no line runs here yet.")
        return
    try:
        section = sections(site.model_copy(update={"reaches": laid}))[reach.id]
    except BadInput:
        return  # a rule sheet that cannot be read, which is told where it is named
    st.caption(f"{escape(_place(site, reach))} in section, looking along rising stations.")
    key = [plain(row) for row in section_key(site, section)]
    st_key = f"draft section {desk.key}"
    show_picture(section_figure(site, section, with_key=False), key=st_key, alt=f"Section: {'; '.join(key)}")


def _stretch(site: Site, reach: Reach) -> StretchDrawn:
    lines = tuple(line.id for line in site.lines if _through(site, reach, line.id))
    layers = (LayerDrawn(LayerState.LAID, lines),)
    low, high = sorted((reach.from_, reach.to))
    return StretchDrawn(reach.id, reach.alignment, low, high, _place(site, reach), layers)


def _place(site: Site, reach: Reach) -> str:
    name = next(a.name for a in site.alignments if a.id == reach.alignment)
    return f"{name} {format_station(reach.from_)} to {format_station(reach.to)}"


def _through(site: Site, reach: Reach, line: str) -> bool:
    low, high = sorted((reach.from_, reach.to))
    route = next(one.route for one in site.lines if one.id == line)
    return any(s.alignment == reach.alignment and min(s.from_, s.to) < high and max(s.from_, s.to) > low for s in route)


def _about(desk: Desk, site: Site, part: str, index: int | None) -> Reach:
    """Return the reach to draw in section: the one shown, or the first in which the line shown lies."""
    record = value_at(desk.draft.data, (part, index, "id")) if index is not None else None
    if part == "reaches":
        return next((r for r in site.reaches if r.id == record), site.reaches[0])
    if part == "lines" and any(line.id == record for line in site.lines):
        return next((r for r in site.reaches if _through(site, r, str(record))), site.reaches[0])
    return site.reaches[0]
