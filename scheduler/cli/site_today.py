"""`jointtrench today`: the site as it stands, what to do, and whether the plan still holds."""

from __future__ import annotations

import argparse
import textwrap
from collections.abc import Iterable, Sequence
from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import Any

import scheduler
from scheduler import Case, Planned, Situation, as_accepted
from scheduler.cli import printed
from scheduler.cli.asked import accepted_for, opened, place_for, say_on_the_side, site_moment
from scheduler.ledger import Entry, JournalPlace, clock_ahead_words, fold, state_at
from scheduler.situation import (
    WorkStands,
    WorkState,
    before_anybody_enters,
    before_it,
    calls_of,
    held_up,
    phone_calls,
    to_make_good,
    verdict,
    why_not,
)
from scheduler.spoken import times
from scheduler.trench import CAUTIONS
from scheduler.units import format_length

REASONS_AT_MOST = 8
ROWS_AT_MOST = 12
"""Of what is missing or holds work up; the work and the calls of the day are all told."""


def add_to(sub: Any) -> None:
    """Add the command to the command line."""
    command = sub.add_parser("today", help="the site as it stands: what to do, what is missing, does the plan hold")
    command.add_argument("site", type=Path)
    command.add_argument("--at", metavar="TIME", help="the moment asked about, site time; now when left out")
    command.add_argument("--journal", metavar="WHERE", help="file, folder or database URL, as with `report`")
    command.set_defaults(run=show_today)


def show_today(arguments: argparse.Namespace) -> int:
    """Show how the site stands; 1 when the plan no longer holds, or something lies covered too early."""
    case = opened(arguments.site)
    situation = situation_asked(arguments, case, site_moment(case, arguments.at), all_of_it=arguments.at is None)
    print(told(situation))
    return 0 if situation.holds_still and not situation.covered else 1


def situation_asked(arguments: argparse.Namespace, case: Case, moment: datetime, *, all_of_it: bool) -> Situation:
    """Return the site as it stands at a moment by the plan in force; `all_of_it`: with all that was written down."""
    entries, planned = plan_in_force(case, place_for(arguments, case))
    state = fold(entries, moment) if all_of_it else state_at(entries, moment)
    return scheduler.today(case, entries, moment, planned, state=state, proposal=state.plan is None)


def plan_in_force(case: Case, place: JournalPlace) -> tuple[tuple[Entry, ...], Planned]:
    """Return the entries of a job's journal and the plan to work by: the one accepted last, else one made now."""
    entries: tuple[Entry, ...] = ()
    if place.made:
        with closing(place.open(tell=say_on_the_side)) as journal:
            entries = journal.entries()
            plan, accepted = accepted_for(case, journal, entries), fold(entries).plan
        if plan is not None and accepted is not None:
            found = as_accepted(case, entries, accepted, plan)
            if found is not None:
                return entries, found
            say_on_the_side("The accepted plan no longer fits what is on record. A new one is made now.")
        if accepted is not None:
            return entries, scheduler.plan(case)
    say_on_the_side("No plan was accepted yet; one is made now, as at the start.")
    return entries, scheduler.plan(case)


def told(situation: Situation) -> str:
    """Return all that `today` says, as a terminal shows it."""
    blocks = [f"{situation.site.site.name}, {printed.moment(situation.moment)}", _verdict(situation)]
    if situation.covered:
        blocks.append("Covered before its release: " + printed.findings(situation.covered, good=""))
    blocks.append(_block("Before anybody goes in, the competent person inspects:", before_anybody_enters(situation)))
    blocks.append(_block("To be made good before anything covers it:", to_make_good(situation)))
    blocks.append(_block("On site now, or due there:", (_row(situation, w) for w in situation.on_site_now)))
    told_elsewhere = {w.id for w in (*situation.on_site_now, *situation.overdue)}
    later = [w for w in situation.on_day(situation.moment.date()) if w.id not in told_elsewhere and w.kind.takes_time]
    blocks.append(_block("Still to come today:", (_row(situation, w) for w in later)))
    missing = (" ".join([f"{w.name} ({w.doer or 'site'}): {w.because}", *before_it(w)]) for w in situation.overdue)
    blocks.append(_block("Due, and not on record:", missing, ROWS_AT_MOST))
    blocks.append(_block("What holds work up:", held_up(situation), ROWS_AT_MOST))
    names = (situation.work[a].name for a in situation.taken_as_done)
    blocks.append(
        _block("Taken as done, because what follows has begun; report it if that is wrong:", names, ROWS_AT_MOST)
    )
    today = situation.moment.date()
    blocks.append(_block("To call today:", (c.said for c in phone_calls(calls_of(situation), today) if c.on == today)))
    blocks.append(_open(situation))
    blocks.append(printed.undone(situation.plan.of_the_dates) if situation.plan is not None else "")
    if situation.state.clock_ahead:
        blocks.append(clock_ahead_words(situation.state.clock_ahead))
    blocks.append(f"By the record up to entry {situation.head}." if situation.head else "Nothing is on record.")
    return "\n\n".join(b for b in blocks if b) + "\n" + printed.cautions(CAUTIONS)


def _verdict(situation: Situation) -> str:
    return "\n".join([verdict(situation), *(_wrapped(w) for w in why_not(situation, REASONS_AT_MOST))])


def _row(situation: Situation, stands: WorkStands) -> str:
    hours = situation.hours_on(stands.id, situation.moment.date())
    when = times(*hours) if hours else "begun before"
    how = "" if stands.state is WorkState.PLANNED else f" [{stands.state.value}]"
    return " ".join([f"{when} {stands.doer or 'site'}: {stands.name}{how}.", *before_it(stands)])


def _open(situation: Situation) -> str:
    planned = situation.planned_open_ft(situation.moment.date())
    also = "" if planned is None else f" The plan has {format_length(planned)} open tonight."
    return f"Trench open by the record: {format_length(situation.open_tonight_ft)}.{also}"


def _block(title: str, rows: Iterable[str], most: int | None = None) -> str:
    """Return a list under its title, nothing where it is empty; beyond `most` rows the rest is counted."""
    lines: Sequence[str] = [_wrapped(r) for r in rows]
    if not lines:
        return ""
    more = 0 if most is None else len(lines) - most
    return "\n".join([title, *lines[:most], *([f"  ... and {more} more."] if more > 0 else [])])


def _wrapped(text: str) -> str:
    return textwrap.fill(text, printed.WIDTH, initial_indent="  - ", subsequent_indent="    ")
