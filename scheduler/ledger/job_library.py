"""The job library: site files that were uploaded or edited, kept in the user's data folder under their job's id.

They are there after a reload, a restart and an upgrade. A job has one site file in the library; the
earlier ones are kept beside it.
"""

from __future__ import annotations

import hashlib
import json
import shutil
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from pathlib import Path

from scheduler.ledger.connecting import unusable
from scheduler.ledger.folders import data_folder, job_folder
from scheduler.site.draft import Draft
from scheduler.site.draft_paths import value_at
from scheduler.site.files import read_text
from scheduler.site.job_id import is_job_id, new_job_id
from scheduler.whole_files import write_whole

ABOUT = "site.json"
EARLIER = "earlier"
UPLOADS = "uploads.json"


@dataclass(frozen=True, slots=True)
class Shelved:
    """A job in the library."""

    job: str
    name: str
    first_day: str
    file: str
    """The name of its site file, which lies in the folder `site` of the job."""

    @property
    def path(self) -> Path:
        """Where its site file lies."""
        return job_folder(self.job) / "site" / self.file


def library() -> dict[str, Shelved]:
    """Return every job in the library by its id; what cannot be read is left out."""
    out = {}
    for about in sorted((data_folder() / "jobs").glob(f"*/{ABOUT}")):
        found = shelved(about.parent.name)
        if found is not None:
            out[found.job] = found
    return out


def shelved(job: str) -> Shelved | None:
    """Return a job of the library by its id, or None."""
    try:
        said = json.loads((job_folder(job) / ABOUT).read_text(encoding="utf-8"))
        found = Shelved(job, str(said["name"]), str(said["first_day"]), str(said["file"]))
    except (OSError, ValueError, KeyError, TypeError):
        return None
    return found if found.path.is_file() else None


def keep_site(
    text: str, file: str, *, beside: Iterable[Path] = (), same_job: bool = False, own_id: bool = False
) -> Shelved:
    """Keep the text of a site file in the library, with its rule sheets beside it; returns the job.

    A file without an id gets one, or the one it got when the very same text was brought before. With `own_id`
    it gets a new one in any case. Raises BadInput when the text is no record of fields, or when its id
    is that of a job with another name or first day, unless the user says that it is the `same_job`.
    """
    draft = Draft.of_text(text, name=file)
    if not isinstance(draft.data.get("site"), dict):
        raise unusable("library/site", file, "says nothing of a job under `site`")
    name, first_day = (str(value_at(draft.data, ("site", key)) or "") for key in ("name", "first_day"))
    given = value_at(draft.data, ("site", "job_id"))
    digest = hashlib.sha256(text.encode()).hexdigest()
    if own_id or given is None:
        job = new_job_id() if own_id else _uploaded().get(digest) or new_job_id()
        draft = draft.put(("site", "job_id"), job)
    elif isinstance(given, str) and is_job_id(given):
        job = given
    else:
        raise unusable("library/id", "job_id", "is no job id as this program gives it")
    before = shelved(job)
    if before is not None and not same_job and (before.name, before.first_day) != (name, first_day):
        words = (
            f"belongs to '{before.name}', first day {before.first_day}; this file says '{name}', first day {first_day}"
        )
        raise unusable("library/another", f"The job id {job}", words)
    now = Shelved(job, name, first_day, file)
    _write(now, draft.text(), before, beside)
    if given is None:
        write_whole(data_folder() / UPLOADS, json.dumps({**_uploaded(), digest: job}) + "\n")
    return now


def _write(now: Shelved, text: str, before: Shelved | None, beside: Iterable[Path]) -> None:
    try:
        now.path.parent.mkdir(parents=True, exist_ok=True)
        if before is not None:
            old = before.path.read_bytes()
            kept = job_folder(now.job) / EARLIER / f"{hashlib.sha256(old).hexdigest()[:12]}-{before.file}"
            kept.parent.mkdir(exist_ok=True)
            write_whole(kept, old)
        for sheet in beside:
            if sheet.resolve() != (now.path.parent / sheet.name).resolve():
                shutil.copy(sheet, now.path.parent / sheet.name)
        write_whole(now.path, text)
        about = {key: value for key, value in asdict(now).items() if key != "job"}
        write_whole(job_folder(now.job) / ABOUT, json.dumps(about, ensure_ascii=False) + "\n")
        if before is not None and before.path != now.path:
            before.path.unlink(missing_ok=True)
    except OSError as error:
        raise unusable("library/write", str(now.path), f"cannot be kept: {error.strerror}") from error


def _uploaded() -> Mapping[str, str]:
    """Return the ids given to files that came without one, by the digest of their text."""
    try:
        said = json.loads((data_folder() / UPLOADS).read_text(encoding="utf-8"))
        return {str(k): str(v) for k, v in said.items()}
    except (OSError, ValueError, AttributeError):
        return {}


def begin_record(file: Path) -> str:
    """Give the job of a site file an id, written into the file with its comments kept; returns the id.

    A file that has one gets another: a job of its own. Raises BadInput when the file cannot be read or written.
    """
    draft = Draft.of_text(read_text(file), name=file.name, file=file)
    job = new_job_id()
    try:
        write_whole(file, draft.put(("site", "job_id"), job).text())
    except OSError as error:
        raise unusable("library/write", str(file), f"cannot be written: {error.strerror}") from error
    return job
