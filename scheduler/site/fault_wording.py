"""Faults in the shape of one value, said in plain English instead of the validator's terms."""

from __future__ import annotations

from collections.abc import Iterator
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from annotated_types import Ge, Gt, Le, MaxLen, MinLen
from pydantic import ValidationError
from pydantic.fields import FieldInfo
from pydantic_core import ErrorDetails

from scheduler.site.faults import Fault, Path, nearest, short
from scheduler.site.fields import Expected, Record, bare_names, has_units
from scheduler.units import metric

_NUMBER_RANGE = ("greater_than", "less_than", "finite_number")


def shape_faults(error: ValidationError, model: type[Record]) -> Iterator[Fault]:
    """Give every fault of a failed validation of `model`, in plain English."""
    return (_fault(detail, model) for detail in error.errors(include_url=False))


def _fault(detail: ErrorDetails, model: type[Record]) -> Fault:
    path: Path = tuple(detail["loc"])
    kind = detail["type"]
    if kind == "extra_forbidden":
        return _unknown_key(path, _record_at(path[:-1], model), detail["input"])
    required = _expected_at(path, model)
    if kind == "missing":
        return Fault("site.missing", path, _missing_text(path), found="nothing", required=required)
    found = _found(detail["input"])
    if kind == "value_error":
        said = str(detail["msg"]).removeprefix("Value error, ")
        text = "The value does not fit." if said.startswith("expected") else said[:1].upper() + said[1:] + "."
        return Fault("site.value", path, text, found=found, required=required or said.removeprefix("expected "))
    if kind == "literal_error":
        guess = nearest(str(detail["input"]), required.removeprefix("one of ").split(", "))
        text = "This word is not known here" + (f"; did you mean '{guess}'?" if guess else ".")
        return Fault("site.value", path, text, found=found, required=required)
    if kind in ("too_short", "string_too_short"):
        return Fault("site.value", path, "At least one is needed.", found="none", required=required)
    if kind in ("too_long", "string_too_long"):
        return Fault("site.value", path, "This is too long.", found=found, required=required)
    text = "The value is out of range." if kind.startswith(_NUMBER_RANGE) else "The value does not fit."
    return Fault("site.value", path, text, found=found, required=required)


def _unknown_key(path: Path, record: type[Record], value: object) -> Fault:
    key = str(path[-1])
    whole = next((name for name, bare in bare_names(record).items() if bare == key), None)
    if whole is not None:
        feet = "" if metric() else f" or 3 ft, or name the field {whole}"
        text = f"Write {key} with its unit, such as 900 mm{feet}."
        if has_units(value):
            text = f"{key[:1].upper()}{key[1:]} and {whole} are both given."
        return Fault("site.value", path, text, found=_found(value), required="an amount with its unit, once")
    known = [field.alias or name for name, field in record.model_fields.items()]
    guess = nearest(key, known)
    text = f"Unknown field '{short(key)}'" + (f"; did you mean '{guess}'?" if guess else ".")
    return Fault("site.unknown-field", path, text, remedy=f"Fields known here: {', '.join(known)}.")


def _missing_text(path: Path) -> str:
    return f"The field '{path[-1]}' is missing." if isinstance(path[-1], str) else "A value is missing."


def _found(value: Any) -> str:
    if value is None:
        return "nothing"
    if isinstance(value, dict):
        return "a record of fields"
    if isinstance(value, (list, tuple)):
        return f"a list of {len(value)}"
    return f"'{short(str(value))}'"


def _field(record: type[Record], key: str) -> FieldInfo | None:
    return next((f for name, f in record.model_fields.items() if key in (name, f.alias)), None)


def _record_in(annotation: Any) -> type[Record] | None:
    """Return the record type that a field holds, alone or in a list, if any."""
    if isinstance(annotation, type) and issubclass(annotation, Record):
        return annotation
    inner = (_record_in(arg) for arg in get_args(annotation) if get_origin(annotation) is not Literal)
    return next((found for found in inner if found), None)


def _record_at(path: Path, model: type[Record]) -> type[Record]:
    """Return the record type that a path leads to."""
    for step in path:
        field = _field(model, step) if isinstance(step, str) else None
        model = (_record_in(field.annotation) if field else None) or model
    return model


def _expected_at(path: Path, model: type[Record]) -> str:
    """Say what may stand at a path, or '' if the path leads to no field."""
    depth = max((i for i, step in enumerate(path) if isinstance(step, str)), default=None)
    if depth is None:
        return ""
    field = _field(_record_at(path[:depth], model), str(path[depth]))
    if field is None:  # a key of a plain table such as durations
        return _expected_at(path[:depth] + (0,) * (len(path) - depth), model) if depth else ""
    annotation = Annotated[field.annotation, *field.metadata] if field.metadata else field.annotation
    for _ in path[depth + 1 :]:
        annotation = _item_of(annotation)
    return expected_words(annotation)


def bare_type(annotation: Any) -> tuple[Any, tuple[Any, ...]]:
    """Strip Annotated and Optional; return the type within and what is known about it."""
    known: tuple[Any, ...] = ()
    while get_origin(annotation) in (Annotated, Union, UnionType):
        if get_origin(annotation) is Annotated:
            annotation, *extra = get_args(annotation)
            known += tuple(m for e in extra for m in (e.metadata if isinstance(e, FieldInfo) else [e]))
        else:
            annotation = next(a for a in get_args(annotation) if a is not type(None))
    return annotation, known


def _item_of(annotation: Any) -> Any:
    bare, _ = bare_type(annotation)
    args = get_args(bare)
    return args[-1] if args else bare


def expected_words(annotation: Any) -> str:
    """Say in words what a value of this type looks like."""
    bare, known = bare_type(annotation)
    words = next((m.said for m in known if isinstance(m, Expected)), None)
    origin = get_origin(bare)
    if words:
        return words
    if origin is Literal:
        return "one of " + ", ".join(str(a) for a in get_args(bare))
    if bare in (int, float):
        return _expected_number("a whole number" if bare is int else "a number", known)
    if bare is bool:
        return "true or false"
    if bare is str:
        longest = next((m.max_length for m in known if isinstance(m, MaxLen)), None)
        return f"a text of at most {longest} letters" if longest else "a text"
    if origin is list:
        least = " of at least one" if any(isinstance(m, MinLen) for m in known) else ""
        return f"a list{least}, each {expected_words(get_args(bare)[0])}"
    if origin is tuple:
        return f"a list of {len(get_args(bare))}, each {expected_words(get_args(bare)[0])}"
    if isinstance(bare, type) and issubclass(bare, Record):
        needed = [f.alias or n for n, f in bare.model_fields.items() if f.is_required()]
        return "a record with " + (", ".join(needed) if needed else "fields of its own")
    return "a table of names and values"


def _expected_number(noun: str, known: tuple[Any, ...]) -> str:
    above = next((m.gt for m in known if isinstance(m, Gt)), None)
    least = next((m.ge for m in known if isinstance(m, Ge)), None)
    most = next((m.le for m in known if isinstance(m, Le)), None)
    if above == 0:
        noun = noun.replace("a ", "a positive ", 1)
        return noun if most is None else f"{noun}, at most {most}"
    if least is not None and most is not None:
        return f"{noun} from {least} to {most}"
    return noun if least is None else f"{noun}, {least} or more"
