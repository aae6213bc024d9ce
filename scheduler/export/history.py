"""What was published before, so that a calendar updates in place: rising numbers, and what vanished is cancelled.

RFC 5546 section 2.1.4: an event's SEQUENCE rises whenever its dates or its cancelled state change, and
nothing with a lower SEQUENCE replaces one with a higher. Section 2.1.5: at the same SEQUENCE the later DTSTAMP wins.
It rises as well when an event becomes done, begun, blocked or missing by the record, or no longer is.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from scheduler.export.audiences import Audience
from scheduler.export.calendar_events import CANCELLED, Event, events_of
from scheduler.export.on_record import MARKS
from scheduler.export.paper_facts import PaperFacts


@dataclass(frozen=True, slots=True)
class Published:
    """An event as it went out: how often it had changed by then, and when it last changed at all."""

    event: Event
    sequence: int = 0
    modified: datetime | None = None
    """None: when that was is not known."""


Record = Mapping[str, Published]
"""What went out, by UID."""


def follow(
    before: Record, events: Iterable[Event], made: datetime, data_date: datetime, least: int = 0
) -> dict[str, Published]:
    """Return what goes out after what went out before.

    Events that vanished stay, cancelled, unless they were over by the data date: done work is not called off.
    What is new or changed gets no number below `least`.
    """
    now = {e.uid: _after(before.get(e.uid), e, made, least) for e in events}
    for uid, old in before.items():
        if uid not in now and (old.event.status == CANCELLED or old.event.finish > data_date):
            now[uid] = _after(old, replace(old.event, status=CANCELLED), made, least)
    return now


def published_by(earlier: Iterable[PaperFacts], party: Audience) -> dict[str, Published]:
    """Return what a party was sent if each of these plans was exported in turn, the oldest first."""
    record: dict[str, Published] = {}
    for facts in earlier:
        record = follow(record, events_of(facts, party), facts.plan.data_date, facts.plan.data_date)
    return {uid: replace(p, modified=None) for uid, p in record.items()}


def latest(*records: Record) -> dict[str, Published]:
    """Return of each event the state with the highest number; of equal ones the first record's."""
    merged: dict[str, Published] = {}
    for record in records:
        for uid, state in record.items():
            if uid not in merged or state.sequence > merged[uid].sequence:
                merged[uid] = state
    return merged


def raised(record: Record, by: int) -> dict[str, Published]:
    """Return what went out with higher numbers, for events of which nobody kept what was sent since."""
    return {uid: replace(p, sequence=p.sequence + by) for uid, p in record.items()}


def _after(old: Published | None, event: Event, made: datetime, least: int) -> Published:
    if old is None:
        return Published(event, least, made)
    changed = _state(old.event) != _state(event)
    same = old.event == replace(event, link=old.event.link)
    sequence = max(old.sequence + 1, least) if changed else old.sequence
    return Published(event, sequence, old.modified if same and old.modified else made)


def _state(event: Event) -> tuple[datetime, datetime, bool, frozenset[str]]:
    """Return what the number of an event counts the changes of."""
    marks = frozenset(MARKS.values()).intersection(event.categories)
    return event.start, event.finish, event.status == CANCELLED, marks
