"""Which job a record is of: giving a site file its id, and saying that a job was renamed, moved or kept before."""

from __future__ import annotations

import argparse
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from scheduler import BadInput, Case, Finding, Severity
from scheduler.cli import printed
from scheduler.cli.asked import line_of
from scheduler.ledger import Journal, JournalPlace, begin_record, verify
from scheduler.ledger.keeping import (
    JobName,
    Noted,
    Older,
    head_of,
    is_not_ours,
    kept_jobs,
    look_at,
    note,
    noted,
    rename,
    sources,
    take_over,
)

LATER = "Nothing was done. Say the same with --yes to do it."


@dataclass(frozen=True, slots=True)
class JournalAsked:
    """What was typed, the site it is about, and where its journal lies."""

    arguments: argparse.Namespace
    case: Case
    place: JournalPlace


def job_of(place: JournalPlace) -> JobName:
    """Return the job that a place is for; raises BadInput when the site file has no id yet."""
    if place.job is None:
        text = "has no job id yet; `jointtrench journal SITE begin` gives it one"
        raise BadInput([input_fault("The site file", text)])
    return place.job


def there(place: JournalPlace) -> JournalPlace:
    """Return a place where there is a journal; raises BadInput where there is none."""
    if not place.made:
        raise BadInput([input_fault(place.where, "no journal of this job is there yet")])
    return place


def input_fault(where: str, text: str, found: str = "", required: str = "") -> Finding:
    """Return a fault in what was asked for."""
    return Finding("journal/input", Severity.STOP, where, text + ".", found, required)


def begin(asked: JournalAsked) -> int:
    """Give the job an id."""
    if asked.place.job is not None:
        print(f"This job has its id already: {asked.place.job.id}")
        return 0
    given = begin_record(asked.case.path)
    print(f"Written into {asked.case.path}: job_id {given}. Its record is found by that from now on.")
    if asked.place.older:
        print(f"A journal of the version before lies at {asked.place.older[0]}: `jointtrench journal SITE take-over`.")
    return 0


def new_id(asked: JournalAsked) -> int:
    """Give a copied site file an id of its own."""
    if not asked.arguments.yes:
        old = job_of(asked.place).id
        print(f"{asked.case.path} would get a new job_id. It would have no record yet; that of {old} is left alone.")
        print(LATER)
        return 1
    print(f"Written into {asked.case.path}: job_id {begin_record(asked.case.path)}.")
    return 0


def renamed(asked: JournalAsked) -> int:
    """Tell the record the new name of its job."""
    job = job_of(asked.place)
    with closing(Journal.open(there(asked.place).where, site=job.id, make=False)) as journal:
        with journal.reading() as connection:
            kept = kept_jobs(connection).get(job.id)
        if kept is None:
            raise BadInput([input_fault(asked.place.where, "is not the journal of this job", required=job.id)])
        print(f"The record is of '{kept.name}', first day {kept.first_day}; the site file says {job}.")
        if kept.is_called(job):
            print("They agree.")
            return 0
        if not asked.arguments.yes:
            print(LATER)
            return 1
        rename(journal, job)
    print("The record knows it by its new name.")
    return 0


def moved(asked: JournalAsked) -> int:
    """Take the journal at its new place as the one and only, once it holds what was written before."""
    job = job_of(asked.place)
    known = noted(job)
    with closing(Journal.open(there(asked.place).where, site=job.id, make=False)) as journal:
        with journal.reading() as connection:
            kept = kept_jobs(connection).get(job.id)
        if kept is None:
            raise BadInput([input_fault(asked.place.where, "is not the journal of this job", required=job.id)])
        journal.site = kept.chain
        heads = [known.hash] if known is not None and known.number else []
        found = verify(journal, heads=heads)
        if found:
            raise BadInput(found)
        entries = journal.entries()
        before = known.where if known else "-"
        print(f"{journal.where} holds {len(entries)} entries, with all that was written at {before}.")
        if not asked.arguments.yes:
            print(LATER)
            return 1
        last = Noted(journal.where, entries[-1].number if entries else 0, entries[-1].hash if entries else "")
        note(job, last, afresh=True)
    print("It is the journal of this job from now on.")
    return 0


def take_over_journal(asked: JournalAsked) -> int:
    """Show the journals of the version before, and with --yes take one over; 1 when nothing was done."""
    found = sources(asked.place)
    if not found:
        print("No journal of the version before is here.")
        return 0
    job, older = job_of(asked.place), [look_at(asked.place, source) for source in found]
    for each in older:
        print(_older(asked.case, each))
    older = [each for each in older if asked.arguments.old in (None, each.source)]
    if len(older) != 1:
        print("Nothing was done. Say which one with --old.")
        return 1
    if not asked.arguments.yes:
        print(f"It would become the journal of {job} at {asked.place.where}. {LATER}")
        return 1
    if asked.arguments.not_this_job:
        is_not_ours(job, Path(older[0].source))
        print("It is left alone, and not asked about again for this job.")
        return 0
    kept = take_over(asked.place, older[0], job)
    print(f"Taken over: {len(older[0].entries)} entries, head {head_of(older[0].entries)}.")
    if kept is not None:
        print(f"The old file is kept as {kept}")
    return 0


def _older(case: Case, older: Older) -> str:
    known = {a.id for a in case.network.activities} | {h.id for h in case.network.holds}
    known |= {part.id for group in (case.site.alignments, case.site.lines) for part in group}
    entries, strangers = older.entries, older.strangers(known)
    lines = [f"{older.source}: {len(entries)} entries"]
    if entries:
        lines[0] += (
            f", from {printed.moment(entries[0].at)} to {printed.moment(entries[-1].at)}, head {head_of(entries)}"
        )
        lines.append(f"  The last one: {line_of(case, entries[-1])}")
    if strangers:
        lines.append(
            f"  It names {len(strangers)} things that this site has not, such as {strangers[0]}: another job's?"
        )
    return "\n".join([*lines, *(f"  {finding}" for finding in older.found[:10])])
