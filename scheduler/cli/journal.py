"""The commands of the live job: write to the journal, ask about hold points, look through the record."""

from __future__ import annotations

import argparse
import os
import sys
import textwrap
from collections.abc import Mapping
from datetime import UTC, datetime
from difflib import get_close_matches
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from pydantic import TypeAdapter, ValidationError

import scheduler
from scheduler import BadInput, Case, Finding, Severity
from scheduler.cli import printed
from scheduler.ledger import (
    BY_NAME,
    CoverAnswer,
    CoverGround,
    Entry,
    HoldPoint,
    HoldReleased,
    JournalPlace,
    Refused,
    State,
    VisitCancelled,
    VisitConfirmed,
    Wording,
    covered_unreleased,
    fold,
    hold_points,
    may_cover,
    names,
    place_of,
    read_event,
    release,
    state_at,
)
from scheduler.site import Moment
from scheduler.trench import CAUTIONS
from scheduler.units import parse_station

_MOMENT: TypeAdapter[datetime] = TypeAdapter(Moment)
Asked = tuple[tuple[str, dict[str, Any]], ...]
_TIME: dict[str, Any] = {"metavar": "TIME", "help": "such as '2027-03-09 10:30', site time; now when left out"}
_WHEN = ("--when", _TIME)
_LOOKS = ("looks", {"nargs": "+", "metavar": "LOOK", "help": "inspection activity"})
_INSPECTOR = ("--inspector", {"required": True, "metavar": "PERSON"})
_STRETCH: Asked = (
    ("alignment", {}),
    ("from_ft", {"metavar": "FROM", "type": parse_station}),
    ("to_ft", {"metavar": "TO", "type": parse_station}),
    ("--depth", {"choices": ("shading", "fill"), "help": "shading: the select fill over the lines only"}),
    ("--layer", {"type": int, "help": "this layer and those below it"}),
    _WHEN,
)
_ACTIVITY: Asked = (("activity", {}), _WHEN)
_NEEDED = {"required": True}

REPORTS: Mapping[str, tuple[str, str, Asked]] = {
    "started": ("started", "work on an activity began", _ACTIVITY),
    "finished": ("finished", "an activity is done", _ACTIVITY),
    "remaining": ("remaining_reported", "working hours left", (("activity", {}), ("hours", {"type": float}), _WHEN)),
    "delayed": (
        "delayed",
        "somebody cannot come before a time",
        (
            ("who", {}),
            ("--not-before", {**_NEEDED, "metavar": "TIME"}),
            ("--about", {"nargs": "+", "default": [], "metavar": "ACTIVITY"}),
            ("--why", {"default": ""}),
        ),
    ),
    "booked": (
        "visit_booked",
        "a visit was booked or moved",
        (
            ("visit", {"help": "a name for the visit"}),
            ("--of", {**_NEEDED, "metavar": "ID", "help": "the inspection or outside work"}),
            ("--start", {**_NEEDED, "metavar": "TIME"}),
            ("--until", {"metavar": "TIME"}),
            ("--looks", {"nargs": "+", "default": [], "metavar": "ACTIVITY"}),
            ("--firm", {"action": "store_true"}),
        ),
    ),
    "confirmed": ("visit_confirmed", "a visit was confirmed", (("visit", {}),)),
    "cancelled": ("visit_cancelled", "a visit was called off", (("visit", {}), ("--why", {"default": ""}))),
    "passed": ("inspection_passed", "an inspection passed", (_LOOKS, _INSPECTOR, ("--notes", {"default": ""}), _WHEN)),
    "conditions": (
        "inspection_passed_with_conditions",
        "an inspection passed with conditions",
        (_LOOKS, _INSPECTOR, ("--conditions", _NEEDED), _WHEN),
    ),
    "failed": (
        "inspection_failed",
        "an inspection failed",
        (_LOOKS, _INSPECTOR, ("--faults", _NEEDED), ("--repair-hours", {"type": float}), _WHEN),
    ),
    "released": (
        "hold_released",
        "the authority released a hold point",
        (
            ("hold", {}),
            ("--person", {**_NEEDED, "help": "who releases it, by id in the site file"}),
            ("--evidence", {**_NEEDED, "help": "what was seen, in words"}),
            ("--file", {"type": Path, "help": "a photo or PDF to keep with it"}),
            _WHEN,
        ),
    ),
    "covered": ("cover_reported", "a stretch was covered", _STRETCH),
    "uncovered": ("uncover_reported", "a covered stretch was dug open", _STRETCH),
    "ticket": (
        "ticket_answered",
        "an owner answered a locate ticket",
        (
            ("ticket", {}),
            ("--who", _NEEDED),
            ("--answer", {**_NEEDED, "choices": ("clear", "marked", "not_complete")}),
            _WHEN,
        ),
    ),
    "rain": (
        "rained",
        "it rained",
        (
            ("--start", {**_NEEDED, "metavar": "TIME"}),
            ("--until", {**_NEEDED, "metavar": "TIME"}),
            ("--inches", {"type": float}),
        ),
    ),
    "measured": (
        "measured",
        "a line was measured as built",
        (
            ("alignment", {}),
            ("station_ft", {"metavar": "STATION", "type": parse_station}),
            ("--line", {}),
            ("--offset-in", {**_NEEDED, "type": float}),
            ("--cover-in", {**_NEEDED, "type": float}),
            ("--who", _NEEDED),
            _WHEN,
        ),
    ),
    "wrong": (
        "corrected",
        "an earlier entry was wrong and counts no longer",
        (("supersedes", {"metavar": "ENTRY", "type": int}), ("--reason", _NEEDED)),
    ),
}
"""By command word: the event's name, help, and what is asked for."""
_TIMES = ("when", "start", "until", "not_before")


