"""Whose journal it is: the job's id, name and first day stand in the journal itself, and are compared on opening."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, insert, select

from scheduler.errors import BadInput
from scheduler.ledger.archiving import refuse_archived
from scheduler.ledger.connecting import unusable
from scheduler.ledger.journal_tables import ENTRIES, JOBS
from scheduler.ledger.store import Journal
from scheduler.site.site_record import Site


@dataclass(frozen=True, slots=True)
class JobName:
    """A job as its site file names it."""

    id: str
    name: str
    first_day: date
    invented: bool = False
    """An invented job is practised on; nothing of it is proof of anything."""

    @classmethod
    def of(cls, site: Site) -> JobName | None:
        """Return the job that a site file is about; None when it has no id yet."""
        job = site.site
        return None if job.job_id is None else cls(job.job_id, job.name, job.first_day, job.invented)

    def __str__(self) -> str:
        return f"'{self.name}', first day {self.first_day}"


@dataclass(frozen=True, slots=True)
class Kept:
    """What a journal says of a job it is of."""

    job: str
    number: int
    name: str
    first_day: str
    chain: str
    """The name of its chain of entries."""

    def is_called(self, job: JobName) -> bool:
        """Tell whether it knows the job by the name and first day that its site file gives."""
        return (self.name, self.first_day) == (job.name, job.first_day.isoformat())


def kept_jobs(connection: Connection) -> dict[str, Kept]:
    """Return the jobs whose journal this is, by id, each as it was named last."""
    rows = connection.execute(select(JOBS).order_by(JOBS.c.job, JOBS.c.number)).all()
    return {r.job: Kept(r.job, r.number, r.name, r.first_day, r.chain) for r in rows}


def admit(journal: Journal, job: JobName, *, stem: str = "") -> None:
    """Take an opened journal as that of a job, and write the job into it when it is new.

    Raises BadInput when it is another job's, when the job has another name there, or when it was kept by the
    version before, which named jobs by the site file's name, `stem`, and a single one not at all.
    """
    with journal.reading() as connection:
        kept = _admitted(connection, journal, job, stem)
    if kept is None:
        with journal.writing() as connection:
            kept = _admitted(connection, journal, job, stem) or _write(connection, job, 1, job.id)
    if not kept.is_called(job):
        _check_name(journal, job, kept)
    journal.site = kept.chain


def _admitted(connection: Connection, journal: Journal, job: JobName, stem: str) -> Kept | None:
    jobs = kept_jobs(connection)
    if job.id in jobs:
        return jobs[job.id]
    if journal.file is not None and jobs:
        other = next(iter(jobs.values()))
        words = f"is the journal of another job: '{other.name}', first day {other.first_day}, {other.job}"
        raise unusable("journal/another", journal.where, words)
    older = "" if journal.file is not None else stem
    claimed = {k.chain for k in jobs.values()}
    if older not in claimed and has_entries(connection, older):
        words = (
            "holds entries of the version before, which may be this job's; "
            "`jointtrench journal SITE take-over` shows them and takes them over"
        )
        raise unusable("journal/old", journal.where, words)
    return None


def _check_name(journal: Journal, job: JobName, kept: Kept) -> None:
    """Follow a new name while nothing is written down; refuse it afterwards until the user has said what it is."""
    with journal.writing() as connection:
        kept = kept_jobs(connection)[job.id]
        if kept.is_called(job):
            return
        if not has_entries(connection, kept.chain):
            _write(connection, job, kept.number + 1, kept.chain)
            return
    raise another_name(journal.where, job, kept)


def another_name(where: str, job: JobName, kept: Kept) -> BadInput:
    """Return the refusal of a record whose job has another name or first day, with the ways to go on."""
    words = (
        f"is the journal of '{kept.name}', first day {kept.first_day}; the site file with its id says {job}. "
        "If this is the same job: `jointtrench journal SITE renamed`. If it is another job, which was copied: "
        "`jointtrench journal SITE new-id`"
    )
    return unusable("journal/another", where, words)


def rename(journal: Journal, job: JobName) -> Kept:
    """Write the name and first day that a job has now into its journal; returns what stood there before."""
    with journal.writing() as connection:
        kept = kept_jobs(connection).get(job.id)
        if kept is None:
            raise unusable("journal/another", journal.where, f"is not the journal of {job}")
        refuse_archived(connection, kept.chain)
        if not kept.is_called(job):
            _write(connection, job, kept.number + 1, kept.chain)
    return kept


def claim(connection: Connection, job: JobName, chain: str) -> None:
    """Write down that a chain of entries of the version before is a job's; raises BadInput when it is another's."""
    jobs = kept_jobs(connection)
    other = next((k for k in jobs.values() if k.chain == chain and k.job != job.id), None)
    if other is not None:
        raise unusable("journal/another", "The old journal", f"was taken over by another job: '{other.name}'")
    if job.id not in jobs:
        _write(connection, job, 1, chain)


def has_entries(connection: Connection, chain: str) -> bool:
    """Tell whether a chain has any entry."""
    return connection.execute(select(ENTRIES.c.number).where(ENTRIES.c.site == chain).limit(1)).first() is not None


def _write(connection: Connection, job: JobName, number: int, chain: str) -> Kept:
    said = {"job": job.id, "number": number, "name": job.name, "first_day": job.first_day.isoformat(), "chain": chain}
    connection.execute(insert(JOBS).values(**said))
    return Kept(job.id, number, job.name, said["first_day"], chain)  # type: ignore[arg-type]
