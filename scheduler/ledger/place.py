"""Where the journal of a job lies, decided here for every part that opens one.

A job is found by the id in its site file, wherever that file lies or is called. It has one journal in one
place: what cannot be used there is refused, and another place is never chosen in silence.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

from scheduler.errors import BadInput
from scheduler.ledger.connecting import shown, unusable
from scheduler.ledger.entry_body import THIS_MACHINE
from scheduler.ledger.folders import job_folder
from scheduler.ledger.identity import JobName, admit, rename
from scheduler.ledger.noted import Noted, note, noted
from scheduler.ledger.older import older_journals
from scheduler.ledger.signing import own_signer
from scheduler.ledger.store import Journal
from scheduler.site.site_record import Site

JOURNAL_VARIABLE = "JOINTTRENCH_JOURNAL"
"""Names a file, a folder for the journals of many jobs, or a database URL, for everything that opens a journal."""


@dataclass(frozen=True, slots=True)
class JournalPlace:
    """A journal that may not be made yet."""

    where: str
    """A file or a database URL."""
    job: JobName | None
    """Whose journal it is; None: the site file has no job id yet, so nothing can be kept."""
    older: tuple[Path, ...] = ()
    """Journals of the version before, which may be this job's."""
    stem: str = ""
    """The site file's name, by which the version before named the job in a database."""
    set_up: Callable[[Journal], None] = field(default=lambda _: None, compare=False)
    """Is given every journal that is opened here: how its writer is known, and what they may write."""

    @property
    def record(self) -> str:
        """What tells this record from every other: a database holds those of many jobs, and an id may be copied."""
        return f"{self.where} {self.job!r}"

    @property
    def made(self) -> bool:
        """Whether a journal is to be read, or should be: whoever opens it is told if it is not as it should be."""
        if self.older:
            return True
        if self.job is None:
            return False
        return "://" in self.where or Path(self.where).exists() or noted(self.job) is not None

    def open(self, *, tell: Callable[[str], None] | None = None) -> Journal:
        """Open the journal, and make it when there never was one.

        Raises BadInput when it cannot be reached, is gone or shorter than it was, is another job's, or
        when one of the version before waits to be taken over.
        """
        job = self._to_open()
        known = noted(job)
        if known is not None and known.where != shown(self.where):
            words = (
                f"is not where the journal of this job is kept, which is {known.where}; if it was moved, verify it "
                "and say so with `jointtrench journal SITE moved`"
            )
            raise unusable("journal/elsewhere", shown(self.where), words)
        if "://" not in self.where and not Path(self.where).exists():
            self._check_may_be_made(known)
        journal = Journal.open(self.where, site=job.id)
        try:
            admit(journal, job, stem=self.stem)
        except BadInput:
            journal.close()
            raise
        journal.signer = own_signer()
        journal.known_by = THIS_MACHINE
        if tell is not None:
            journal.tell = tell
        if not job.invented:
            journal.known = (known.number, known.hash) if known is not None and known.number else None
            journal.noted = lambda entry: note(job, Noted(journal.where, entry.number, entry.hash))
            if known is None:
                note(job, Noted(journal.where, 0, ""))
        self.set_up(journal)
        return journal

    def rename(self) -> None:
        """Tell the record of a job its new name and first day, which the user has confirmed."""
        job = self._to_open()
        if self.made:
            with closing(Journal.open(self.where, site=job.id, make=False)) as journal:
                rename(journal, job)

    def _to_open(self) -> JobName:
        if self.older:
            words = (
                "is a journal of the version before, and may be this job's; "
                "`jointtrench journal SITE take-over` shows what is in it and takes it over"
            )
            raise unusable("journal/old", str(self.older[0]), words)
        if self.job is None:
            words = "has no job id yet, by which its record is found; `jointtrench journal SITE begin` gives it one"
            raise unusable("journal/no-id", "The site file", words)
        return self.job

    def _check_may_be_made(self, known: Noted | None) -> None:
        path = Path(self.where)
        if known is not None and known.number:
            words = (
                f"is gone; it held {known.number} entries. Bring it back, or the last backup with "
                "`jointtrench journal SITE restore`"
            )
            raise unusable("journal/missing", str(path), words)
        if self.job is not None and path.parent == job_folder(self.job.id):
            try:
                path.parent.mkdir(parents=True, exist_ok=True)
            except OSError as error:
                raise unusable("journal/reach", str(path), f"cannot be made: {error.strerror}") from error
        elif not path.parent.is_dir():
            raise unusable("journal/reach", str(path.parent), "is no folder that is there just now")


def place_of(site: Site, file: Path, said: str = "") -> JournalPlace:
    """Return where the journal of a site lies that was read from a file.

    `said` (or else JOINTTRENCH_JOURNAL) names a database URL, a folder that is there, or a file. When nothing
    is said it lies in the user's own data folder, under the job's id.
    """
    said = said or os.environ.get(JOURNAL_VARIABLE, "")
    job = JobName.of(site)
    if "://" in said:
        return JournalPlace(said, job, older_journals(file, job), file.stem)
    if said and (Path(said).is_file() or Path(said).suffix == ".db"):
        said = str(Path(said).absolute())
        return JournalPlace(said, job, older_journals(file, job, but=Path(said)), file.stem)
    if said:
        if not Path(said).is_dir():
            words = f"is neither a folder that is there just now, nor a file that ends in .db ({JOURNAL_VARIABLE})"
            raise unusable("journal/where", said, words)
        named = str(Path(said).absolute() / f"{job.id}.journal.db") if job else ""
        return JournalPlace(named, job, older_journals(file, job, folder=Path(said)), file.stem)
    named = str(job_folder(job.id) / "journal.db") if job else ""
    return JournalPlace(named, job, older_journals(file, job), file.stem)
