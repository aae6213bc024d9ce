"""Journals of the version before, which lay beside the site file and were found by its name alone."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from pathlib import Path
from urllib.parse import quote

from scheduler.ledger.folders import data_folder, job_folder
from scheduler.ledger.identity import JobName
from scheduler.whole_files import write_whole

NOT_OURS = "not-this-job.json"
TAKEN = ".taken-over"
"""What is put behind the name of an old journal that was taken over."""


def older_name(site_file: Path) -> str:
    """Return how the version before called the journal of a site file."""
    return f"{site_file.stem}.journal.db"


def older_journals(
    file: Path, job: JobName | None, *, folder: Path | None = None, but: Path | None = None
) -> tuple[Path, ...]:
    """Return journals of the version before that may be a site's, and that hold something or cannot be read.

    They are looked for beside the site file, in the user's data folder, and in the folder for journals that was
    named. `but` is the file used now. Those that the user has called another job's are left out.
    """
    name = older_name(file)
    places = [file.resolve().parent, data_folder(), *([folder] if folder else [])]
    found = list(dict.fromkeys(p / name for p in places if (p / name).is_file()))
    if not found:
        return ()
    ours = _not_ours(job)
    return tuple(p for p in found if str(p) not in ours and not (but and _same(p, but)) and _holds_something(p))


def is_not_ours(job: JobName, path: Path) -> None:
    """Remember that an old journal is another job's, so that it is not asked about again."""
    kept = job_folder(job.id) / NOT_OURS
    kept.parent.mkdir(parents=True, exist_ok=True)
    write_whole(kept, json.dumps(sorted({*_not_ours(job), str(path)})) + "\n")


def _not_ours(job: JobName | None) -> set[str]:
    if job is None:
        return set()
    try:
        return {str(p) for p in json.loads((job_folder(job.id) / NOT_OURS).read_text(encoding="utf-8"))}
    except (OSError, ValueError, TypeError):
        return set()


def _same(one: Path, other: Path) -> bool:
    return other.exists() and one.samefile(other)


def _holds_something(path: Path) -> bool:
    try:
        with closing(sqlite3.connect(f"file:{quote(str(path))}?mode=ro", uri=True)) as raw:
            return raw.execute("SELECT 1 FROM journal_entries LIMIT 1").fetchone() is not None
    except sqlite3.Error:
        return True
