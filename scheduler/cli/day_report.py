"""`jointtrench report SITE as-planned`: a day's record in one go, with what was otherwise."""

from __future__ import annotations

import argparse
import os
import textwrap
from collections.abc import Sequence
from contextlib import closing
from datetime import datetime
from typing import Any

from scheduler import BadInput, Case
from scheduler.cli.asked import check_ids, fault, line_of, opened, place_for, say_on_the_side, site_moment, station
from scheduler.cli.report_kinds import TIME
from scheduler.cli.site_today import plan_in_force
from scheduler.ledger import Entry, Event, fold, write_all
from scheduler.situation import AsPlanned, Wanted, all_as_planned
from scheduler.spoken import count


def add_to(kinds: Any, common: argparse.ArgumentParser) -> None:
    """Add the command to the kinds of report."""
    command = kinds.add_parser(
        "as-planned",
        help="all went as planned, except what is said here; looks, tests and releases are never taken as done",
        parents=[common],
    )
    command.add_argument("--by", default=os.environ.get("USER") or "unknown", help="who writes it down")
    command.add_argument("--until", **TIME)
    command.add_argument("--trade", help="only this trade's work, by its id in the site file")
    command.add_argument("--alignment", help="only work on this alignment")
    command.add_argument("--from", dest="from_ft", metavar="STATION")
    command.add_argument("--to", dest="to_ft", metavar="STATION")
    for flag, value, text in (
        ("--except", "WHY", "it was not done, because"),
        ("--started", "TIME", "it began then instead"),
        ("--finished", "TIME", "it ended then instead"),
    ):
        command.add_argument(flag, metavar=f"ACTIVITY={value}", action="append", default=[], help=text)
    command.add_argument(
        "--leave", metavar="ACTIVITY", action="append", default=[], help="nothing is said of it; report it otherwise"
    )
    command.add_argument("--dry-run", action="store_true", help="show what would be written, and write nothing")
    command.set_defaults(run=report_as_planned)


def report_as_planned(arguments: argparse.Namespace) -> int:
    """Write what the plan has by a moment and the record has not, all or nothing; say what is still to be said."""
    case = opened(arguments.site)
    now = site_moment(case, arguments.now)
    until = site_moment(case, arguments.until) if arguments.until else now
    wanted = _wanted(case, arguments)
    place = place_for(arguments, case)
    entries, planned = plan_in_force(case, place)
    found = all_as_planned(
        case.site, case.fitting(planned.plan).network, fold(entries, now), planned.plan, until, wanted
    )
    _check_exceptions(found, wanted)
    if not arguments.dry_run and found.events:
        with closing(place.open(tell=say_on_the_side)) as journal:
            after = entries[-1].number if entries else 0
            written = write_all(journal, case.site, case.network, found.events, at=now, by=arguments.by, after=after)
        print(f"{count(len(written), 'entry', 'entries')} written, all in one go:")
        print(_listed(case, [e.event for e in written], written[0].number))
    elif found.events:
        print(f"{count(len(found.events), 'entry', 'entries')} would be written; nothing is yet:")
        print(_listed(case, found.events, len(entries) + 1))
    else:
        print("The record has everything that can be taken as it was planned by then.")
    if found.still_to_say:
        print(still_to_say(found))
    return 0


def _wanted(case: Case, arguments: argparse.Namespace) -> Wanted:
    stretch = None
    if arguments.alignment is not None:
        length = next((a.length_ft for a in case.site.alignments if a.id == arguments.alignment), 0.0)
        stretch = (
            arguments.alignment,
            station(arguments.from_ft) if arguments.from_ft else 0.0,
            station(arguments.to_ft) if arguments.to_ft else length,
        )
        check_ids(case, {"alignment": arguments.alignment})
    elif arguments.from_ft is not None or arguments.to_ft is not None:
        raise BadInput([fault("--from and --to", "need --alignment")])
    if arguments.trade is not None and all(t.id != arguments.trade for t in case.site.trades):
        trades = ", ".join(t.id for t in case.site.trades)
        raise BadInput([fault("--trade", "names nobody on this site", arguments.trade, f"one of {trades}")])
    started, finished = (
        {a: site_moment(case, text) for a, text in _pairs(case, flag, rows).items()}
        for flag, rows in (("--started", arguments.started), ("--finished", arguments.finished))
    )
    not_done = _pairs(case, "--except", getattr(arguments, "except"))
    for left in arguments.leave:
        check_ids(case, {"activity": left})
    left = frozenset(arguments.leave)
    return Wanted(arguments.trade or "", stretch, not_done, left, started, finished)


def _pairs(case: Case, flag: str, rows: Sequence[str]) -> dict[str, str]:
    """Read ACTIVITY=TEXT as often as it was given; raises BadInput."""
    out: dict[str, str] = {}
    for row in rows:
        id_, equals, text = row.partition("=")
        if not equals or not text.strip():
            raise BadInput([fault(flag, "cannot be read", row, "ACTIVITY=… with something after the sign")])
        check_ids(case, {"activity": id_})
        out[id_] = text.strip()
    return out


def _check_exceptions(found: AsPlanned, wanted: Wanted) -> None:
    """Raise BadInput for an exception about work that is not asked about: it would be lost without a word."""
    about = {e.activity for e in found.events} | {s.ref for s in found.still_to_say}
    lost = [a for a in (*wanted.not_done, *wanted.started, *wanted.finished, *wanted.left) if a not in about]
    if lost:
        text = "is on record as finished, or not planned by then, or not among what was asked for"
        raise BadInput([fault(a, text) for a in dict.fromkeys(lost)])


def _listed(case: Case, events: Sequence[Event], first: int) -> str:
    none = datetime.min
    lines = (f"{n:>5}  {line_of(case, Entry(n, none, '', e, '', ''))}" for n, e in enumerate(events, first))
    return "\n".join(textwrap.fill(line, 100, subsequent_indent=" " * 7) for line in lines)


def still_to_say(found: AsPlanned) -> str:
    """Return what is never taken as done, or would contradict the record, a line each."""
    rows = [f"- {s.name} ({s.ref}): {s.because}" for s in found.still_to_say]
    filled = (textwrap.fill(row, 100, subsequent_indent="  ") for row in rows)
    return "\n".join([f"Still to be said ({len(rows)}):", *filled])
