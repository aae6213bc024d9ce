"""All records of one part as a table of their simple fields; what nests deeper is in the form below it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import pandas as pd
import streamlit as st

from app.components.form_state import Desk, blank, edit
from scheduler.site.editor import Data, Draft, Field, FieldKind, SitePart, changes, inline, put, rows_at

TABLE = "editor table"
ROW_PX, MOST_ROWS = 35, 12
_NUMBERS = (FieldKind.NUMBER, FieldKind.WHOLE)


@dataclass
class _Table:
    """The table on screen: the rows it began with, and the rows it has come to."""

    desk: str
    part: str
    number: int
    began: list[Any]
    now: list[Any]

    @property
    def key(self) -> str:
        """A table that begins anew is another control."""
        return f"{TABLE} {self.desk} {self.part} {self.number}"


def show_table(desk: Desk, part: SitePart) -> None:
    """Show the records of a part as a table that can be typed in."""
    table = _current(desk, part)
    frame = pd.DataFrame([[_cell(f, row) for f in part.simple] for row in table.began], columns=_keys(part)).astype(
        object
    )
    st.data_editor(
        frame,
        key=table.key,
        num_rows="dynamic",
        hide_index=True,
        height=(min(len(frame), MOST_ROWS) + 2) * ROW_PX,
        column_config={f.key: _column(desk, f, table.began) for f in part.simple},
        on_change=_take,
        args=(part, table),
        placeholder="",
        alt=f"{part.label} as a table, a {part.noun} a row",
    )


def _current(desk: Desk, part: SitePart) -> _Table:
    """Return the table on screen, begun anew when the draft was changed elsewhere; typing on keeps its place."""
    rows = rows_at(desk.draft.data, (part.key,))
    table: _Table | None = st.session_state.get(TABLE)
    if table is None or (table.desk, table.part) != (desk.key, part.key) or table.now != rows:
        table = _Table(desk.key, part.key, table.number + 1 if table else 0, rows, rows)
        st.session_state[TABLE] = table
    return table


def _keys(part: SitePart) -> list[str]:
    return [f.key for f in part.simple]


def _cell(field: Field, row: Any) -> Any:
    value: Any = row.get(field.key) if isinstance(row, dict) else None
    if field.kind is FieldKind.YES_NO and field.default is not None:
        return (value or field.default) == "true"
    if field.kind in _NUMBERS and _is_number(value):
        return float(value)
    return value if value is None or isinstance(value, str) else "a record"


def _is_number(value: Any) -> bool:
    try:
        return abs(float(value)) < 1e12
    except (TypeError, ValueError):
        return False


def _column(desk: Desk, field: Field, rows: list[Any]) -> Any:
    label = f"{field.title} *" if field.required else field.title
    given = [v for row in rows if isinstance(row, dict) and (v := row.get(field.key)) is not None]
    about = field.help or None
    if field.kind is FieldKind.YES_NO and field.default is not None:
        return st.column_config.CheckboxColumn(label, help=about, default=field.default == "true")
    if field.kind in _NUMBERS and all(map(_is_number, given)):
        return st.column_config.NumberColumn(label, help=about, format="%g")
    offered = {"true": "yes", "false": "no"} if field.kind is FieldKind.YES_NO else desk.choices(field)
    if offered:
        options = [*offered, *(v for v in dict.fromkeys(map(str, given)) if v not in offered)]
        return st.column_config.SelectboxColumn(label, help=about, options=options)
    return st.column_config.TextColumn(label, help=about)


def _take(part: SitePart, table: _Table) -> None:
    """Put what was typed in the table into the draft."""
    typed = st.session_state[table.key]

    def change(draft: Draft) -> Draft:
        rows = _typed_rows(part, table.began, typed, draft.data)
        cells = [
            ((part.key, i, f.key), after.get(f.key))
            for i, (before, after) in enumerate(zip(table.now, rows, strict=False))
            for f in part.simple
            if isinstance(before, dict) and before.get(f.key) != after.get(f.key)
        ]
        if len(rows) == len(table.now) and len(cells) == 1:
            new = draft.put(*cells[0])  # so that whatever refers to a changed id follows it
        else:
            data = put(draft.data, (part.key,), rows)
            said = changes(draft.data, data)
            words = said[0] if len(said) == 1 else f"{part.label}: {len(said)} changes in the table"
            new = draft.changed(data, words)
        table.now = rows
        return new

    edit(change)


def _typed_rows(part: SitePart, began: list[Any], typed: dict[str, Any], data: Data) -> list[Any]:
    """Return the rows a table began with, with all that was typed in it since."""
    fields = {f.key: f for f in part.simple}
    rows = [dict(row) if isinstance(row, dict) else {} for row in began]
    for index, cells in typed["edited_rows"].items():
        _fill(rows[int(index)], cells, fields)
    kept = [row for k, row in enumerate(rows) if k not in typed["deleted_rows"]]
    for cells in typed["added_rows"]:
        row: dict[str, Any] = blank(part.fields, data)
        _fill(row, cells, fields)
        kept.append(row)
    return kept


def _fill(row: dict[str, Any], cells: dict[str, Any], fields: dict[str, Field]) -> None:
    for key, value in cells.items():
        if key not in fields:
            continue
        text = _text(value)
        if text is None or (text == fields[key].default and fields[key].kind is FieldKind.YES_NO and key not in row):
            row.pop(key, None)
        else:
            row[key] = text


def _text(value: Any) -> str | None:
    if value is None:
        return None
    if isinstance(value, str):
        return value.strip() or None
    return inline(value)
