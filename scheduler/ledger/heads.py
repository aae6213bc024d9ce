"""Heads: an entry's number with a short code of its hash, to be printed and kept outside the journal.

Whoever holds one head can find out later whether the journal still says what it said then: the code is taken
from the hash of that entry, which covers every entry before it.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from scheduler.site.job_id import LETTERS

if TYPE_CHECKING:
    from scheduler.ledger.store import Entry

CODE_LETTERS = 12
"""Twelve letters of five bits: another history with the same code takes 2 to the 60th tries."""
_WRITTEN = re.compile(r"(?<![\w-])(\d{1,9}):([0-9A-Z]{4})-([0-9A-Z]{4})-([0-9A-Z]{4})(?![\w-])", re.IGNORECASE)
_WHOLE_HASH = re.compile(r"(?<![0-9A-Fa-f])[0-9a-f]{64}(?![0-9A-Fa-f])")
_MISREAD = str.maketrans("ILOU", "110V")


@dataclass(frozen=True, slots=True)
class Head:
    """The number of an entry and the short code of its hash: `57:7F3K-9QXD-M2TA`."""

    number: int
    code: str

    def __str__(self) -> str:
        return f"{self.number}:{self.code}"


def code_of(digest: str) -> str:
    """Return the short code of a hash of 64 hexadecimal digits."""
    bits = int(digest, 16) >> (256 - 5 * CODE_LETTERS)
    letters = "".join(LETTERS[bits >> shift & 31] for shift in range(5 * (CODE_LETTERS - 1), -1, -5))
    return "-".join(letters[k : k + 4] for k in range(0, CODE_LETTERS, 4))


def head_of(entries: Sequence[Entry]) -> Head | None:
    """Return the head after some entries, in their order; None when there are none."""
    return Head(entries[-1].number, code_of(entries[-1].hash)) if entries else None


def read_heads(text: str) -> tuple[Head | str, ...]:
    """Return every head in a text, and every whole hash of 64 digits, in their order; other words are passed over."""
    found: list[tuple[int, Head | str]] = []
    for match in _WRITTEN.finditer(text):
        letters = "-".join(match.group(2, 3, 4)).upper().translate(_MISREAD)
        found.append((match.start(), Head(int(match[1]), letters)))
    found += [(m.start(), m[0]) for m in _WHOLE_HASH.finditer(text)]
    return tuple(head for _, head in sorted(found, key=lambda f: f[0]))
