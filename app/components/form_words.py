"""What is wrong with a draft in the words of its form: fields are called as there, not as in a file."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from functools import cache

from app.words import escape
from scheduler.site.editor import Fault, Field, field_at, fields_of, part_of, parts
from scheduler.spoken import found_and_expected

_MISSING = "site.missing"
_OF_THE_FILE = re.compile(r"`([a-z_]+)`|'([a-z_]+): (true|false)'|(?<!')\b(?:[a-z]+\.)?([a-z]+(?:_[a-z0-9]+)+)\b(?!')")
_NAMED = re.compile(r"The field '([A-Za-z0-9_ ]+)'")


@cache
def _labels() -> Mapping[str, str]:
    """Return what every field is called on its form, by its name in the file."""
    found: dict[str, str] = {}

    def take(fields: Iterable[Field]) -> None:
        for field in fields:
            found.setdefault(field.key, field.label)
            if field.record is not None:
                take(fields_of(field.record, field.place))

    for part in parts().values():
        found.setdefault(part.key, part.label)
        take(part.fields)
    return found


def in_form_words(text: str) -> str:
    """Return a sentence of ours with the fields of the file called as on their form."""

    def said(found: re.Match[str]) -> str:
        quoted, set_to, value, plain = found.groups()
        key = quoted or set_to or plain
        label = f"“{_labels()[key]}”" if key in _labels() else key.replace("_", " ")
        return f"{label} {'yes' if value == 'true' else 'no'}" if value else label

    text = _NAMED.sub(lambda m: f"“{_labels().get(m[1], m[1])}”", text)
    return _OF_THE_FILE.sub(said, text)


def fault_text(fault: Fault) -> str:
    """Return what a fault says, in the words of the form."""
    if fault.rule == _MISSING and fault.found == "nothing" and fault.path:
        part = part_of(fault.path)
        if len(fault.path) == 1:
            return f"There is no {part.noun} yet; at least one is needed." if part.many else f"{part.label} is needed."
        field = field_at(fault.path)
        if field is not None and field.key == fault.path[-1]:
            return f"{field.title} is needed."
    return in_form_words(fault.text)


def say_fault(fault: Fault) -> str:
    """Say what is wrong with one value, as markdown."""
    words = [escape(fault_text(fault))]
    required = escape(in_form_words(fault.required))
    if fault.found != "nothing":
        words.append(found_and_expected(escape(fault.found), required))
    elif required and not required.startswith(("a record", "a list")):
        words.append(f"Expected {required}.")
    if fault.remedy:
        words.append(escape(in_form_words(fault.remedy)))
    return " ".join(words)
