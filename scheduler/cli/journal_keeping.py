"""`jointtrench journal`: show and verify the record of a job, back it up, have it stamped, export it."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

from scheduler import BadInput
from scheduler.cli import printed
from scheduler.cli.asked import line_of, opened, site_moment
from scheduler.cli.whose import (
    LATER,
    JournalAsked,
    begin,
    input_fault,
    job_of,
    moved,
    new_id,
    renamed,
    take_over_journal,
    there,
)
from scheduler.ledger import Journal, place_of, superseded, verify
from scheduler.ledger.keeping import (
    Head,
    Noted,
    Restoring,
    TimeStamp,
    back_up,
    check_lines,
    check_stamps,
    checked_public,
    export_lines,
    head_of,
    look_at_restoring,
    note,
    noted,
    opened_backup,
    own_signer,
    read_heads,
    restore,
    stamp_journal,
)
from scheduler.site.editor import read_text

Run = Callable[[JournalAsked], int]
GOOD = "The journal is whole: nothing in it was changed, removed or slipped in."


def add_to(subparsers: Any) -> None:
    """Add `journal` to the command line."""
    record = subparsers.add_parser("journal", help="show, verify, back up and keep the record of a job")
    record.add_argument("site", type=Path)
    kinds = record.add_subparsers(dest="what", required=True, metavar="WHAT")
    common = argparse.ArgumentParser(add_help=False)
    common.add_argument("--journal", metavar="WHERE", help="file, folder or database URL, as with `report`")
    sure = argparse.ArgumentParser(add_help=False)
    sure.add_argument("--yes", action="store_true", help="do it; without this it is only shown")

    def kind(name: str, text: str, run: Run, *parents: argparse.ArgumentParser) -> argparse.ArgumentParser:
        made: argparse.ArgumentParser = kinds.add_parser(name, help=text, parents=[common, *parents])
        made.set_defaults(run=lambda a: run(_opened(a)))
        return made

    show = kind("show", "tell what is written down", show_journal)
    show.add_argument("--up-to", metavar="TIME", help="what was written down by then")
    for name, text, run in (
        ("verify", "prove that nothing was changed; 1 when something was, or is missing", verify_journal),
        ("check-export", "the same for a journal exported as JSON Lines", check_export),
    ):
        made = kind(name, text, run)
        if name == "check-export":
            made.add_argument("file", type=Path)
        made.add_argument("--head", action="append", default=[], help="a code such as 57:7F3K-9QXD-M2TA, or a hash")
        made.add_argument("--heads", type=Path, action="append", default=[], help="a file with such codes in its text")
        made.add_argument("--key", action="append", default=[], help="public key of somebody who wrote in it")
        if name == "verify":
            made.add_argument("--stamp", type=Path, action="append", default=[], help="a file that `timestamp` wrote")
            made.add_argument("--authority-cert", type=Path, metavar="PEM", help="root certificate of who stamped it")
    stamp = kind("timestamp", "have a time-stamp authority sign that the last entry stands here now", make_stamp)
    stamp.add_argument("--authority", required=True, metavar="URL", help="where it takes requests (RFC 3161)")
    stamp.add_argument(
        "--out", type=Path, metavar="TO", help="a new file, or a folder; beside the site file if left out"
    )
    backup = kind("backup", "copy it while it is in use, attached photos too, and verify the copy", make_backup)
    backup.add_argument("to", type=Path, help="a folder, or a new file")
    back = kind("restore", "bring a backup back, with later entries that can still be read", restore_backup, sure)
    back.add_argument("backup", type=Path)
    lines = kind("export", "write it as JSON Lines, for others to read", export_journal)
    lines.add_argument("to", type=Path)
    kind("key", "print the public key that entries are signed with here", show_key)
    kind("begin", "give the job its id, and write it into the site file", begin)
    kind("new-id", "the site file was copied for another job: give it an id of its own", new_id, sure)
    kind("renamed", "the job has a new name or first day: its record is to know it", renamed, sure)
    kind("moved", "the journal was moved: from now on it is kept where --journal says", moved, sure)
    old = kind("take-over", "take over a journal of the version before", take_over_journal, sure)
    old.add_argument("--old", metavar="WHERE", help="which one, where there are several")
    old.add_argument("--not-this-job", action="store_true", help="the old journal is another job's: leave it alone")


def _opened(arguments: argparse.Namespace) -> JournalAsked:
    case = opened(arguments.site)
    return JournalAsked(arguments, case, place_of(case.site, case.path, arguments.journal or ""))


def show_journal(asked: JournalAsked) -> int:
    """Tell every entry, and the head to note elsewhere."""
    if not asked.place.made:
        print("Nothing has been written down for this site yet.")
        return 0
    with closing(asked.place.open()) as journal:
        entries = journal.entries(site_moment(asked.case, asked.arguments.up_to) if asked.arguments.up_to else None)
    gone = superseded(entries)
    for entry in entries:
        mark = "  [superseded]" if entry.number in gone else ""
        at = printed.moment(entry.at.astimezone(asked.case.network.clock.when(0).tzinfo))
        print(f"{entry.number:5d}  {at}  {entry.writer}: {line_of(asked.case, entry)}{mark}")
    print(f"Head: {head_of(entries)}" if entries else "Nothing has been written down for this site yet.")
    return 0


def verify_journal(asked: JournalAsked) -> int:
    """Verify the journal; 1 when anything is wrong with it, or when there is none."""
    heads, keys = _at_hand(asked.arguments)
    stamps, certificate = asked.arguments.stamp, asked.arguments.authority_cert
    if bool(stamps) != bool(certificate):
        raise BadInput([input_fault("--stamp", "a time stamp and --authority-cert are named together or not at all")])
    if not asked.place.made:
        print("There is no journal of this site here, so nothing is verified.")
        return 1
    try:
        with closing(asked.place.open()) as journal:
            found = verify(journal, heads=heads, keys=keys)
            entries = () if found else journal.entries()
            chain = journal.site
    except BadInput as bad:
        found, entries, chain = list(bad.findings), (), ""
    sound: list[TimeStamp] = []
    if stamps and not found:
        sound, found = check_stamps(stamps, certificate, chain, entries)
    print(printed.findings(found, good=GOOD))
    if stamps and not entries:
        print("The time stamps were not looked at: they prove something of a whole journal only.")
    for token in sound:
        at = printed.moment(token.moment.astimezone(asked.case.network.clock.when(0).tzinfo))
        print(f"{token.path}: the entries up to {token.head} stood in this journal on {at}, and are the same today.")
    if entries:
        print(f"{len(entries)} entries. Note the head elsewhere: {head_of(entries)}")
        print(f"The hash of the last one: {entries[-1].hash}")
        if not heads and not keys and not sound:
            print("No head or key was given: whoever rewrote every hash after a change would not be found this way.")
    return 1 if found else 0


def check_export(asked: JournalAsked) -> int:
    """Check an exported journal."""
    heads, keys = _at_hand(asked.arguments)
    found = check_lines(asked.arguments.file, heads=heads, keys=keys)
    print(printed.findings(found, good="The export is whole, and is what was written."))
    return 1 if found else 0


def _at_hand(arguments: argparse.Namespace) -> tuple[list[Head | str], list[str]]:
    """Return the heads and keys that were given; raises BadInput for one that is none."""
    heads: list[Head | str] = []
    for text in [*arguments.head, *(read_text(path) for path in arguments.heads)]:
        found = read_heads(text)
        if not found:
            raise BadInput([input_fault("--head", "is no head such as 57:7F3K-9QXD-M2TA, and holds none", text[:60])])
        heads += found
    return heads, [checked_public(key) for key in arguments.key]


def make_stamp(asked: JournalAsked) -> int:
    """Have the last entry stamped."""
    arguments, job = asked.arguments, job_of(asked.place)
    with closing(there(asked.place).open()) as journal:
        made = stamp_journal(journal, arguments.authority, arguments.out or arguments.site.parent, name=job.id)
    at = printed.moment(made.moment.astimezone(asked.case.network.clock.when(0).tzinfo))
    print(f"The authority says that entry {made.head} stood here on {at}: {made.path}")
    print("Keep that file elsewhere. It is proof once it is checked with the authority's root certificate:")
    print(f"jointtrench journal {arguments.site} verify --stamp {made.path} --authority-cert PEM")
    return 0


def make_backup(asked: JournalAsked) -> int:
    """Back the journal up."""
    job = job_of(asked.place)
    with closing(there(asked.place).open()) as journal:
        made = back_up(journal, job, asked.arguments.to)
    print(f"{len(made.entries)} entries are copied and verified: {made.path}")
    print(f"Head: {made.head}. Keep the file and the .sha256 beside it on another machine.")
    return 0


def restore_backup(asked: JournalAsked) -> int:
    """Show what bringing a backup back would do, and with --yes do it; 1 when nothing was done."""
    job = job_of(asked.place)
    if "://" in asked.place.where:
        raise BadInput(
            [input_fault("--journal", "a database is restored by its own tools; name a file or folder here")]
        )
    where = Path(asked.place.where)
    known = noted(job)
    with opened_backup(asked.arguments.backup, job) as (backup, _):
        planned = look_at_restoring(backup, where, job, known.number if known else 0)
    print(_restoring(planned, where))
    if planned.there == "whole":
        print("It is whole and holds everything in the backup: there is nothing to restore.")
        return 1
    if not asked.arguments.yes:
        print(LATER)
        return 1
    aside = restore(planned, where, job)
    with closing(Journal.open(where, site=planned.backup.kept.chain, make=False)) as journal:
        entries = journal.entries()
        last = Noted(journal.where, entries[-1].number if entries else 0, entries[-1].hash if entries else "")
    if not job.invented:
        note(job, last, afresh=True)
    print(f"Restored and verified: {len(entries)} entries, head {head_of(entries)}.")
    if aside is not None:
        print(f"What stood there before is kept as {aside}")
    return 0


def _restoring(planned: Restoring, where: Path) -> str:
    last = planned.last
    lines = [f"The backup is whole: entries 1 to {last}, head {planned.backup.head}.", f"At {where}: {planned.there}."]
    lines += [f"  {finding}" for finding in planned.found[:10]]
    if planned.saved:
        lines.append(f"Entries {last + 1} to {last + len(planned.saved)} can still be read there and are kept.")
    if planned.lost:
        lines.append(
            f"{planned.lost} later entries were written here and would be lost: ask who knows, write them anew."
        )
    return "\n".join(lines)


def export_journal(asked: JournalAsked) -> int:
    """Export the journal as JSON Lines, and check what was written."""
    job = job_of(asked.place)
    with closing(there(asked.place).open()) as journal:
        count = export_lines(journal, job, asked.arguments.to)
        entries = journal.entries()[:count]
    head = head_of(entries)
    found = check_lines(asked.arguments.to, heads=[head] if head else [])
    if found:
        raise BadInput(found)
    print(f"{count} entries are written and checked: {asked.arguments.to}. Head: {head}")
    return 0


def show_key(_: JournalAsked) -> int:
    """Print the public key that entries are signed with on this machine."""
    print(own_signer().public)
    return 0
