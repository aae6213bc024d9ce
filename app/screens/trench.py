"""The trench itself: how far it is, a reach in section, the site from above and from the side, and its layout."""

from __future__ import annotations

import streamlit as st

from app.address import choose
from app.answer import Answer
from app.components.chart import show_picture
from app.components.head import head
from app.components.progress import show_progress
from app.components.show_cautions import show_cautions
from app.components.show_findings import show_findings
from app.components.show_looked_at import show_looked_at, show_verdict
from app.figures.profile_figure import profile_figure
from app.figures.section_figure import section_figure, section_key
from app.jobs import Job
from app.live import live_of
from app.once import once
from app.stands import situation_of
from app.words import amount, count, escape, listed, plain
from scheduler import Case, Finding, check, looked_at
from scheduler.trench import LookedAt, Section, materials, quantities, tons_said
from scheduler.units import format_feet, format_inches, format_volume


def show(job: Job, answer: Answer) -> None:
    """Show one reach of the trench, and where it lies."""
    head(job, answer, "Trench")
    picture, live = answer.picture, live_of(job.case)
    above = st.container()
    reach = choose("Reach", picture.reach_names, key="reach", what="reach") or next(iter(picture.reach_names))
    section = answer.sections[reach]
    with above:
        show_progress(answer, live, situation_of(live, answer), reach=reach)
    st.header(escape(picture.reach_names[reach]), anchor=False)
    _section(answer, section)
    _findings(answer, reach)
    _amounts(answer, section)
    _ground(answer, reach)
    show_cautions(full=True)


def _section(answer: Answer, section: Section) -> None:
    site = answer.case.site
    name = answer.picture.reach_names[section.reach]
    with st.container(horizontal=True, gap="medium"):
        st.metric("Depth", format_inches(section.depth_in), width="content")
        st.metric("Bottom width", format_inches(section.bottom_width_in), width="content")
        st.metric("Top width", format_inches(12 * section.top_width_ft), width="content")
        st.metric("Layers", len(section.layers), width="content")
    st.caption("As designed, with everything laid and filled. It does not say how far the work is.")
    key = [plain(row) for row in section_key(site, section)]
    alt = f"Section of {name}, to scale, looking along rising stations: {'; '.join(key)}"
    drawing, words = st.columns([3, 2])
    with drawing:
        show_picture(
            section_figure(site, section, with_key=False),
            key=f"section-{section.reach}",
            alt=alt,
            kept_as=f"section {name}",
        )
    words.markdown(listed(escape(row) for row in key))


def _findings(answer: Answer, reach: str) -> None:
    st.header("What its layout breaks", anchor=False)
    found, looked = _checked(answer.case, reach)
    show_verdict(looked, found)
    show_findings(found)
    show_looked_at(answer.case.site, looked)


@once(1)
def _checked(case: Case, reach: str) -> tuple[tuple[Finding, ...], LookedAt]:
    return check(case, reach=reach), looked_at(case, reach=reach)


def _amounts(answer: Answer, section: Section) -> None:
    found = quantities(answer.case.site, section, length_ft=section.length_ft)
    rows = {
        "dug, in the bank": format_volume(found.bank_cy),
        "the same, loose": format_volume(found.loose_cy),
        "bedding": format_volume(found.bedding_cy),
        "shading": format_volume(sum(found.shading_cy)),
        "fill": f"{format_volume(found.fill_cy)} in {count(found.lifts, 'lift')}",
        "left over, loose": format_volume(found.spoil_over_cy),
        "to bring in, loose": format_volume(found.import_cy),
        "warning ribbon": format_feet(found.ribbon_ft),
        "ways out": count(found.ladders, "ladder"),
    }
    st.header("Quantities of this reach", anchor=False)
    st.markdown(listed(f"**{value}** {name}" for name, value in rows.items()))
    hauled = [m for m in materials(answer.case.site, reach=section.reach) if m.loads]
    weights = ("" if m.tons is None else f", {amount(m.tons)} {tons_said()}" for m in hauled)
    st.markdown(
        listed(
            f"**{count(m.loads or 0, 'truck load')}** for {m.name}: {amount(m.amount)} {m.unit}{tons}"
            for m, tons in zip(hauled, weights, strict=True)
        )
    )


def _ground(answer: Answer, reach: str) -> None:
    site = answer.case.site
    alignment = next(r.alignment for r in site.reaches if r.id == reach)
    name = answer.picture.alignment_names[alignment]
    st.header("Where it lies", anchor=False)
    st.caption(f"{escape(name)} from the side. Depths are drawn far taller than stations.")
    alt = f"{name} from the side: trench bottom, lines at their depths, structures, marked lines that cross"
    show_picture(
        profile_figure(site, answer.sections, alignment), key=f"profile-{alignment}", alt=alt, kept_as=f"profile {name}"
    )
