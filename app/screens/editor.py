"""The site editor: every part of a site file as forms and tables, judged as it is typed, on a copy of the open site."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import streamlit as st

from app.address import choose
from app.components.form_faults import PART, RECORD, record_key, show_all, summary
from app.components.form_import import show_import
from app.components.form_new import show_new
from app.components.form_record import add_record, show_record, take_out
from app.components.form_save import show_save
from app.components.form_state import Desk, blank, desk, edit, follow
from app.components.form_table import show_table
from app.components.show_cautions import show_cautions
from app.components.show_faults import show_faults
from app.words import count, escape
from scheduler import BadInput
from scheduler.site.editor import LOOSE, Draft, SitePart, parts, record_name, rows_at, units_said
from scheduler.units import tell_in

VIEW = "editor-view"
# A table needs a wide screen; on a phone records are edited one at a time. The table's own tools would write
# cells to CSV as they stand, formulas too; the page Import writes them safely.
STYLE = """<style>
.st-key-editor-table [data-testid=stElementToolbar] { display: none }
@media (max-width: 768px) { .st-key-editor-table { display: none } }
</style>"""


def show(name: str, path: Path) -> None:
    """Show the draft of the open site, or the one begun in this session."""
    try:
        follow(name, path)
    except BadInput as bad:
        show_faults(path.name, bad)
        return
    tell_in(units_said(desk().draft.data))
    st.html(STYLE)
    st.title("Site editor")
    _bar(desk())
    views: dict[str, Callable[[Desk], None]] = {
        "Edit": _edit,
        "To mend": _to_mend,
        "Import": show_import,
        "Save and plan": show_save,
        "New site": show_new,
    }
    view = st.segmented_control(
        "What to do",
        list(views),
        default="Edit",
        key=VIEW,
        required=True,
        persist_state="session",
        label_visibility="collapsed",
    )
    views[view or "Edit"](desk())


def _bar(at: Desk) -> None:
    """Say what is edited and how it stands; offer to take edits back."""
    draft = at.draft
    done = f", {count(len(draft.past), 'edit')}" if draft.past else ""
    st.markdown(f"A copy of **{escape(draft.name)}**{done}. Nothing is changed elsewhere until you save or plan it.")
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


def _to_mend(at: Desk) -> None:
    show_all(at)
    show_cautions()


def _edit(at: Desk) -> None:
    names = {key: _part_name(at, part) for key, part in parts().items()}
    part = parts()[choose("Part of the site", names, key=PART, what="part of the site") or "site"]
    st.caption(f"{part.help} Fields with \\* are needed.")
    if part.many:
        _records(at, part)
    else:
        show_record(at, part.fields, () if part.key == LOOSE else (part.key,))
    show_cautions()


def _part_name(at: Desk, part: SitePart) -> str:
    number = f" ({len(rows_at(at.draft.data, (part.key,)))})" if part.many else ""
    known = parts().keys() - {LOOSE}
    faults = [f for f in at.faults if (str(f.path[0]) if f.path else "") == part.key]
    if part.key == LOOSE:
        faults = [f for f in at.faults if not f.path or f.path[0] not in known]
    return f"{part.label}{number}" + (f" · {len(faults)} to mend" if faults else "")


def _records(at: Desk, part: SitePart) -> None:
    rows = rows_at(at.draft.data, (part.key,))
    for fault in at.faults_at((part.key,), within=False):
        st.markdown(f":material/edit_note: **To mend** · {escape(fault.text)}")
    if rows:
        with st.container(key="editor-table"):
            show_table(at, part)
    names = {record_key(part.key, k): f"{k + 1} · {record_name(part, row, k)}" for k, row in enumerate(rows)}
    chosen = choose(part.noun.capitalize(), names, key=RECORD, what=part.noun) if names else None
    index = int(chosen.rpartition(".")[2]) - 1 if chosen else None
    with st.container(horizontal=True, gap="small"):
        new = {"id": _free_id(at, part)} if any(f.key == "id" for f in part.fields) else {}
        _add_button(part, f"Add {part.noun}", "add", len(rows), new | blank(part.fields, at.draft.data))
        if index is not None:
            if isinstance(rows[index], dict):
                _add_button(part, "Add a copy", "copy", index + 1, rows[index] | new)
            st.button(
                "Take it out",
                key="take-out",
                icon=":material/delete:",
                on_click=take_out,
                args=((part.key, index),),
            )
    if index is None:
        st.info(f"There is no {part.noun} yet.")
    else:
        show_record(at, part.fields, (part.key, index))


def _add_button(part: SitePart, label: str, key: str, index: int, record: object) -> None:
    st.button(label, key=f"{key}-record", icon=":material/add:", on_click=_add, args=(part, index, record))


def _add(part: SitePart, index: int, record: object) -> None:
    """Add a record and show its form."""
    add_record((part.key, index), record)
    st.session_state[RECORD] = record_key(part.key, index)


def _free_id(at: Desk, part: SitePart) -> str:
    """Return an id that no record of a part has."""
    taken = {row.get("id") for row in rows_at(at.draft.data, (part.key,)) if isinstance(row, dict)}
    word = part.noun.replace(" ", "-")
    return next(i for n in range(1, len(taken) + 2) if (i := f"{word}-{n}") not in taken)
