"""What people type for the live job, read: moments in site time, ids, and where the journal lies."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterable, Mapping
from datetime import datetime
from difflib import get_close_matches
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from pydantic import TypeAdapter, ValidationError

import scheduler
from scheduler import BadInput, Case, Finding, Severity, accepted_plan
from scheduler.ledger import Entry, Event, Journal, JournalPlace, Wording, place_of
from scheduler.plan import Plan
from scheduler.site import Moment
from scheduler.units import parse_station, tell_in

_MOMENT: TypeAdapter[datetime] = TypeAdapter(Moment)


def opened(path: Path) -> Case:
    """Open a site file for one command, which from then on tells lengths in the units of that site."""
    case = scheduler.load(path)
    tell_in(case.site.site.units)
    return case


def station(text: str) -> float:
    """Return a station as it was typed, in feet; raises BadInput when it is none."""
    try:
        return parse_station(text)
    except ValueError as error:
        raise BadInput([fault(f"'{text}'", f"is no station: {error}")]) from None


def check_ids(case: Case, body: Mapping[str, Any]) -> None:
    """Raise BadInput for every id that names nothing, with the nearest ones that do."""
    network, site = case.network, case.site
    activities = {a.id for a in network.activities}
    known: dict[str, set[str]] = {
        "activity": activities,
        "looks": activities,
        "about": activities,
        "hold": {h.id for h in network.holds},
        "alignment": {a.id for a in site.alignments},
        "of": {i.id for i in site.inspections} | {w.id for w in site.outside_work},
        "ticket": {t.id for t in site.locate_tickets},
        "line": {k.id for k in site.lines},
        "person": {p.id for p in site.people},
        "trade": {t.id for t in site.trades},
    }
    faults = []
    for key, ids in known.items():
        value = body.get(key, [])
        for id_ in value if isinstance(value, list) else [value]:
            if id_ not in ids:
                near = get_close_matches(id_, ids, n=4, cutoff=0.3)
                nearest = "one of: " + "; ".join(near) if near else "an id of the site"
                faults.append(fault(key, "names nothing on this site", id_, nearest))
    if faults:
        raise BadInput(faults)


def fault(where: str, text: str, found: str = "", required: str = "") -> Finding:
    """Return what is wrong with something that was typed."""
    return Finding("report/input", Severity.STOP, where, text + ".", found, required)


def site_moment(case: Case, text: str | None) -> datetime:
    """Return an aware moment from what was typed, in site time; now when nothing was."""
    if text is None:
        return datetime.now(ZoneInfo(case.site.site.time_zone))
    try:
        moment = _MOMENT.validate_python(text)
    except ValidationError as error:
        raise BadInput([fault(f"'{text}'", error.errors()[0]["msg"].removeprefix("Value error, ") + ".")]) from None
    return moment if moment.tzinfo else moment.replace(tzinfo=ZoneInfo(case.site.site.time_zone))


def accepted_for(case: Case, journal: Journal, entries: Iterable[Entry]) -> Plan | None:
    """Return the plan accepted last where it was made from what the site file says now; says on the side where not."""
    plan = accepted_plan(journal, entries)
    if plan is None or case.made(plan):
        return plan
    say_on_the_side(
        "A plan was accepted, but the site file has changed since. A new one is made now, which nobody has accepted."
    )
    return None


def place_for(arguments: argparse.Namespace, case: Case) -> JournalPlace:
    """Return where the journal of a site lies, by what was typed."""
    return place_of(case.site, case.path, arguments.journal or "")


def say_on_the_side(words: str) -> None:
    """Say what is going on where it does not mix with the answer."""
    print(words, file=sys.stderr, flush=True)


def line_of(case: Case, entry: Entry) -> str:
    """Say an entry in one line, with names in place of ids where there are any."""
    return say(case, entry.event)


def say(case: Case, event: Event) -> str:
    """Say an event in one line, with names in place of ids where there are any."""
    return " ".join(Wording(case.site, case.network).sentence(event).split())
