"""The form of one record: its fields side by side, then the records within it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import streamlit as st

from app.components.form_controls import CONTROLS, show_field
from app.components.form_faults import box_key, is_marked, more_key, say_finding, show_beside
from app.components.form_state import Desk, blank, edit, field_of, first_keys, holds_record
from app.words import escape
from scheduler.site.editor import Draft, Field, FieldKind, Path, drop, fields_of, part_of, rows_at, spoken, value_at

COLUMNS = 3


def show_record(desk: Desk, fields: tuple[Field, ...], path: Path) -> None:
    """Show the form of the record at a path; `()` holds the fields of the whole file."""
    show_beside(desk, path, within=False)
    if len(path) == 2:
        _findings_elsewhere(desk, path)
    flat = [f for f in fields if f.kind in CONTROLS]
    part = part_of(path)
    asked = first_keys(part) if path and path == ((part.key, path[1]) if part.many else (part.key,)) else ()
    first = [f for f in flat if f.key in asked] if asked else flat
    _grid(desk, sorted(first, key=lambda f: asked.index(f.key)) if asked else first, path)
    nested = [f for f in fields if f.kind in (FieldKind.RECORD, FieldKind.RECORDS)]
    for field in nested:
        if field.required:
            _inner(desk, field, path)
    _more(desk, [f for f in flat if f not in first], path)
    for field in nested:
        if not field.required:
            _inner(desk, field, path)
    _unknown(desk, fields, path)


def _grid(desk: Desk, fields: Sequence[Field], path: Path) -> None:
    for k in range(0, len(fields), COLUMNS):
        for column, field in zip(st.columns(COLUMNS), fields[k : k + COLUMNS], strict=False):
            with column:
                show_field(desk, field, (*path, field.key))


def _more(desk: Desk, fields: Sequence[Field], path: Path) -> None:
    """Fold what is seldom asked; each control says in grey what holds while it is left empty."""
    if not fields:
        return
    given = sum(value_at(desk.draft.data, (*path, f.key)) is not None for f in fields)
    wrong = sum(is_marked(desk, (*path, f.key), within=True) for f in fields)
    words = [f"More about this {part_of(path).noun}", f"{given} of {len(fields)} given, the rest as usual"]
    words.append(f"{wrong} to look at" if wrong else "")
    box = st.expander(
        " · ".join(w for w in words if w),
        expanded=bool(wrong),
        key=more_key(desk.key, path),
        on_change="rerun",
    )
    if box.open:
        with box:
            _grid(desk, fields, path)


def _inner(desk: Desk, field: Field, path: Path) -> None:
    if field.kind is FieldKind.RECORD:
        _nested(desk, field, (*path, field.key))
    else:
        _nested_list(desk, field, (*path, field.key))


def _findings_elsewhere(desk: Desk, path: Path) -> None:
    """Show the layout findings about a record that belong to none of its fields."""
    record = value_at(desk.draft.data, (*path, "id"))
    part = part_of(path)
    keys = {f.key for f in part.fields}
    for placed in desk.findings_of(part, record) if isinstance(record, str) else []:
        if field_of(placed) not in keys:
            st.markdown(f":material/straighten: {say_finding(placed)}")


def _nested(desk: Desk, field: Field, path: Path) -> None:
    fields = fields_of(holds_record(field), field.place)
    given = value_at(desk.draft.data, path)
    box = _box(desk, field, path, "" if given is None else "given")
    if not box.open:
        return
    with box:
        if given is None and not field.required:
            show_beside(desk, path, within=False)
            start = blank(fields, desk.draft.data)
            label = f"Add {field.label.lower()}"
            st.button(label, key=_key(desk, path, "add"), icon=":material/add:", on_click=_put, args=(path, start))
        else:
            show_record(desk, fields, path)
            if not field.required:
                _take_out_button(desk, path, field.label.lower())


def _nested_list(desk: Desk, field: Field, path: Path) -> None:
    fields = fields_of(holds_record(field), f"{field.place}.*")
    rows = rows_at(desk.draft.data, path)
    one = field.label.removesuffix("s")
    box = _box(desk, field, path, str(len(rows)) if rows else "")
    if not box.open:
        return
    with box:
        show_beside(desk, path, within=False)
        for k in range(len(rows)):
            with st.container(border=True):
                st.markdown(f"**{one} {k + 1}**")
                show_record(desk, fields, (*path, k))
                _take_out_button(desk, (*path, k), f"{one.lower()} {k + 1}")
        st.button(
            f"Add to {field.label.lower()}",
            key=_key(desk, path, "add"),
            icon=":material/add:",
            on_click=add_record,
            args=((*path, len(rows)), blank(fields, desk.draft.data)),
        )


def _box(desk: Desk, field: Field, path: Path, holds: str) -> Any:
    """Return a part of a form that opens and shuts; one that needs to be seen begins open."""
    faults = desk.faults_at(path, within=True)
    words = [f"**{field.label}**" + (r" \*" if field.required else ""), holds]
    words.append(f"{len(faults)} to fix" if faults else "")
    box = st.expander(
        " · ".join(w for w in words if w),
        expanded=field.required or bool(faults),
        key=box_key(desk.key, path),
        on_change="rerun",
    )
    about = field.help or " ".join((holds_record(field).__doc__ or "").split())
    box.caption(escape(about))
    return box


def _take_out_button(desk: Desk, path: Path, what: str) -> None:
    st.button(
        f"Remove {what}",
        key=_key(desk, path, "drop"),
        icon=":material/delete:",
        type="tertiary",
        on_click=take_out,
        args=(path,),
    )


def _unknown(desk: Desk, fields: tuple[Field, ...], path: Path) -> None:
    """Show what stands in a record under no known name; it can only be removed."""
    record = value_at(desk.draft.data, path)
    known = {f.key for f in fields}
    for key in [k for k in record if k not in known] if path and isinstance(record, dict) else []:
        with st.container(border=True):
            st.markdown(f"**{escape(key)}**")
            show_beside(desk, (*path, key), within=True)
            _take_out_button(desk, (*path, key), "this field")


def _key(desk: Desk, path: Path, what: str) -> str:
    return f"{desk.key} {'.'.join(map(str, path))} {what}"


def _put(path: Path, value: object) -> None:
    edit(lambda draft: draft.put(path, value))


def add_record(path: Path, record: object) -> None:
    """Add a record to a list, at a path that ends in its place there."""

    def change(draft: Draft) -> Draft:
        return draft.added(path, record, f"{spoken(draft.data, path[:-1])}: one added")

    edit(change)


def take_out(path: Path) -> None:
    """Remove a record or a field."""
    edit(lambda draft: draft.changed(drop(draft.data, path), f"{spoken(draft.data, path)}: removed"))
