"""Plain data as YAML text, laid out as a person would write a site file."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

WIDTH = 110
"""A record longer than this is written one field a line."""

_PLAIN = re.compile(r"[A-Za-z0-9_](?:[A-Za-z0-9 _.+/()'-]|:(?=[A-Za-z0-9]))*(?<! )")
_WORDS_OF_NOTHING = frozenset(("null", "Null", "NULL"))


def inline(value: Any) -> str:
    """Write a value on one line: `1+60`, `[a, b]`, `{id: R1, from: 0+00}`."""
    if isinstance(value, Mapping):
        return "{" + ", ".join(f"{inline(str(k))}: {inline(v)}" for k, v in value.items()) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(inline(v) for v in value) + "]"
    if value is None:
        return "null"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    text = str(value)
    return text if _PLAIN.fullmatch(text) and text not in _WORDS_OF_NOTHING else _quoted(text)


def _quoted(text: str) -> str:
    def escaped(letter: str) -> str:
        if letter in '"\\':
            return "\\" + letter
        return letter if letter.isprintable() else f"\\U{ord(letter):08X}"

    return '"' + "".join(escaped(letter) for letter in text) + '"'


def entry(key: str, value: Any, indent: int) -> list[str]:
    """Write one field of a record as lines, at so many spaces."""
    head = " " * indent + inline(key) + ":"
    short = f"{head} {inline(value)}"
    records = isinstance(value, list) and any(isinstance(v, Mapping) for v in value)
    if not value or not isinstance(value, (Mapping, list)) or (len(short) <= WIDTH and not records):
        return [short]
    lines = [head]
    if isinstance(value, Mapping):
        return lines + [line for k, v in value.items() for line in entry(str(k), v, indent + 2)]
    return lines + [line for v in value for line in item(v, indent + 2)]


def item(value: Any, indent: int) -> list[str]:
    """Write one item of a list as lines, its dash at so many spaces."""
    dash = " " * indent + "- "
    short = dash + inline(value)
    nested = isinstance(value, Mapping) and any(isinstance(v, (Mapping, list)) and v for v in value.values())
    if not value or not isinstance(value, Mapping) or (len(short) <= WIDTH and not nested):
        return [short]
    lines = [line for k, v in value.items() for line in entry(str(k), v, indent + 2)]
    return [dash + lines[0].lstrip(), *lines[1:]]


def whole(data: Mapping[str, Any]) -> str:
    """Write a whole file, its sections set apart by blank lines."""
    return "\n".join("\n".join(entry(key, value, 0)) + "\n" for key, value in data.items())
