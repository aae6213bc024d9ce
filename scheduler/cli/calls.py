"""`jointtrench calls` and `jointtrench called`: whom to call, and what they answered."""

from __future__ import annotations

import argparse
import os
import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from scheduler import BadInput, Case, Situation
from scheduler.cli import printed
from scheduler.cli.asked import fault, line_of, opened, place_for, say_on_the_side, site_moment
from scheduler.cli.site_today import situation_asked
from scheduler.ledger import read_event, write_down
from scheduler.situation import (
    CallDue,
    about_what,
    calls_of,
    how_it_stands,
    ids_to_call,
    phone_calls,
    said_in_call,
    ticked_off,
)
from scheduler.spoken import count, typed

ANSWERS = {"agreed": "agreed", "no-answer": "no_answer", "refused": "refused", "tentative": "tentative"}
MEANS = {"phone": "phone", "text": "text", "mail": "mail", "in-person": "in_person", "letter": "letter"}
_JOURNAL: dict[str, Any] = {"metavar": "WHERE", "help": "file, folder or database URL, as with `report`"}


def add_to(sub: Any) -> None:
    """Add the commands to the command line."""
    calls = sub.add_parser("calls", help="whom to call by when, so that everybody comes as the plan says")
    calls.add_argument("site", type=Path)
    calls.add_argument("--at", metavar="TIME", help="the moment asked about, site time; now when left out")
    calls.add_argument("--journal", **_JOURNAL)
    calls.set_defaults(run=show_calls)

    called = sub.add_parser("called", help="write down that somebody was called, and what they answered")
    called.add_argument("site", type=Path)
    called.add_argument("party", metavar="PARTY", help="an inspection, outside work, trade or locate ticket, by its id")
    called.add_argument("--answer", required=True, choices=tuple(ANSWERS))
    called.add_argument("--offers", metavar="TIME", help="after a no: from when on they can come")
    called.add_argument("--start", metavar="TIME", help="the time they were asked for, where several calls are due")
    called.add_argument("--person", default="", help="who was spoken to; as in the site file when left out")
    called.add_argument("--means", choices=tuple(MEANS), default="phone")
    called.add_argument("--words", default="", help="what else was said")
    called.add_argument("--by", default=os.environ.get("USER") or "unknown", help="who writes it down")
    called.add_argument("--when", metavar="TIME", help="when they were called, site time; now when left out")
    called.add_argument("--now", metavar="TIME", help="the moment it is written down, as with `report`")
    called.add_argument("--journal", **_JOURNAL)
    called.set_defaults(run=write_call)


def show_calls(arguments: argparse.Namespace) -> int:
    """List the calls to make; 1 when any is overdue."""
    case = opened(arguments.site)
    situation = situation_asked(arguments, case, site_moment(case, arguments.at), all_of_it=arguments.at is None)
    due = calls_of(situation)
    print(told(situation, due))
    return 1 if any(c.due_since for c in due) else 0


def write_call(arguments: argparse.Namespace) -> int:
    """Write one call down; 1 when they said no, for then the plan must be made again."""
    case = opened(arguments.site)
    now = site_moment(case, arguments.now)
    situation = situation_asked(arguments, case, now, all_of_it=True)
    due = _asked(arguments, case, situation, calls_of(situation))
    body = said_in_call(due) | {
        "answer": ANSWERS[arguments.answer],
        "means": MEANS[arguments.means],
        "words": arguments.words,
        "when": site_moment(case, arguments.when) if arguments.when else now,
        "offers": site_moment(case, arguments.offers) if arguments.offers else None,
    }
    event = read_event("called", body | ({"person": arguments.person} if arguments.person else {}))
    journal = place_for(arguments, case).open(tell=say_on_the_side)
    entry = write_down(journal, case.site, case.network, event, at=now, by=arguments.by)
    print(f"Entry {entry.number} is written: {line_of(case, entry)}")
    if body["answer"] == "refused":
        print(f"The plan cannot stay as it is: see `jointtrench replan {arguments.site}`.")
        return 1
    return 0


def told(situation: Situation, due: Sequence[CallDue]) -> str:
    """Return the list of calls as a terminal shows it."""
    head = f"{situation.site.site.name}, {printed.moment(situation.moment)}"
    if not due:
        return f"{head}\n\nNobody needs to be called: everybody who comes knows when."
    lines = [head, ""]
    for call in phone_calls(due, situation.moment.date()):
        lines.append(f"{call.when}: {call.to}")
        lines += [_wrapped(_told(c)) for c in call.due]
    late = sum(c.due_since is not None for c in due)
    lines += ["", f"{count(len(due), 'thing')} to say or ask, {late} of them overdue."]
    return "\n".join(lines)


def _told(call: CallDue) -> str:
    parts = [about_what(call), how_it_stands(call) or call.if_no, f"[{call.of}]" if ticked_off(call) else ""]
    return " ".join(p for p in parts if p)


def _wrapped(text: str) -> str:
    return textwrap.fill(text, printed.WIDTH, initial_indent="  - ", subsequent_indent="    ")


def _asked(arguments: argparse.Namespace, case: Case, situation: Situation, due: Sequence[CallDue]) -> CallDue:
    """Return the call that was made: the one due now, or the one for the time that was typed."""
    theirs = [c for c in due if c.of == arguments.party and ticked_off(c)]
    if not theirs:
        known = ids_to_call(case.site, case.network)
        called = tuple(dict.fromkeys(c.of for c in due if ticked_off(c)))
        if arguments.party not in known:
            text = "it is no inspection, outside work, trade or locate ticket here"
            raise BadInput([fault("party", text, arguments.party, f"one of {', '.join(known)}")])
        text = "is not to be called about anything: they know when they come, or do not come"
        raise BadInput(
            [fault("party", text, arguments.party, f"one of those to call: {', '.join(called) or 'nobody'}")]
        )
    if arguments.start:
        start = site_moment(case, arguments.start)
        found = [c for c in theirs if c.now == start]
    else:
        today = situation.moment.date()
        found = [c for c in theirs if max(c.by.date(), today) == max(theirs[0].by.date(), today)]
    if len(found) != 1:
        times = "; ".join(typed(c.now) for c in theirs if c.now)
        text = "no call about that time is due" if arguments.start else "several calls to them are due; say which"
        raise BadInput([fault("--start", text, arguments.start or "", f"one of: {times}")])
    return found[0]
