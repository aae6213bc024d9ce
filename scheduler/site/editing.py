"""What can be edited in a site: its parts and fields as the records declare them, for forms, tables and CSV.

Nothing here names a field of the site: a field added to a record gets its control, unit,
help and choices from its type, its name and the words beside it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime
from enum import StrEnum
from functools import cache
from typing import Annotated, Any, Literal, get_args, get_origin

from pydantic.fields import FieldInfo

from scheduler.site.fault_wording import bare_type, expected_words
from scheduler.site.fields import Expected, Record
from scheduler.site.files import record_sections
from scheduler.site.references import NOUNS, sections_named_at
from scheduler.site.site_record import Site
from scheduler.site.yamlwriting import inline
from scheduler.units import told_in


class FieldKind(StrEnum):
    """How a value is written, and so which control it gets."""

    TEXT = "text"
    WORDED = "worded"
    """Text of a set form, such as an id, a station or hours."""
    NUMBER = "number"
    WHOLE = "whole"
    YES_NO = "yes or no"
    CHOICE = "choice"
    NAME = "name"
    """The id of a record in another part."""
    DAY = "day"
    NUMBERS = "numbers"
    """A few numbers that belong together."""
    POINTS = "points"
    """A list of such numbers."""
    LIST = "list"
    """Of texts, words or names."""
    TABLE = "table"
    """Numbers by name."""
    RECORD = "record"
    RECORDS = "records"


SIMPLE = frozenset(
    {
        FieldKind.TEXT,
        FieldKind.WORDED,
        FieldKind.NUMBER,
        FieldKind.WHOLE,
        FieldKind.YES_NO,
        FieldKind.CHOICE,
        FieldKind.NAME,
        FieldKind.DAY,
    }
)
"""Kinds whose value is one scalar: a cell of a table holds it."""


@dataclass(frozen=True, slots=True)
class Field:
    """One field of a record, as somebody meets it who fills it in."""

    key: str
    """As in the file."""
    place: str
    """Where it stands, list items as `*`: `lines.route.*.from`."""
    kind: FieldKind
    label: str
    unit: str
    help: str
    required: bool
    default: str | None
    """What holds when it is not given, as written in a file; None: nothing."""
    if_empty: str
    """What leaving it out means, in words; '' where the default says it."""
    choices: tuple[str, ...]
    names_in: tuple[str, ...]
    """Parts whose ids it may hold."""
    expected: str
    record: type[Record] | None = None

    @property
    def title(self) -> str:
        """Its label with its unit."""
        return f"{self.label} ({self.unit})" if self.unit else self.label


@dataclass(frozen=True, slots=True)
class SitePart:
    """One part of a site: a list of records, one record, or the loose fields of the whole file."""

    key: str
    label: str
    noun: str
    help: str
    many: bool
    fields: tuple[Field, ...]
    required: bool

    @property
    def simple(self) -> tuple[Field, ...]:
        """The fields that fit a table."""
        return tuple(f for f in self.fields if f.kind in SIMPLE)


LOOSE = "file"
"""Key of the part that holds the fields of the whole file."""
LABELS = {"site": "Job", LOOSE: "Whole file", "existing": "Existing lines", "rules": "Local rules"}
_NOUNS = {**NOUNS, "rules": "local rule", "site": "job"}

_UNITS = (
    ("_cy_per_hour", "cu yd/h"),
    ("_sf_per_hour", "sq ft/h"),
    ("_ft_per_hour", "ft/h"),
    ("plates_per_hour", "plates/h"),
    ("_per_day", "per day"),
    ("_per_night", "per night"),
    ("_per_ft_night", "per ft and night"),
    ("_below_grade_in", "in below grade"),
    ("_in", "in"),
    ("_ft", "ft"),
    ("_cy", "cu yd"),
    ("_lb", "lb"),
    ("_awg", "AWG"),
    ("_mil", "mil"),
    ("_v", "V"),
    ("_f", "°F"),
    ("_s", "s"),
    ("_hours", "hours"),
    ("_minutes", "minutes"),
    ("_days", "days"),
    ("_hour", "per hour"),
)
_NUMERIC = frozenset({FieldKind.NUMBER, FieldKind.WHOLE, FieldKind.NUMBERS})
_IF_EMPTY = re.compile(r"(?:\bNone|\b[Ee]mpty)(?: with[^:]*)?: ([^.]*)\.?")


@cache
def parts() -> Mapping[str, SitePart]:
    """Return every part of a site by its key, in the order of the file; the loose fields last."""
    found: dict[str, SitePart] = {}
    loose: list[Field] = []
    lists = record_sections()
    for name, info in Site.model_fields.items():
        field = _field(name, info, "")
        label = LABELS.get(name, field.label)
        if field.kind is FieldKind.RECORD or name in lists:
            assert field.record is not None
            about = " ".join((field.record.__doc__ or "").split())
            noun = _NOUNS.get(name, label.lower())
            found[name] = SitePart(
                name, label, noun, about, name in lists, fields_of(field.record, name), field.required
            )
        else:
            loose.append(field)
    about = "What holds for the whole file."
    return found | {LOOSE: SitePart(LOOSE, LABELS[LOOSE], "file", about, False, tuple(loose), False)}


@cache
def fields_of(record: type[Record], place: str) -> tuple[Field, ...]:
    """Return the fields of a record that stands at a place such as `lines` or `lines.route.*`."""
    return tuple(_field(name, info, place) for name, info in record.model_fields.items())


def _field(name: str, info: FieldInfo, inside: str) -> Field:
    key = info.alias or name
    annotation: Any = Annotated[info.annotation, *info.metadata] if info.metadata else info.annotation
    kind, item, record = _kind(annotation)
    place = f"{inside}.{key}" if inside else key
    names_in = sections_named_at(f"{place}.*" if kind is FieldKind.LIST else place)
    if names_in and kind is FieldKind.WORDED:
        kind = FieldKind.NAME
    label, unit = _label(key, kind)
    told = " ".join((info.description or "").split()).replace("`", "")
    default = None if info.is_required() else written(info.default)
    with told_in("feet"):  # what is kept here serves every site
        expected = expected_words(annotation)
    if_empty = _IF_EMPTY.search(told)
    return Field(
        key=key,
        place=place,
        kind=kind,
        label=label,
        unit=unit,
        help=told,
        required=info.is_required(),
        default=default,
        if_empty=if_empty[1] if if_empty and default is None else "",
        choices=tuple(str(a) for a in get_args(item)) if get_origin(item) is Literal else (),
        names_in=names_in,
        expected=expected,
        record=record,
    )


def _kind(annotation: Any) -> tuple[FieldKind, Any, type[Record] | None]:
    """Return the kind of a field, the bare type of its value or of its items, and the record it holds."""
    bare, known = bare_type(annotation)
    origin = get_origin(bare)
    if origin is list:
        inner = bare_type(get_args(bare)[0])[0]
        kind, item, record = _kind(get_args(bare)[0])
        if record is not None:
            return FieldKind.RECORDS, inner, record
        return (FieldKind.POINTS if kind is FieldKind.NUMBERS else FieldKind.LIST), item, None
    if origin is tuple:
        return FieldKind.NUMBERS, bare, None
    if origin is dict:
        return FieldKind.TABLE, bare, None
    if origin is Literal:
        return FieldKind.CHOICE, bare, None
    if isinstance(bare, type) and issubclass(bare, Record):
        return FieldKind.RECORD, bare, bare
    return _scalar_kind(bare, worded=any(isinstance(m, Expected) for m in known)), bare, None


def _scalar_kind(bare: Any, *, worded: bool) -> FieldKind:
    plain: dict[Any, FieldKind] = {
        bool: FieldKind.YES_NO,
        date: FieldKind.DAY,
        datetime: FieldKind.WORDED,
        str: FieldKind.TEXT,
    }
    if worded and bare is not date:
        return FieldKind.WORDED
    return plain.get(bare) or {int: FieldKind.WHOLE, float: FieldKind.NUMBER}[bare]


def written(value: Any) -> str | None:
    """Return a plain value as text in a file, or None where it is nothing or no scalar."""
    if value is None or isinstance(value, (list, tuple, dict, Record)):
        return None
    return value if isinstance(value, str) else inline(value)


def _label(key: str, kind: FieldKind) -> tuple[str, str]:
    """Return the words for a field and its unit, both from its name in the file."""
    unit = ""
    if kind in _NUMERIC:
        for tail, said in _UNITS:
            if key.endswith(tail) and not key.endswith("feet_per_hour"):
                key, unit = key.removesuffix(tail), said
                break
    words = key.replace("_", " ").replace("gfci 20a", "GFCI, 20 A")
    return words[:1].upper() + words[1:], unit
