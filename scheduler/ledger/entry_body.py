"""The body of an entry, as it is kept and hashed: the event, and how its writer was known."""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from typing import Any

from scheduler.ledger.events import Event

THIS_MACHINE = "this machine"
"""How a writer is known at the command line and at the dashboard of one machine: they name themselves."""
KNOWN_BY = "known_by"
"""Stands in the body of an entry beside the event; no event has a field of this name."""
HASHED = ("site", "number", "at", "by", "body", "previous")
_KNOWN = re.compile(rf'"{KNOWN_BY}":("(?:[^"\\]|\\.)*"),')
"""Inside a string the quotes would be escaped, and some key always follows: every event has its `name`."""
_CANONICAL = json.JSONEncoder(sort_keys=True, separators=(",", ":"), ensure_ascii=False, allow_nan=False)


def canonical(value: Any) -> str:
    """Write JSON in the one form that is hashed: keys in order, no spaces."""
    return _CANONICAL.encode(value)


def chained(said: Mapping[str, Any]) -> str:
    """Return the hash of an entry: SHA-256 over all it says, with the hash of the one before.

    `said` has the keys site, number, at, by, body and previous.
    """
    return hashlib.sha256(canonical({k: said[k] for k in HASHED}).encode()).hexdigest()


def body_of(happened: Event, known_by: str) -> str:
    """Return what an entry says, as it is kept and hashed: the event, and how its writer was known where that is."""
    said = happened.model_dump(mode="json")
    return canonical({**said, KNOWN_BY: known_by} if known_by else said)


def parted(body: str) -> tuple[str, str]:
    """Return the event of a body as JSON, and how its writer was known; empty: it is older, or not said."""
    found = _KNOWN.search(body)
    if found is None:
        return body, ""
    return body[: found.start()] + body[found.end() :], json.loads(found[1])
