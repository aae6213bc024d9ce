"""The site editor: every part of a site file as forms and tables, judged as it is typed, on a copy of the open site."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import streamlit as st

from app.address import choose, settle
from app.components.form_drawing import DRAWN, show_drawing
from app.components.form_faults import EDITING, PART, RECORD, VIEW, record_key, show_all, summary
from app.components.form_fill import begun
from app.components.form_import import show_import
from app.components.form_new import show_new
from app.components.form_record import add_record, show_record, take_out
from app.components.form_save import show_save
from app.components.form_state import Desk, desk, drafts, edit, follow, keep_at_reload, take_up
from app.components.form_steps import SAVING, faults_of, in_order, show_next, show_steps
from app.components.form_table import show_table
from app.components.form_words import say_fault
from app.components.show_cautions import show_cautions
from app.components.show_faults import show_faults
from app.session import given_file, uploads
from app.words import count, escape
from scheduler import BadInput
from scheduler.ledger import library
from scheduler.site.editor import LOOSE, Draft, SitePart, parts, record_name, rows_at, units_said
from scheduler.units import tell_in

NEW, NEW_FIRST = "New site", "editor new first"
# A table needs a wide screen; on a phone records are edited one at a time. The table's own tools would write
# cells to CSV as they stand, formulas too; the page Import writes them safely.
STYLE = """<style>
.st-key-editor-table [data-testid=stElementToolbar] { display: none }
.st-key-steps button { min-height: 44px }
@media (max-width: 768px) { .st-key-editor-table { display: none } }
</style>"""


def show(name: str, path: Path) -> None:
    """Show the draft of the open site, or the one begun in this session."""
    take_up(name, path)
    try:
        follow(name, path)
    except BadInput as bad:
        show_faults(path.name, bad)
        return
    tell_in(units_said(desk().draft.data))
    kept = keep_at_reload()
    st.html(STYLE)
    st.title("Site editor")
    no_own = NEW_FIRST not in st.session_state and nothing_own() and PART not in st.query_params
    st.session_state.setdefault(NEW_FIRST, no_own)
    first = st.session_state[NEW_FIRST] and nothing_own()
    if VIEW in st.session_state or not first:
        _bar(desk(), kept=kept)
    views: dict[str, Callable[[Desk], None]] = {
        EDITING: _edit,
        "To fix": _to_fix,
        "Import": show_import,
        SAVING: show_save,
        NEW: show_new,
    }
    if first:
        views = {NEW: show_new} | views
    view = st.segmented_control(
        "What to do",
        list(views),
        default=None if VIEW in st.session_state else next(iter(views)),
        key=VIEW,
        required=True,
        persist_state="session",
        label_visibility="collapsed",
    )
    views[view or EDITING](desk())


def _bar(at: Desk, *, kept: bool) -> None:
    """Say what is edited and how it stands; offer to take edits back."""
    draft = at.draft
    done = f", {count(len(draft.past), 'edit')}" if draft.past else ""
    st.markdown(f"A copy of **{escape(draft.name)}**{done}. Nothing is changed elsewhere until you save or plan it.")
    if not kept:
        st.warning("This copy could not be kept on disk: a reload would lose it. Download it under Save and plan.")
    with st.container(horizontal=True, vertical_alignment="center", gap="small"):
        back = draft.past[-1].words if draft.past else ""
        st.button(
            "Undo",
            key="undo",
            icon=":material/undo:",
            disabled=not back,
            help=escape(f"Take back: {back}") if back else None,
            on_click=edit,
            args=(Draft.undone,),
        )
        again = draft.future[-1].words if draft.future else ""
        st.button(
            "Redo",
            key="redo",
            icon=":material/redo:",
            disabled=not again,
            help=escape(f"Do again: {again}") if again else None,
            on_click=edit,
            args=(Draft.redone,),
        )
        icon = ":material/edit_note:" if at.faults else ":material/straighten:" if at.layout else ":material/check:"
        st.markdown(f"{icon} {summary(at)}")


def _to_fix(at: Desk) -> None:
    show_all(at)
    show_cautions()


def _edit(at: Desk) -> None:
    names = {key: _part_name(at, parts()[key]) for key in in_order()}
    settle(PART, names)
    show_steps(at, st.session_state.get(PART) or next(iter(names)))
    part = parts()[choose("Part of the site", names, key=PART, what="part of the site") or "site"]
    form, drawing = st.columns([3, 2], gap="medium") if part.key in DRAWN else (st.container(), None)
    with form:
        st.caption(f"{part.help} Fields with \\* are needed.")
        index = None
        if part.many:
            index = _records(at, part)
        else:
            show_record(at, part.fields, () if part.key == LOOSE else (part.key,))
            show_next(part.key)
    if drawing is not None:
        with drawing:
            show_drawing(at, part.key, index)
    show_cautions()


def _part_name(at: Desk, part: SitePart) -> str:
    number = f" ({len(rows_at(at.draft.data, (part.key,)))})" if part.many else ""
    faults = faults_of(at, part.key)
    return f"{part.label}{number}" + (f" · {len(faults)} to fix" if faults else "")


def _records(at: Desk, part: SitePart) -> int | None:
    """Show the records of a part, one of them as a form; return which."""
    rows = rows_at(at.draft.data, (part.key,))
    for fault in at.faults_at((part.key,), within=False) if rows else ():
        st.markdown(f":material/edit_note: **To fix** · {say_fault(fault)}")
    names = {record_key(part.key, k): f"{k + 1} · {record_name(part, row, k)}" for k, row in enumerate(rows)}
    settle(RECORD, names)
    if names:  # said anew, or the control would go on showing the record of another part
        st.session_state.setdefault(RECORD, next(iter(names)))
    chosen = choose(part.noun.capitalize(), names, key=RECORD, what=part.noun) if names else None
    index = int(chosen.rpartition(".")[2]) - 1 if chosen else None
    with st.container(horizontal=True, gap="small"):
        new = begun(part, at.draft.data)
        _add_button(part, f"Add {part.noun}", "add", len(rows), new)
        if index is not None:
            if isinstance(rows[index], dict):
                own_id = {"id": new["id"]} if "id" in new else {}
                _add_button(part, "Add a copy", "copy", index + 1, rows[index] | own_id)
            st.button(
                "Remove",
                key="take-out",
                icon=":material/delete:",
                on_click=take_out,
                args=((part.key, index),),
            )
    if index is None:
        st.info(f"There is no {part.noun} yet.")
    else:
        show_record(at, part.fields, (part.key, index))
    show_next(part.key)
    if rows:
        with st.container(key="editor-table"):
            st.caption(f"All {part.label.lower()} as a table, which can be typed in too.")
            show_table(at, part)
    return index


def _add_button(part: SitePart, label: str, key: str, index: int, record: object) -> None:
    st.button(label, key=f"{key}-record", icon=":material/add:", on_click=_add, args=(part, index, record))


def _add(part: SitePart, index: int, record: object) -> None:
    """Add a record and show its form."""
    add_record((part.key, index), record)
    st.session_state[RECORD] = record_key(part.key, index)


def nothing_own() -> bool:
    """Tell whether nobody has a site of their own here yet: no file, no upload, no job, no draft."""
    return not (library() or uploads() or given_file() or any(d.file is None or d.past for d in drafts().values()))
