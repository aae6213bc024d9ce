"""The id of a job: unlike any other, given once and written into the site file, so that its record is found by it."""

from __future__ import annotations

import hashlib
import re
import uuid
from typing import Annotated

from pydantic import AfterValidator

from scheduler.site.fields import Expected

LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
"""Crockford's base 32: no I, L, O or U, which people misread."""
PRACTICE = "practice-"
"""How the id of an invented job begins."""
_FORM = re.compile(rf"JT(-[{LETTERS}]{{4}}){{4}}|{PRACTICE}[a-z0-9]+(-[a-z0-9]+)*")
_WRITTEN = re.compile(  # in a line of its own, or between others in braces
    rb"\r?\n[ \t]+job_id[ \t]*:[ \t]*[\"']?[A-Za-z0-9-]+[\"']?[ \t]*(#[^\r\n]*)?(?=[\r\n]|\Z)"
    rb"|,[ \t]*job_id[ \t]*:[ \t]*[\"']?[A-Za-z0-9-]+[\"']?(?=[ \t]*[,}])"
)
EDITOR_LINE = re.compile(rb"^# yaml-language-server:[^\r\n]*\r?\n", re.MULTILINE)
"""By which an editor finds the schema of a file; it says nothing of the site."""
_BITS = 80


def is_job_id(value: str) -> bool:
    """Tell whether a text has the form of a job id."""
    return len(value) <= 60 and _FORM.fullmatch(value) is not None


def content_digest(raw: bytes) -> str:
    """Return the SHA-256 of what a site file says beside its job id and the line for editors.

    So neither giving a job its id nor pointing an editor to the schema changes any plan of it.
    """
    return hashlib.sha256(EDITOR_LINE.sub(b"", _WRITTEN.sub(b"", raw, count=1))).hexdigest()


def _check(value: str) -> str:
    if not is_job_id(value):
        raise ValueError("expected a job id as this program gives it, such as JT-7F3K-9QXD-M2TA-40BN")
    return value


JobId = Annotated[str, AfterValidator(_check), Expected("a job id as this program gives it")]


def new_job_id() -> str:
    """Return an id that no other job has: 80 random bits, from a version 4 UUID (RFC 9562, 5.4), in letters."""
    # The low 62 bits of such a UUID are random, and so are its first 48.
    made = uuid.uuid4().int
    bits = (made >> 80 << 62 | made & (1 << 62) - 1) >> (110 - _BITS)
    letters = "".join(LETTERS[bits >> shift & 31] for shift in range(_BITS - 5, -1, -5))
    return "-".join(["JT", *(letters[k : k + 4] for k in range(0, len(letters), 4))])
