"""The way to a site that can be planned: its parts in the order of a job, and what each of them still needs."""

from __future__ import annotations

import streamlit as st

from app.components.form_faults import EDITING, PART, RECORD, VIEW, go_to, record_key
from app.components.form_state import Desk
from app.components.form_words import fault_text
from app.words import count, escape
from scheduler.site.editor import LOOSE, Fault, parts, rows_at, spoken

STEPS = ("site", "alignments", "reaches", "lines", "trades", "calendars", "inspections")
"""What every job needs, or nearly every one; the rest of the parts follow."""
MOST_TOLD = 4
SAVING = "Save and plan"
PLACE, GIVEN, WANTED = ":material/arrow_right:", ":material/check:", ":material/edit_note:"


def in_order() -> list[str]:
    """Return the parts of a site in the order in which they are asked for."""
    return [*STEPS, *(key for key in parts() if key not in STEPS)]


def faults_of(desk: Desk, key: str) -> list[Fault]:
    """Return what is wrong in one part of a draft."""
    known = parts().keys() - {LOOSE}
    if key == LOOSE:
        return [f for f in desk.faults if not f.path or f.path[0] not in known]
    return [f for f in desk.faults if f.path and f.path[0] == key]


def show_steps(desk: Desk, shown: str) -> None:
    """Show the parts that a job needs, each with how it stands, and what is missing until it can be planned."""
    with st.container(key="steps", horizontal=True, gap="xsmall"):
        for key in STEPS:
            part = parts()[key]
            rows = len(rows_at(desk.draft.data, (key,))) if part.many else 0
            wanted = bool(faults_of(desk, key))
            icon = WANTED if wanted else GIVEN if rows or not part.many else ":material/remove:"
            st.button(
                f"{part.label} {rows}" if rows else part.label,
                key=f"step {key}",
                type="primary" if key == shown else "secondary",
                icon=icon,
                on_click=_go,
                args=(key,),
                help="Something is still missing here." if wanted else None,
            )
    _missing(desk)


def _missing(desk: Desk) -> None:
    """Tell what is missing until it can be planned, each with a way to its field."""
    order = in_order()
    faults = sorted(desk.faults, key=lambda f: order.index(str(f.path[0])) if f.path and f.path[0] in order else 99)
    if not faults:
        return
    with st.container(key="missing", gap="xsmall"):
        st.markdown(f"**Missing until it can be planned:** {count(len(faults), 'thing')}")
        for k, fault in enumerate(faults[:MOST_TOLD]):
            st.button(
                f"{escape(spoken(desk.draft.data, fault.path))}: {escape(fault_text(fault))}",
                key=f"missing {k}",
                type="tertiary",
                icon=":material/arrow_forward:",
                on_click=go_to,
                args=(fault.path,),
                wrap=True,
            )
        if len(faults) > MOST_TOLD:
            st.caption("The rest is listed under To fix.")


def show_next(shown: str) -> None:
    """Offer the part that comes after the one shown, and saving after the last."""
    if shown not in STEPS:
        return
    after = STEPS[STEPS.index(shown) + 1 :]
    if after:
        st.button(f"Next: {parts()[after[0]].label}", key="next-part", icon=PLACE, on_click=_go, args=(after[0],))
    else:
        st.button(f"Next: {SAVING.lower()}", key="next-part", icon=PLACE, on_click=_save)


def _go(key: str) -> None:
    st.session_state[VIEW], st.session_state[PART] = EDITING, key
    if parts()[key].many:
        st.session_state[RECORD] = record_key(key, 0)


def _save() -> None:
    st.session_state[VIEW] = SAVING
