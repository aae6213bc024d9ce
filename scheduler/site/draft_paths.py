"""Plain data read and changed at a path; every change leaves the old data as it was."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any

from scheduler.site.faults import Path
from scheduler.site.fields import bare_name
from scheduler.site.references import REFERENCES, sections_named_at

Data = dict[str, Any]
"""A site file as plain data: records, lists, text and None, keyed as in the file."""


def value_at(data: Any, path: Path) -> Any:
    """Return the value at a path, or None where there is none."""
    for step in path:
        if isinstance(step, str):
            data = data.get(_written(data, step)) if isinstance(data, dict) else None
        else:
            data = data[step] if isinstance(data, list) and 0 <= step < len(data) else None
    return data


def _written(record: Data, name: str) -> str:
    """Return the name under which a record gives a field: `cover` where it has that in place of `cover_in`."""
    return bare if name not in record and (bare := bare_name(name)) in record else name


def rows_at(data: Any, path: Path) -> list[Any]:
    """Return the list at a path, empty where there is none."""
    found = value_at(data, path)
    return found if isinstance(found, list) else []


def put(data: Data, path: Path, value: Any) -> Data:
    """Return data with a value at a path; None, or an empty list, takes the field away."""
    found: Data = _put(data, path, value)
    return found


def _put(inside: Any, path: Path, value: Any) -> Any:
    step, rest = path[0], path[1:]
    if isinstance(step, int):
        rows = list(inside) if isinstance(inside, list) else []
        rows.extend([None] * (step + 1 - len(rows)))
        rows[step] = _put(rows[step], rest, value) if rest else value
        return rows
    record = dict(inside) if isinstance(inside, dict) else {}
    step = _written(record, step)
    new = _put(record.get(step), rest, value) if rest else value
    if new is None or new == []:
        record.pop(step, None)
    else:
        record[step] = new
    return record


def insert(data: Data, path: Path, value: Any) -> Data:
    """Return data with a new item in a list, at a path that ends in its place there."""
    *around, k = path
    rows = rows_at(data, tuple(around))
    return put(data, tuple(around), [*rows[: int(k)], value, *rows[int(k) :]])


def drop(data: Data, path: Path) -> Data:
    """Return data without the field or list item at a path."""
    *around, last = path
    if isinstance(last, str):
        return put(data, path, None)
    rows = rows_at(data, tuple(around))
    return put(data, tuple(around), [row for k, row in enumerate(rows) if k != last])


def known_ids(data: Data, sections: tuple[str, ...]) -> dict[str, str]:
    """Return the ids in some sections, each with the name of its record or ''."""
    rows = [row for section in sections for row in rows_at(data, (section,)) if isinstance(row, dict)]
    return {row["id"]: str(row.get("name") or "") for row in rows if isinstance(row.get("id"), str)}


def renamed(data: Data, section: str, old: str, new: str) -> Data:
    """Return data in which what refers to a record of a section by its old id says the new one."""

    def change(value: Any) -> Any:
        return new if value == old else value

    for at, steps, targets in REFERENCES:
        if section in targets and isinstance(data.get(at), list):
            data = put(data, (at,), [_changed(row, steps.split("."), change) for row in data[at]])
    if section in sections_named_at("site.general_trade") and isinstance(data.get("site"), dict):
        data = put(data, ("site",), _changed(data["site"], ["general_trade"], change))
    if section in sections_named_at("keep_open.released_by"):
        rows = [_changed(row, ["released_by"], change) for row in rows_at(data, ("keep_open",))]
        data = put(data, ("keep_open",), rows)
    return data


def _changed(value: Any, steps: list[str], change: Callable[[Any], Any]) -> Any:
    if not steps:
        return change(value)
    if steps[0] == "*":
        return [_changed(item, steps[1:], change) for item in value] if isinstance(value, list) else value
    if isinstance(value, dict) and steps[0] in value:
        return value | {steps[0]: _changed(value[steps[0]], steps[1:], change)}
    return value


def scalars(data: Any, path: Path = ()) -> Iterator[tuple[Path, str]]:
    """Give every text in plain data with its path."""
    if isinstance(data, dict):
        for key, value in data.items():
            yield from scalars(value, (*path, key))
    elif isinstance(data, list):
        for k, value in enumerate(data):
            yield from scalars(value, (*path, k))
    elif isinstance(data, str):
        yield path, data
