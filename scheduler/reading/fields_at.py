"""The fields of a site file by their place, such as `lines.test.hold_hours`."""

from __future__ import annotations

import re
from collections.abc import Iterator

from scheduler.site.editing import LOOSE, Field, FieldKind, SitePart, fields_of, parts
from scheduler.site.fields import Record


def field_at_place(place: str) -> Field:
    """Return the field that stands at a place such as `lines.cover_in`; KeyError when there is none."""
    for part in parts().values():
        for at, field in fields_in(part):
            if at == place:
                return field
    raise KeyError(place)


def places_of(key: str) -> tuple[str, ...]:
    """Return the places of the fields of parts that have a key such as `cover_in`."""
    return tuple(f"{part.key}.{field.key}" for part in parts().values() for field in part.fields if field.key == key)


def fields_in(part: SitePart) -> Iterator[tuple[str, Field]]:
    """Yield the fields of a part with their places, those inside another record after the one that holds it."""
    yield from _fields("" if part.key == LOOSE else part.key, part.fields)


def fields_of_record(record: type[Record]) -> Iterator[tuple[str, Field]]:
    """Yield the fields of a record that is no part of a site, such as a rule sheet, in the same way."""
    yield from _fields("", fields_of(record, ""))


def plain_help(field: Field) -> str:
    """Return what the record says of a field, in the words of somebody who writes a file."""
    told = re.sub(r"\bNone(?=:| with)", "left out", field.help)
    return told[:1].upper() + told[1:]


def _fields(inside: str, fields: tuple[Field, ...]) -> Iterator[tuple[str, Field]]:
    for field in fields:
        place = f"{inside}.{field.key}" if inside else field.key
        yield place, field
        if field.record is not None:
            at = f"{field.place}.*" if field.kind is FieldKind.RECORDS else field.place
            yield from _fields(place, fields_of(field.record, at))
