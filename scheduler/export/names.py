"""Names that users wrote, made fit to stand in one line, or to name a file: no paths, nothing overlong."""

from __future__ import annotations

import re
import unicodedata

LONGEST = 60
"""Characters of a user's name that a file name keeps."""
RESERVED = re.compile(r"(?i)^(con|prn|aux|nul|com[0-9]|lpt[0-9])$")
"""Names that one common system keeps for devices."""


def one_line(text: str) -> str:
    """Return text on one line without control characters, which RFC 5545 section 3.3.11 keeps out of TEXT."""
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


def file_name(what: str, whom: str, ending: str, taken: set[str] | None = None) -> str:
    """Return `look-ahead Electrician.pdf`, safe in any folder, and not one of `taken`, to which it is added.

    Of `whom`, only letters, digits, blanks and `-`, `_` are kept; a second one that would be the same gets a number.
    """
    plain = unicodedata.normalize("NFC", whom)
    plain = "".join(c if c.isalnum() or c in " -_" else " " for c in plain)
    plain = " ".join(plain.split())[:LONGEST].strip(" -_")
    plain = "" if RESERVED.match(plain) else plain
    stem = " ".join(w for w in (what, plain) if w)
    taken = set() if taken is None else taken
    name, number = f"{stem}.{ending}", 1
    while name.casefold() in taken:
        number += 1
        name = f"{stem} {number}.{ending}"
    taken.add(name.casefold())
    return name
