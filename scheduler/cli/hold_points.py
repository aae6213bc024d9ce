"""`jointtrench holds`: hold points as they stand, and whether a stretch may be covered."""

from __future__ import annotations

import argparse
import textwrap
from datetime import datetime
from pathlib import Path
from typing import Any

from scheduler import BadInput, Case
from scheduler.cli import printed
from scheduler.cli.asked import check_ids, opened, place_for, say_on_the_side, site_moment, station
from scheduler.ledger import (
    CoverAnswer,
    CoverGround,
    CoverVerdict,
    HoldPoint,
    State,
    clock_ahead_words,
    covered_unreleased,
    fold,
    hold_points,
    may_cover,
    names,
    no_answer,
    state_at,
)
from scheduler.trench import CAUTIONS


def add_to(subparsers: Any, common: argparse.ArgumentParser) -> None:
    """Add `holds` to the command line."""
    holds = subparsers.add_parser("holds", help="hold points, and whether a stretch may be covered", parents=[common])
    holds.add_argument("site", type=Path)
    holds.add_argument("--at", metavar="ALIGNMENT:STATION", help="may it be covered there?")
    holds.add_argument("--to", metavar="STATION", help="the other end of the stretch from --at")
    holds.add_argument("--when", metavar="TIME", help="the moment asked about")
    holds.add_argument("--layer", type=int, help="this layer and those below it")
    holds.add_argument("--shading", action="store_true", help="only the select fill over the lines")
    holds.set_defaults(run=ask_holds)


def ask_holds(arguments: argparse.Namespace) -> int:
    """List the hold points, or answer whether a stretch may be covered; 0 for a Yes alone."""
    case = opened(arguments.site)
    now = site_moment(case, arguments.now)
    moment = site_moment(case, arguments.when) if arguments.when else now
    ground = _ground(case, arguments) if arguments.at else None
    try:
        state = _state(arguments, case, now)
    except BadInput as fault_of_journal:
        print(_answer(no_answer(fault_of_journal, moment)))
        print(printed.cautions(CAUTIONS))
        return 1
    broken = covered_unreleased(case.site, case.network, state, moment)
    answer = None
    if ground is not None:
        answer = may_cover(case.site, case.network, state, ground, moment, asked=min(now, moment))
        print(_answer(answer))
    else:
        print("\n".join(_told(p) for p in hold_points(case.site, case.network, state, moment)))
    if broken:
        print(printed.findings(broken, good=""))
    if state.clock_ahead:
        print(clock_ahead_words(state.clock_ahead))
    print(printed.cautions(CAUTIONS))
    return 1 if broken or (answer is not None and not answer.yes) else 0


def _state(arguments: argparse.Namespace, case: Case, now: datetime) -> State:
    """Return all that is written down; with `--now`, only what was by then. Raises BadInput when it cannot be read."""
    place = place_for(arguments, case)
    if not place.made:
        return State()
    entries = place.open(tell=say_on_the_side).entries()
    return fold(entries, now) if arguments.now is None else state_at(entries, now)


def _told(point: HoldPoint) -> str:
    """Tell a hold point in two or three lines: what it is, then how it stands and whose it is."""
    hold, given = point.hold, point.release
    because = f": {point.because}" if point.because else ""
    facts = [
        f"{hold.kind} point, {point.status.value}{because}",
        f"{names(point.releasers) if point.releasers else 'nobody'} may release it",
    ]
    facts += [f"trench open since {printed.moment(point.open_since)}"] if point.open_since else []
    facts += [f"evidence: {given.evidence}"] if given else []
    lines = ((hold.name, "  "), ("; ".join(facts), "      "))
    return "\n".join(textwrap.fill(t, printed.WIDTH, initial_indent=i, subsequent_indent="      ") for t, i in lines)


def _answer(answer: CoverAnswer) -> str:
    when = printed.moment(answer.moment)
    match answer.verdict:
        case CoverVerdict.YES:
            lines = [f"Yes. Nothing on record stands against covering there on {when}."]
        case CoverVerdict.NO:
            lines = [f"No, not on {when}, as the record stands:"]
        case CoverVerdict.ASK_AGAIN:
            lines = [f"Ask again, on {when}: it was released, but"]
    for reason in answer.reasons:
        local = reason.earliest.astimezone(answer.moment.tzinfo) if reason.earliest else None
        earliest = printed.moment(local) if local else "not known"
        cleared = f"Ask {reason.who}." if reason.ask else f"Cleared by {reason.who}, at the earliest {earliest}."
        lines.append(f"  - {reason.text}\n      {cleared}")
    lines += [textwrap.fill(f"  - {text}", printed.WIDTH, subsequent_indent="    ") for text in answer.left_open]
    if answer.may_be_by_then:
        lines.append("All of these can be cleared by then; ask again when they are.")
    lines.append(_known_to(answer))
    return "\n".join(lines)


def _known_to(answer: CoverAnswer) -> str:
    """Say how far the journal had been written when this was true."""
    if answer.entry:
        return f"By the journal up to entry {answer.entry}, head {answer.head}."
    return "Nothing is on record." if not any(r.kind == "journal" for r in answer.reasons) else ""


def _ground(case: Case, arguments: argparse.Namespace) -> CoverGround:
    alignment, _, at = arguments.at.rpartition(":")
    start = station(at)
    check_ids(case, {"alignment": alignment})
    end = station(arguments.to) if arguments.to else start + 1.0
    return CoverGround(alignment, min(start, end), max(start, end), arguments.shading, arguments.layer)