def add_to(subparsers: Any) -> None:
    """Add `report` and `holds` to the command line."""
    common = argparse.ArgumentParser(add_help=False)
    common.add_argument(
        "--journal",
        metavar="WHERE",
        help="file, folder or database URL (default: JOINTTRENCH_JOURNAL, or the user's own folder)",
    )
    common.add_argument("--now", **_TIME)

    report = subparsers.add_parser("report", help="write down what happened: started, passed, delayed, rain ...")
    report.add_argument("site", type=Path)
    kinds = report.add_subparsers(dest="what", required=True, metavar="EVENT")
    for word, (name, text, asked) in REPORTS.items():
        kind = kinds.add_parser(word, help=text, parents=[common])
        kind.add_argument("--by", default=os.environ.get("USER") or "unknown", help="who writes it down")
        for flag, options in asked:
            kind.add_argument(flag, **options)
        kind.set_defaults(run=report_event, event=name)

    holds = subparsers.add_parser("holds", help="hold points, and whether a stretch may be covered", parents=[common])
    holds.add_argument("site", type=Path)
    holds.add_argument("--at", metavar="ALIGNMENT:STATION", help="may it be covered there?")
    holds.add_argument("--to", metavar="STATION", type=parse_station, help="the other end of the stretch from --at")
    holds.add_argument("--when", metavar="TIME", help="the moment asked about")
    holds.add_argument("--layer", type=int, help="this layer and those below it")
    holds.add_argument("--shading", action="store_true", help="only the select fill over the lines")
    holds.set_defaults(run=ask_holds)


def report_event(arguments: argparse.Namespace) -> int:
    """Write one event; 1 when it was refused, or when something lies covered that was not released."""
    case = scheduler.load(arguments.site)
    now = site_moment(case, arguments.now)
    fields = BY_NAME[arguments.event].model_fields
    body = {k: v for k, v in vars(arguments).items() if k in fields and k != "name" and v is not None}
    for key in _TIMES:
        if key in body:
            body[key] = site_moment(case, body[key])
    if "when" in fields:
        body.setdefault("when", now)
    _check_ids(case, body)
    journal = _place(arguments, case).open(tell=say_on_the_side)
    if arguments.event == "hold_released":
        person = next((p for p in case.site.people if p.id == arguments.person), None)
        body["role"] = person.role if person else "unknown"
        body["attachment"] = journal.attach(arguments.file.read_bytes()) if arguments.file else None
    event = read_event(arguments.event, body)
    if isinstance(event, VisitConfirmed | VisitCancelled):
        _check_visit(event.visit, fold(journal.entries()))
    if isinstance(event, HoldReleased):
        entry = release(journal, case.site, case.network, event, at=now, by=arguments.by)
    else:
        entry = journal.append(event, at=now, by=arguments.by)
    broken = covered_unreleased(case.site, case.network, fold(journal.entries()), now)
    if isinstance(entry.event, Refused):
        print(f"Refused, and the refusal is entry {entry.number}: {entry.event.reason}")
    else:
        print(f"Entry {entry.number} is written: {line_of(case, entry)}")
    if broken:
        print(printed.findings(broken, good=""))
    return 1 if broken or isinstance(entry.event, Refused) else 0


