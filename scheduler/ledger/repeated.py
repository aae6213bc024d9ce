"""The same thing said twice: which entry on record says already what is to be written down."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

from scheduler.ledger.corrections import superseded
from scheduler.ledger.events import Event, Refused
from scheduler.ledger.store import Entry

SAME_MOMENT = timedelta(minutes=1)
"""Two moments so near to each other may be those of one act, pressed twice."""
ABOUT = ("activity", "looks", "hold", "ticket", "visit", "of", "trade", "who", "supersedes", "alignment", "activities")
"""The fields that say what an event is about."""


def said_already(entries: Sequence[Entry], happened: Event, *, at: datetime, by: str) -> Entry | None:
    """Return the entry by which somebody has said the same already, in every word; None where there is none.

    `at` is when it would be written, aware. What was taken back, or followed by anything else that anybody said of the
    same thing, may be said again: a visit that was called off can be booked once more. The same at a time at least a
    minute later is another act.
    """
    gone = superseded(entries)
    for entry in reversed(entries):
        if entry.number in gone:
            continue
        if entry.by == by and type(entry.event) is type(happened):
            if isinstance(happened, Refused) and at - entry.at >= SAME_MOMENT:
                return None
            if all(_same(getattr(entry.event, f), getattr(happened, f)) for f in happened.model_fields_set):
                return entry
        if _of_the_same_thing(entry.event, happened):
            return None
    return None


def _of_the_same_thing(one: Event, other: Event) -> bool:
    """Tell whether two events share anything that they are about; two of one kind about nothing at all do."""
    about = [(getattr(one, f, None), getattr(other, f, None)) for f in ABOUT]
    if type(one) is type(other) and all(a == b for a, b in about):
        return True
    return any(a and b and (a == b or (isinstance(a, tuple) and not set(a).isdisjoint(b))) for a, b in about)


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, datetime) and isinstance(other, datetime):
        return abs(one - other) < SAME_MOMENT
    return bool(one == other)
