"""The commands of the live job: write to the journal, ask about hold points, look through the record."""

from __future__ import annotations

import argparse
import os
import sys
import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from scheduler import BadInput
from scheduler.cli import day_report, hold_points, printed
from scheduler.cli.asked import fault, line_of, opened, place_for, say_on_the_side, site_moment
from scheduler.cli.report_kinds import REPORTS, TIME, body_of
from scheduler.ledger import (
    BY_NAME,
    HoldReleased,
    Refused,
    State,
    VisitCancelled,
    VisitConfirmed,
    clock_ahead_words,
    contradicted,
    covered_unreleased,
    fold,
    hold_point,
    read_event,
    write_down,
)


def add_to(subparsers: Any) -> None:
    """Add `report` and `holds` to the command line."""
    common = argparse.ArgumentParser(add_help=False)
    common.add_argument(
        "--journal",
        metavar="WHERE",
        help="file, folder or database URL (default: JOINTTRENCH_JOURNAL, or the user's own folder)",
    )
    common.add_argument("--now", **TIME)

    report = subparsers.add_parser("report", help="write down what happened: started, passed, delayed, rain ...")
    report.add_argument("site", type=Path)
    kinds = report.add_subparsers(dest="what", required=True, metavar="EVENT")
    for word, (name, text, asked) in REPORTS.items():
        kind = kinds.add_parser(word, help=text, parents=[common])
        kind.add_argument("--by", default=os.environ.get("USER") or "unknown", help="who writes it down")
        for flag, options in asked:
            kind.add_argument(flag, **options)
        if "late_because" in BY_NAME[name].model_fields:
            kind.add_argument("--late-because", metavar="WHY", help="why something old is written down only now")
        if "despite" in BY_NAME[name].model_fields:
            kind.add_argument("--despite", metavar="WHY", help="write it although it contradicts the record, because")
        kind.set_defaults(run=report_event, event=name)

    day_report.add_to(kinds, common)
    hold_points.add_to(subparsers, common)


def report_event(arguments: argparse.Namespace) -> int:
    """Write one event; 1 when it was refused, or something lies covered that was not released; 2 when contradicted."""
    case = opened(arguments.site)
    now = site_moment(case, arguments.now)
    fields = BY_NAME[arguments.event].model_fields
    body = body_of(case, arguments.event, arguments, now)
    journal = place_for(arguments, case).open(tell=say_on_the_side)
    if arguments.event == "hold_released":
        person = next((p for p in case.site.people if p.id == arguments.person), None)
        body["role"] = person.role if person else "unknown"
    if "attachment" in fields:
        body["attachment"] = journal.attach(arguments.file.read_bytes()) if arguments.file else None
    event = read_event(arguments.event, body)
    if isinstance(event, VisitConfirmed | VisitCancelled):
        _check_visit(event.visit, fold(journal.entries()))
    found = contradicted(case.site, case.network, journal.entries(), event, at=now, by=arguments.by)
    if found:
        print(_asked_once(found), file=sys.stderr)
        return 2
    entry = write_down(journal, case.site, case.network, event, at=now, by=arguments.by)
    state = fold(journal.entries(), now)
    broken = covered_unreleased(case.site, case.network, state, now)
    if isinstance(entry.event, Refused):
        print(f"Refused, and the refusal is entry {entry.number}: {entry.event.reason}")
    else:
        print(f"Entry {entry.number} is written: {line_of(case, entry)}")
    if isinstance(entry.event, HoldReleased):
        hold = next(h for h in case.network.holds if h.id == entry.event.hold)
        point = hold_point(case.site, case.network, state, hold, now)
        if not point.clear:
            print(f"It does not clear this hold point yet: {point.because or point.status.value}.")
    if state.clock_ahead:
        print(clock_ahead_words(state.clock_ahead))
    if broken:
        print(printed.findings(broken, good=""))
    return 1 if broken or isinstance(entry.event, Refused) else 0


def _asked_once(found: Sequence[str]) -> str:
    """Return what a report contradicts, and how to write it all the same."""
    lines = [
        "This contradicts the record:",
        *(textwrap.fill(f"- {text}", 100, subsequent_indent="  ") for text in found),
    ]
    lines.append("Nothing was written. If it is so all the same, say why with --despite WHY; the entry is then marked.")
    return "\n".join(lines)


def _check_visit(visit: str, state: State) -> None:
    if visit not in state.visits:
        booked = "; ".join(state.visits) or "none is booked yet"
        raise BadInput([fault("visit", "is not booked", visit, f"one of: {booked}")])
