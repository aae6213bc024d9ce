"""A draft's places and changes in plain words: `Lines, Service conduit, cover (in): 24 → 12`."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from scheduler.site.draft_paths import Data, rows_at, value_at
from scheduler.site.editing import LOOSE, Field, FieldKind, SitePart, fields_of, parts
from scheduler.site.faults import Path, short


def part_of(path: Path) -> SitePart:
    """Return the part in which a path lies; the loose fields for one that lies nowhere."""
    known = parts()
    return known.get(str(path[0]) if path else "", known[LOOSE])


def record_name(part: SitePart, row: Any, index: int) -> str:
    """Say which record of a part this is: its name, or what else tells it from the others."""
    row = row if isinstance(row, dict) else {}
    name = next((str(row[k]) for k in ("name", "id", "rule", "number") if row.get(k)), "")
    return short(name) or f"{part.noun} {index + 1}"


def field_at(path: Path) -> Field | None:
    """Return the field that a path leads to, or into."""
    part = part_of(path)
    steps = path if part.key == LOOSE else path[1:]
    fields, found = part.fields, None
    for step in steps:
        if isinstance(step, str):
            hit = next((f for f in fields if f.key == step), None)
            if hit is None:
                break
            found = hit
            inner = f"{hit.place}.*" if hit.kind is FieldKind.RECORDS else hit.place
            fields = fields_of(hit.record, inner) if hit.record else ()
    return found


def spoken(data: Data, path: Path) -> str:
    """Say where a path leads: `Lines, Service conduit, route 2, from`."""
    part = part_of(path)
    words = [part.label]
    rest = path if part.key == LOOSE else path[1:]
    if part.many and rest and isinstance(rest[0], int):
        words.append(record_name(part, value_at(data, path[:2]), rest[0]))
        rest = rest[1:]
    for k, step in enumerate(rest):
        if isinstance(step, int):
            words[-1] += f" {step + 1}"
        else:
            field = field_at(path[: len(path) - len(rest) + k + 1])
            title = field.title if field is not None and field.key == step else short(step)
            words.append(title[:1].lower() + title[1:])
    return ", ".join(words)


def said(data: Data, path: Path, old: object, new: object) -> str:
    """Say one change of one value."""
    return f"{spoken(data, path)}: {_shown(old)} → {_shown(new)}"


def _shown(value: Any) -> str:
    if value is None or value == []:
        return "not given"
    if isinstance(value, list):
        return ", ".join(_shown(v) for v in value[:6]) + (" …" if len(value) > 6 else "")
    if isinstance(value, dict):
        return " ".join(_shown(v) for v in value.values()) or "given"
    return short(str(value))


def changes(old: Data, new: Data) -> list[str]:
    """Say every difference between two states of a site, in the order of the file."""
    found: list[str] = []
    for part in parts().values():
        if part.many:
            found.extend(_of_records(part, old, new))
        elif part.key == LOOSE:
            found.extend(_of_record((), _loose(old), _loose(new), new))
        else:
            found.extend(_of_record((part.key,), value_at(old, (part.key,)), value_at(new, (part.key,)), new))
    return found


def _loose(data: Data) -> Data:
    others = parts().keys() - {LOOSE}
    return {k: v for k, v in data.items() if k not in others}


def _of_records(part: SitePart, old: Data, new: Data) -> Iterator[str]:
    before, after = (_named(rows_at(data, (part.key,))) for data in (old, new))
    gone = {i: name for name, (i, _) in before.items() if name not in after}
    pairs = {name: name if name in before else gone.pop(i, None) for name, (i, _) in after.items()}
    for i, name in gone.items():
        yield f"{part.label}: {record_name(part, before[name][1], i)} removed"
    for name, (i, row) in after.items():
        was = pairs[name]
        if was is None:
            yield f"{part.label}: {record_name(part, row, i)} added"
        else:
            yield from _of_record((part.key, i), before[was][1], row, new)


def _named(rows: list[Any]) -> dict[str, tuple[int, Any]]:
    """Return rows with their places, by id or by place; a row whose id alone changed keeps its place."""
    return {
        (row["id"] if isinstance(row, dict) and isinstance(row.get("id"), str) else f" {i}"): (i, row)
        for i, row in enumerate(rows)
    }


def _of_record(path: Path, old: Any, new: Any, data: Data) -> Iterator[str]:
    if not isinstance(old, dict) or not isinstance(new, dict):
        if old != new:
            yield said(data, path, old, new)
        return
    for key in dict.fromkeys((*old, *new)):
        if old.get(key) != new.get(key):
            yield said(data, (*path, key), old.get(key), new.get(key))