def ask_holds(arguments: argparse.Namespace) -> int:
    """List the hold points, or answer whether a stretch may be covered; 1 for a no."""
    case = scheduler.load(arguments.site)
    now = site_moment(case, arguments.now)
    moment = site_moment(case, arguments.when) if arguments.when else now
    state = _state(arguments, case, now)
    broken = covered_unreleased(case.site, case.network, state, moment)
    if arguments.at:
        ground = _ground(case, arguments)
        answer = may_cover(case.site, case.network, state, ground, moment, asked=min(now, moment))
        print(_answer(answer))
    else:
        answer = None
        print("\n".join(_told(p) for p in hold_points(case.site, case.network, state, moment)))
    if broken:
        print(printed.findings(broken, good=""))
    print(printed.cautions(CAUTIONS))
    return 1 if broken or (answer is not None and not answer.yes) else 0


def say_on_the_side(words_: str) -> None:
    """Say what is going on where it does not mix with the answer."""
    print(words_, file=sys.stderr, flush=True)


def _told(point: HoldPoint) -> str:
    """Tell a hold point in two or three lines: what it is, then how it stands and whose it is."""
    hold, given = point.hold, point.release
    facts = [f"{hold.kind} point, {point.status.value}", f"{names(point.releasers)} may release it"]
    facts += [f"trench open since {printed.moment(point.open_since)}"] if point.open_since else []
    facts += [f"evidence: {given.evidence}"] if given else []
    lines = ((hold.name, "  "), ("; ".join(facts), "      "))
    return "\n".join(textwrap.fill(t, printed.WIDTH, initial_indent=i, subsequent_indent="      ") for t, i in lines)


def _answer(answer: CoverAnswer) -> str:
    when = printed.moment(answer.moment)
    if answer.yes:
        return f"Yes. Nothing on record stands against covering there on {when}."
    lines = [f"No, not on {when}, as the record stands:"]
    for reason in answer.reasons:
        earliest = printed.moment(reason.earliest) if reason.earliest else "not known"
        lines.append(f"  - {reason.text}\n      Cleared by {reason.who}, at the earliest {earliest}.")
    if answer.may_be_by_then:
        lines.append("All of these can be cleared by then; ask again when they are.")
    return "\n".join(lines)


def _ground(case: Case, arguments: argparse.Namespace) -> CoverGround:
    alignment, _, station = arguments.at.rpartition(":")
    try:
        start = parse_station(station)
    except ValueError as error:
        raise BadInput([_fault("--at", str(error))]) from None
    _check_ids(case, {"alignment": alignment})
    end = arguments.to if arguments.to is not None else start + 1.0
    return CoverGround(alignment, min(start, end), max(start, end), arguments.shading, arguments.layer)


def line_of(case: Case, entry: Entry) -> str:
    """Say an entry in one line, with names in place of ids where there are any."""
    return " ".join(Wording(case.site, case.network).sentence(entry.event).split())


def _check_ids(case: Case, body: Mapping[str, Any]) -> None:
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
    }
    faults = []
    for key, ids in known.items():
        value = body.get(key, [])
        for id_ in value if isinstance(value, list) else [value]:
            if id_ not in ids:
                near = get_close_matches(id_, ids, n=4, cutoff=0.3)
                nearest = "one of: " + "; ".join(near) if near else "an id of the site"
                faults.append(_fault(key, "names nothing on this site", id_, nearest))
    if faults:
        raise BadInput(faults)


def _check_visit(visit: str, state: State) -> None:
    if visit not in state.visits:
        booked = "; ".join(state.visits) or "none is booked yet"
        raise BadInput([_fault("visit", "is not booked", visit, f"one of: {booked}")])


def _fault(where: str, text: str, found: str = "", required: str = "") -> Finding:
    return Finding("report/input", Severity.STOP, where, text + ".", found, required)


def site_moment(case: Case, text: str | None) -> datetime:
    """Return an aware moment from what was typed, in site time; now when nothing was."""
    if text is None:
        return datetime.now(UTC)
    try:
        moment = _MOMENT.validate_python(text)
    except ValidationError as error:
        raise BadInput([_fault(f"'{text}'", error.errors()[0]["msg"].removeprefix("Value error, ") + ".")]) from None
    return moment if moment.tzinfo else moment.replace(tzinfo=ZoneInfo(case.site.site.time_zone))


def _local(case: Case, when: datetime) -> datetime:
    return when.astimezone(ZoneInfo(case.site.site.time_zone))


def _place(arguments: argparse.Namespace, case: Case) -> JournalPlace:
    return place_of(case.site, case.path, arguments.journal or "")


def _state(arguments: argparse.Namespace, case: Case, now: datetime) -> State:
    place = _place(arguments, case)
    return state_at(place.open().entries(), now) if place.made else State()
