"""Content kept in the journal by its hash: evidence and plans. Beside a damaged copy a sound one can be put."""

from __future__ import annotations

import hashlib

from sqlalchemy import Connection, func, insert, select

from scheduler.ledger.connecting import unusable
from scheduler.ledger.day_events import NoteKept
from scheduler.ledger.events import Corrected, Event, HoldReleased, PlanAccepted
from scheduler.ledger.journal_tables import AGAIN, ATTACHMENTS


def named_content(happened: Event) -> str | None:
    """Return the hash of the content that an event names: evidence, or a plan."""
    if isinstance(happened, HoldReleased | NoteKept):
        return happened.attachment
    return happened.plan if isinstance(happened, PlanAccepted) else None


def sound_copy(connection: Connection, digest: str) -> bytes | None:
    """Return the content kept under a hash, from the first copy that still has this hash; None when none has."""
    copies = [select(ATTACHMENTS.c.content).where(ATTACHMENTS.c.hash == digest)]
    copies.append(select(AGAIN.c.content).where(AGAIN.c.hash == digest).order_by(AGAIN.c.number))
    for copy in copies:
        for content in connection.execute(copy).scalars():
            if hashlib.sha256(content).hexdigest() == digest:
                return bytes(content)
    return None


def holds_content(connection: Connection, digest: str) -> bool:
    """Tell whether content was kept under a hash, sound or damaged by now."""
    return connection.execute(select(ATTACHMENTS.c.hash).where(ATTACHMENTS.c.hash == digest)).first() is not None


def put_content(connection: Connection, digest: str, media: str, content: bytes) -> None:
    """Keep content under its hash, unless a sound copy is there already."""
    if not holds_content(connection, digest):
        connection.execute(insert(ATTACHMENTS).values(hash=digest, media=media, content=content))
    elif sound_copy(connection, digest) is None:
        count = select(func.coalesce(func.max(AGAIN.c.number), 0)).where(AGAIN.c.hash == digest)
        number = connection.execute(count).scalar_one() + 1
        connection.execute(insert(AGAIN).values(hash=digest, number=number, content=content))


def check_references(connection: Connection, happened: Event, number: int) -> None:
    """Raise BadInput when an event, to be written under a number, names an entry or content that is not there."""
    if isinstance(happened, Corrected) and happened.supersedes >= number:
        raise unusable("journal/supersedes", f"Entry {happened.supersedes}", "does not exist yet")
    if isinstance(happened, NoteKept) and happened.entry is not None and happened.entry >= number:
        raise unusable("journal/entry", f"Entry {happened.entry}", "does not exist yet")
    kept = named_content(happened)
    if kept is not None and not holds_content(connection, kept):
        raise unusable("journal/attachment", f"Content {kept[:12]}", "is not kept in the journal")
