"""One control for every kind of field. A control shows what the draft says and makes an edit when it is changed."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import streamlit as st

from app.address import say_anew
from app.components.form_faults import is_marked, show_beside
from app.components.form_fill import begun
from app.components.form_state import Desk, edit
from scheduler.site.editor import (
    FIRST_YEAR,
    LAST_YEAR,
    Draft,
    Field,
    FieldKind,
    Path,
    SitePart,
    inline,
    known_ids,
    parts,
    put,
    rows_at,
    unit_in_name,
    value_at,
)
from scheduler.units import format_amount, metric

LONGEST = 2000
_UNSET = object()


def show_field(desk: Desk, field: Field, path: Path) -> None:
    """Show the control of one field, with what is wrong below it.

    The box round it is always there: a field that got one while somebody types in it would lose what was typed.
    """
    with st.container(border=is_marked(desk, path, within=True), gap="xsmall"):
        CONTROLS[field.kind](desk, field, path)
        show_beside(desk, path, within=True)


def _text(desk: Desk, field: Field, path: Path) -> None:
    offered = desk.choices(field)
    if offered:
        _select(desk, field, path, offered)
        return
    key = _bound(desk, path, "text", _shown(value_at(desk.draft.data, path)))
    st.text_input(
        _label(field),
        key=key,
        help=field.help or None,
        placeholder=_hint(field),
        max_chars=LONGEST,
        on_change=_take,
        args=(key, path, _trimmed),
    )


def _number(desk: Desk, field: Field, path: Path) -> None:
    whole = field.kind is FieldKind.WHOLE
    given = value_at(desk.draft.data, path)
    value = _read_number(given, whole=whole)
    if (given is not None and value is None) or (metric() and unit_in_name(field.key)):
        _text(desk, field, path)  # it holds no number; it must be seen to be put right
        return
    key = _bound(desk, path, "number", value)
    st.number_input(
        _label(field),
        value=None,
        step=1 if whole else 1.0,
        format="%d" if whole else "%g",
        key=key,
        help=field.help or None,
        placeholder=_hint(field),
        on_change=_take,
        args=(key, path, lambda v: None if v is None else inline(v)),
    )


def _read_number(given: object, *, whole: bool) -> float | None:
    try:
        value = float(str(given))
    except ValueError:
        return None
    if not abs(value) < 1e12 or (whole and value != int(value)):
        return None
    return int(value) if whole else value


def _yes_no(desk: Desk, field: Field, path: Path) -> None:
    given = value_at(desk.draft.data, path)
    if field.default is None or given not in (None, "true", "false"):
        _select(desk, field, path, {"true": "yes", "false": "no"})
        return
    key = _bound(desk, path, "tick", (given or field.default) == "true")
    st.checkbox(
        field.label,
        key=key,
        help=field.help or None,
        on_change=_take,
        args=(key, path, lambda ticked: None if inline(ticked) == field.default and given is None else inline(ticked)),
    )


def _choice(desk: Desk, field: Field, path: Path) -> None:
    _select(desk, field, path, desk.choices(field))


def _select(desk: Desk, field: Field, path: Path, offered: dict[str, str]) -> None:
    given = value_at(desk.draft.data, path)
    value = given if isinstance(given, str) else None
    options = [*offered, *([value] if value is not None and value not in offered else [])]
    key = _bound(desk, path, "choice", value)
    say_anew(key, value if value is None else offered.get(value))
    named = named_alone(desk, field)
    st.selectbox(
        _label(field),
        options,
        index=None,
        key=key,
        format_func=lambda v: offered.get(v, v),
        help=field.help or None,
        placeholder=_hint(field) or (f"Choose, or type a new {named.noun}" if named else "Choose"),
        accept_new_options=named is not None,
        on_change=_take_name if named else _take,
        args=(key, path, named or _same),
    )


def named_alone(desk: Desk, field: Field) -> SitePart | None:
    """Return the part a field names records of, where a record of it needs no more than a name to begin with."""
    part = parts().get(field.names_in[0]) if len(field.names_in) == 1 else None
    if part is None or field.kind is not FieldKind.NAME:
        return None
    needed = {f.key for f in part.fields if f.required} - {"id", "name"}
    return (
        part if {"id", "name"} <= {f.key for f in part.fields} and needed <= set(begun(part, desk.draft.data)) else None
    )


def _take_name(key: str, path: Path, part: SitePart) -> None:
    """Put a name in the draft; one that no record has begins a record."""
    value = st.session_state[key]

    def change(draft: Draft) -> Draft:
        known = known_ids(draft.data, (part.key,))
        same = next((i for i, name in known.items() if str(value).strip().lower() in (i.lower(), name.lower())), None)
        if value is None or same:
            return draft.put(path, same)
        record = begun(part, draft.data) | {"name": str(value).strip()}
        rows = [*rows_at(draft.data, (part.key,)), record]
        return draft.changed(
            put(put(draft.data, (part.key,), rows), path, record["id"]), f"{part.label}: {value} added"
        )

    edit(change)


def _day(desk: Desk, field: Field, path: Path) -> None:
    given = value_at(desk.draft.data, path)
    try:
        value = None if given is None else date.fromisoformat(str(given))
    except ValueError:
        _text(desk, field, path)
        return
    key = _bound(desk, path, "day", value)
    st.date_input(
        _label(field),
        value=None,
        key=key,
        min_value=date(FIRST_YEAR, 1, 1),
        max_value=date(LAST_YEAR, 12, 31),
        format="YYYY-MM-DD",
        help=field.help or None,
        on_change=_take,
        args=(key, path, lambda day: None if day is None else day.isoformat()),
    )


def _list(desk: Desk, field: Field, path: Path) -> None:
    given = value_at(desk.draft.data, path)
    value = [str(v) for v in given if not isinstance(v, (list, dict))] if isinstance(given, list) else []
    offered = desk.choices(field)
    key = _bound(desk, path, "list", value)
    say_anew(key, [offered.get(v) for v in value])
    st.multiselect(
        _label(field),
        list(dict.fromkeys((*offered, *value))),
        key=key,
        format_func=lambda v: offered.get(v, v),
        accept_new_options=not offered and not field.names_in,
        help=" ".join(w for w in (field.help, f"Expected: {field.expected}.") if w),
        placeholder=_hint(field) or ("Choose" if offered or field.names_in else "Type one, then press Enter"),
        on_change=_take,
        args=(key, path, lambda chosen: list(chosen) or None),
    )


def _numbers(desk: Desk, field: Field, path: Path) -> None:
    value = _line(value_at(desk.draft.data, path))
    key = _bound(desk, path, "numbers", value)
    st.text_input(
        _label(field),
        key=key,
        help=field.help or None,
        placeholder="Such as 24, 36",
        on_change=_take,
        args=(key, path, _split),
    )


def _points(desk: Desk, field: Field, path: Path) -> None:
    given = value_at(desk.draft.data, path)
    key = _bound(desk, path, "points", "\n".join(_line(row) for row in given) if isinstance(given, list) else "")
    st.text_area(
        _label(field),
        key=key,
        help=field.help or None,
        placeholder="One a line, such as 0, 0",
        on_change=_take,
        args=(key, path, lambda text: [_split(row) for row in text.splitlines() if row.strip()] or None),
    )


def _table(desk: Desk, field: Field, path: Path) -> None:
    given = value_at(desk.draft.data, path)
    rows = [f"{k}: {_shown(v)}" for k, v in given.items()] if isinstance(given, dict) else []
    key = _bound(desk, path, "table", "\n".join(rows))
    st.text_area(
        _label(field),
        key=key,
        help=field.help or None,
        placeholder="One a line, such as R1/dig: 4",
        on_change=_take,
        args=(key, path, _read_table),
    )


def _read_table(text: str) -> dict[str, str | None] | None:
    pairs = [row.rpartition(":") for row in text.splitlines() if row.strip()]
    return {(name or value).strip(): value.strip() if name else None for name, _, value in pairs} or None


def _line(value: object) -> str:
    return ", ".join(_shown(v) for v in value) if isinstance(value, list) else _shown(value)


def _split(text: str) -> list[str] | None:
    return text.replace(",", " ").split() or None


def _trimmed(text: str | None) -> str | None:
    return (text or "").strip() or None


def _same(value: object) -> object:
    return value


def _shown(value: object) -> str:
    return "" if value is None else "a record" if isinstance(value, (dict, list)) else str(value)


def _label(field: Field) -> str:
    title = field.label if metric() and unit_in_name(field.key) else field.title
    return f"{title} *" if field.required else title


def _hint(field: Field) -> str:
    """Say in the empty control what leaving it empty means."""
    unit = unit_in_name(field.key) if metric() else ""
    if unit and field.default:
        return f"{format_amount(float(field.default), unit)}, the usual"
    if field.default:
        return f"{field.default.replace('_', ' ')}, the usual"
    if field.if_empty:
        return field.if_empty
    such = field.expected.partition("such as ")[2]
    return f"Such as {such}" if such else ""


def _bound(desk: Desk, path: Path, control: str, value: object) -> str:
    """Return the key of a control, which now shows what the draft says."""
    key = f"{desk.key} {'.'.join(map(str, path))} {control}"
    if st.session_state.get(key, _UNSET) != value:
        st.session_state[key] = value
    return key


def _take(key: str, path: Path, read: Callable[[Any], Any]) -> None:
    """Put what a control now says in the draft."""
    value = read(st.session_state[key])
    edit(lambda draft: draft.put(path, value))


CONTROLS: dict[FieldKind, Callable[[Desk, Field, Path], None]] = {
    FieldKind.TEXT: _text,
    FieldKind.WORDED: _text,
    FieldKind.NUMBER: _number,
    FieldKind.WHOLE: _number,
    FieldKind.YES_NO: _yes_no,
    FieldKind.CHOICE: _choice,
    FieldKind.NAME: _choice,
    FieldKind.DAY: _day,
    FieldKind.LIST: _list,
    FieldKind.NUMBERS: _numbers,
    FieldKind.POINTS: _points,
    FieldKind.TABLE: _table,
}
"""The control of every kind that is no record."""
