"""What this machine knows of a job's journal: where it is kept, and its last entry seen.

It stands in the user's data folder, outside the journal, so that a journal that is gone, shorter than it was,
or suddenly looked for in another place is noticed. It is a help to memory, not a proof: whoever can
change one may change the other.
"""

from __future__ import annotations

import json
from contextlib import suppress
from dataclasses import asdict, dataclass

from scheduler.ledger.connecting import unusable
from scheduler.ledger.folders import job_folder
from scheduler.ledger.identity import JobName
from scheduler.whole_files import write_whole

NAME = "noted.json"


@dataclass(frozen=True, slots=True)
class Noted:
    """A journal as this machine saw it last."""

    where: str
    """Its address, without any password."""
    number: int
    """Of the last entry; 0 while there is none."""
    hash: str


def noted(job: JobName) -> Noted | None:
    """Return what is noted of a job's journal; nothing for a job that is only practised on.

    Raises BadInput when the note cannot be read: then nobody knows what it said.
    """
    path = job_folder(job.id) / NAME
    if job.invented:
        return None
    try:
        said = json.loads(path.read_text(encoding="utf-8"))
        return Noted(str(said["where"]), int(said["number"]), str(said["hash"]))
    except FileNotFoundError:
        return None
    except (OSError, ValueError, KeyError, TypeError) as error:
        words = "cannot be read; verify the journal, then say where it is with `jointtrench journal SITE moved`"
        raise unusable("journal/noted", str(path), words) from error


def note(job: JobName, now: Noted, *, afresh: bool = False) -> None:
    """Note how a journal stands; an earlier entry never replaces a later one unless it is said `afresh`.

    What cannot be noted is left: the entry itself is written, and a note that lags behind is still true.
    """
    folder = job_folder(job.id)
    with suppress(OSError):
        before = None if afresh else noted(job)
        if before is not None and before.where == now.where and before.number >= now.number:
            return
        folder.mkdir(parents=True, exist_ok=True)
        write_whole(folder / NAME, json.dumps(asdict(now)) + "\n")
