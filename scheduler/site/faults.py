"""A fault in a site, by field path: what every check of a site returns."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from itertools import islice
from typing import Any

Path = tuple[str | int, ...]
"""Field names and list indices (from 0) from the top of a file to one value."""


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing wrong with the value at `path`; whoever knows the file adds the line."""

    rule: str
    path: Path
    text: str
    found: str = ""
    required: str = ""
    remedy: str = ""


def short(text: str) -> str:
    """Return a text short enough to show."""
    return text if len(text) <= 60 else text[:60] + "…"


def place(data: Any, path: Path) -> str:
    """Say where a path leads, counting from 1 and naming ids: `lines[2] 'P1' route[1] from`."""
    words = ""
    for step in path:
        try:
            data = data[step]
        except (KeyError, IndexError, TypeError):
            data = None
        if isinstance(step, str):
            words += f" {short(step)}"
            continue
        words += f"[{step + 1}]"
        if isinstance(data, dict) and isinstance(data.get("id"), str):
            words += f" '{short(data['id'])}'"
    return words.strip() or "the file"


def nearest(word: str, known: Iterable[str]) -> str:
    """Return the known word most like a mistyped one, or ''."""
    by_folded = {k.lower(): k for k in islice(known, 1000)}
    close = get_close_matches(short(word).lower(), by_folded, n=1, cutoff=0.5)
    return by_folded[close[0]] if close else ""
