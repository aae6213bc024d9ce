"""What is wrong with a draft: beside the field it concerns, and as a list that leads there."""

from __future__ import annotations

import streamlit as st

from app.components.form_state import OPEN, Desk, field_of, first_keys
from app.components.form_words import in_form_words, say_fault
from app.components.show_findings import WEIGHT
from app.components.show_looked_at import show_open_questions
from app.words import count, escape
from scheduler.site.editor import LOOSE, Path, part_of, parts, rows_at, spoken
from scheduler.trench import PlacedFinding

MOST_LISTED = 60
VIEW, EDITING = "editor-view", "Edit"
PART, RECORD = "part", "record"
"""Keys under which the part and the record shown stand in the address."""


def record_key(part: str, index: int) -> str:
    """Return how one record of a part is called in the address, from 1."""
    return f"{part}.{index + 1}"


def say_finding(placed: PlacedFinding) -> str:
    """Say one layout finding, as markdown."""
    f = placed.finding
    found = f" Found **{escape(f.found)}**." if f.found else ""
    needed = f" Needed: {escape(f.required)}." if f.required else ""
    source = f" Source: {escape(f.source)}." if f.source else ""
    return f"**{WEIGHT[f.severity]}** · {escape(in_form_words(f.text))}{found}{needed} {escape(f.where)}.{source}"


def show_beside(desk: Desk, path: Path, *, within: bool) -> None:
    """Show what is wrong with the value at a path, right below its control."""
    for fault in desk.faults_at(path, within=within):
        st.markdown(f":material/edit_note: **To fix** · {say_fault(fault)}")
    for placed in desk.findings_beside(path):
        st.markdown(f":material/straighten: {say_finding(placed)}")


def is_marked(desk: Desk, path: Path, *, within: bool) -> bool:
    """Whether anything stands beside a value."""
    return bool(desk.faults_at(path, within=within) or desk.findings_beside(path))


def summary(desk: Desk) -> str:
    """Say in one line how a draft stands."""
    if desk.faults:
        return f"{count(len(desk.faults), 'thing')} to fix before this can be planned or saved."
    if desk.sheets:
        return "A rule sheet cannot be read, so the layout was not checked."
    untold = f" But {desk.looked.untold}." if desk.looked and desk.looked.untold else ""
    if desk.layout:
        return f"It can be planned. The layout check has {count(len(desk.layout), 'finding')}.{untold}"
    return f"It can be planned, and its layout breaks no rule.{untold}"


def show_all(desk: Desk) -> None:
    """List everything that is wrong, each with a way to its field."""
    for k, fault in enumerate(desk.faults[:MOST_LISTED]):
        _entry(f"fault {k}", spoken(desk.draft.data, fault.path), fault.path, say_fault(fault))
    if len(desk.faults) > MOST_LISTED:
        st.write(f"And {len(desk.faults) - MOST_LISTED} more; fix these first.")
    for sheet in desk.sheets:
        st.markdown(f"- {escape(str(sheet))}")
    for k, placed in enumerate(desk.layout):
        path = _concerned(desk, placed)
        _entry(f"layout {k}", spoken(desk.draft.data, path), path, say_finding(placed))
    if desk.looked:
        show_open_questions(desk.looked)
    if not (desk.faults or desk.layout or desk.sheets):
        st.success("Nothing to fix, and the layout breaks no rule.")
    elif desk.faults:
        st.caption("The layout is checked again as soon as nothing is left to fix.")


def _entry(key: str, where: str, path: Path, words: str) -> None:
    with st.container(border=True, gap="xsmall"):
        st.button(
            escape(where),
            key=f"go {key}",
            type="tertiary",
            icon=":material/arrow_forward:",
            on_click=go_to,
            args=(path,),
            wrap=True,
        )
        st.markdown(words)


def box_key(desk: str, path: Path) -> str:
    """Return the key of the part of a form that holds what stands at a path."""
    return f"{desk} {'.'.join(map(str, path))} box"


def more_key(desk: str, path: Path) -> str:
    """Return the key of the fold that holds the less usual fields of a record."""
    return box_key(desk, (*path, "more"))


def go_to(path: Path) -> None:
    """Show the record in which a path lies, opened there."""
    part = part_of(path)
    for k in range(1, len(path) + 1):
        st.session_state[box_key(st.session_state[OPEN], path[:k])] = True
    if path and path[-1] not in first_keys(part):
        st.session_state[more_key(st.session_state[OPEN], path[:-1])] = True
    st.session_state[VIEW] = EDITING
    st.session_state[PART] = part.key
    if part.many and len(path) > 1 and isinstance(path[1], int):
        st.session_state[RECORD] = record_key(part.key, path[1])


def _concerned(desk: Desk, placed: PlacedFinding) -> Path:
    """Return where a layout finding can be fixed: the line, structure or reach it is about, else the job."""
    for key in ("lines", "structures", "keep_open", "reaches"):
        ids = placed.reaches if key == "reaches" else placed.subject
        for k, row in enumerate(rows_at(desk.draft.data, (key,))):
            if isinstance(row, dict) and row.get("id") in ids:
                known = {f.key for f in parts()[key].fields}
                return (key, k, field_of(placed)) if field_of(placed) in known else (key, k)
    of_the_job = {f.key for f in parts()["site"].fields}
    return ("site", field_of(placed)) if field_of(placed) in of_the_job else (LOOSE,)
