"""Text that the PDF's built-in fonts can print, and text made safe for their mark-up."""

from __future__ import annotations

import re
import unicodedata
from functools import lru_cache
from xml.sax.saxutils import escape

ENCODING = "cp1252"
"""What the built-in fonts hold (WinAnsi, ISO 32000-1 annex D.2)."""
UNKNOWN = "?"
_STATIONS = re.compile(r"(\d+\+\d\S*) to (\d+\+\d)")


def printable(text: str) -> str:
    """Return text on one line in letters that can be printed.

    A letter that the fonts lack becomes its plain form (`ő` becomes `o`), one without a plain form a `?`.
    """
    return "".join(_letter(c) for c in " ".join(text.split()))


def marked(text: str) -> str:
    """Return user text for a paragraph, where it shows as it stands; a pair of stations stays on one line."""
    return _STATIONS.sub("\\1\N{NO-BREAK SPACE}to\N{NO-BREAK SPACE}\\2", escape(printable(text)))


@lru_cache(maxsize=4096)
def _letter(letter: str) -> str:
    if _prints(letter):
        return letter
    plain = "".join(c for c in unicodedata.normalize("NFKD", letter) if _prints(c))
    if plain:
        return plain
    named = re.match(r"LATIN (CAPITAL|SMALL) LETTER ([A-Z]) WITH", unicodedata.name(letter, ""))
    if named:
        return named[2] if named[1] == "CAPITAL" else named[2].lower()
    return "" if unicodedata.category(letter) in ("Mn", "Cf", "Cc") else UNKNOWN


def _prints(letter: str) -> bool:
    if unicodedata.category(letter) == "Cc":
        return False
    try:
        letter.encode(ENCODING)
    except UnicodeEncodeError:
        return False
    return True
