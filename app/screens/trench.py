"""The trench itself: the section of a reach, its quantities, and what its layout breaks."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from app.components.cautions import show_cautions
from app.components.words import amount
from app.figures.work import reach_name
from scheduler.planning import Planned
from scheduler.trench.quantities import quantities
from scheduler.trench.section import sections


def show(planned: Planned) -> None:
    """Show one reach of the trench."""
    st.title("Trench")
    site = planned.case.site
    alignments = {a.id: a.name for a in site.alignments}
    names = {r.id: reach_name(alignments[r.alignment], r.from_, r.to) for r in site.reaches}
    chosen = st.selectbox("Reach", list(names), key="reach", format_func=names.__getitem__, bind="query-params")
    section = sections(site)[chosen]
    cells = st.columns(4)
    cells[0].metric("Depth", f"{section.depth_in / 12:.1f} ft")
    cells[1].metric("Bottom width", f"{section.bottom_width_in:.0f} in")
    cells[2].metric("Top width", f"{section.top_width_ft:.1f} ft")
    cells[3].metric("Layers", len(section.layers))
    st.write(f"Width set by: {section.width_governed_by}. Depth set by: {section.depth_governed_by}.")
    st.write(f"Protection: {section.protection}.")
    _amounts(planned, section.length_ft, chosen)
    show_cautions()


def _amounts(planned: Planned, length_ft: float, reach: str) -> None:
    site = planned.case.site
    found = quantities(site, sections(site)[reach], length_ft=length_ft)
    rows = {
        "Dug, in the bank, cu yd": found.bank_cy,
        "Dug, loose, cu yd": found.loose_cy,
        "Bedding, cu yd": found.bedding_cy,
        "Shading, cu yd": sum(found.shading_cy),
        "Fill, cu yd": found.fill_cy,
        "Lifts": found.lifts,
        "Left over, loose, cu yd": found.spoil_over_cy,
        "Ribbon, ft": found.ribbon_ft,
        "Ladders": found.ladders,
    }
    st.subheader("Quantities")
    st.table(pd.DataFrame({"amount": [amount(v) for v in rows.values()]}, index=list(rows)))
