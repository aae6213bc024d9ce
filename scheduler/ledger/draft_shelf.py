"""Sites that are being written, kept between two visits of a page: each under a key that only its address knows."""

from __future__ import annotations

import json
import re
import time
from contextlib import suppress
from pathlib import Path

from scheduler.ledger.folders import data_folder
from scheduler.site.draft import Draft
from scheduler.whole_files import write_whole

KEPT_DAYS = 90
_KEY = re.compile(r"[A-Za-z0-9_-]{16,64}")


def shelve_draft(key: str, draft: Draft, *, of: str) -> bool:
    """Keep a draft under a key, with whose draft it is; return whether it could be written."""
    file = str(draft.file) if draft.file else None
    said = {"of": of, "name": draft.name, "file": file, "original": draft.original, "data": draft.data}
    path = _path(key)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        if not path.exists():
            _forget_old(path.parent)
        write_whole(path, json.dumps(said))
    except OSError:
        return False
    return True


def draft_shelved(key: str) -> tuple[str, Draft] | None:
    """Return whose draft is kept under a key, and the draft without its earlier steps; None where there is none."""
    if not _KEY.fullmatch(key):
        return None
    try:
        said = json.loads(_path(key).read_text(encoding="utf-8"))
        file = Path(said["file"]) if said["file"] else None
        return str(said["of"]), Draft(str(said["name"]), dict(said["data"]), str(said["original"]), file)
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _path(key: str) -> Path:
    return data_folder() / "drafts" / f"{key}.json"


def _forget_old(folder: Path) -> None:
    """Delete what nobody has touched for so long."""
    before = time.time() - KEPT_DAYS * 86400
    for path in folder.glob("*.json"):
        with suppress(OSError):
            if path.stat().st_mtime < before:
                path.unlink()
