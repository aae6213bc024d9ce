"""What `jointtrench report` can write down: by command word, the event and what is asked for."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from scheduler import Case
from scheduler.cli.asked import check_ids, site_moment, station
from scheduler.ledger import BY_NAME
from scheduler.units import parse_amount


def _inches(text: str) -> float:
    return parse_amount(text, "in")


_STATIONS = ("from_ft", "to_ft", "station_ft")
_TIMES = ("when", "start", "until", "not_before", "since")
Asked = tuple[tuple[str, dict[str, Any]], ...]
TIME: dict[str, Any] = {"metavar": "TIME", "help": "such as '2027-03-09 10:30', site time; now when left out"}
_WHEN = ("--when", TIME)
_NEEDED = {"required": True}
_LOOKS = ("looks", {"nargs": "+", "metavar": "LOOK", "help": "inspection activity"})
_INSPECTOR = ("--inspector", {"required": True, "metavar": "PERSON"})
_PLACE: Asked = (
    ("alignment", {}),
    ("from_ft", {"metavar": "FROM"}),
    ("to_ft", {"metavar": "TO"}),
)
_STRETCH: Asked = (
    *_PLACE,
    ("--depth", {"choices": ("shading", "fill"), "help": "shading: the select fill over the lines only"}),
    ("--layer", {"type": int, "help": "this layer and those below it"}),
    _WHEN,
)
_ACTIVITY: Asked = (("activity", {}), _WHEN)

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
    "taken-over": (
        "taken_over",
        "another firm does the open work of a trade from a time on",
        (
            ("trade", {"help": "the trade that leaves, by its id"}),
            ("--firm", {**_NEEDED, "help": "the firm that does its work now"}),
            ("--since", {**_NEEDED, "metavar": "TIME", "help": "from when on"}),
            ("--notice-days", {"type": int, "help": "working days of notice it asks for; counted from --when"}),
            ("--mobilisation-cost", {"type": float, "help": "what it takes to come, in the site's money"}),
            ("--why", {"default": ""}),
            _WHEN,
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
    "stands": (
        "pass_stands",
        "after rain, water or a changed design the authority says that its pass still stands",
        (_LOOKS, _INSPECTOR, ("--words", {**_NEEDED, "help": "what they said"}), _WHEN),
    ),
    "repaired": ("repair_reported", "something in a stretch was fixed", (*_PLACE, ("--what", _NEEDED), _WHEN)),
    "water": ("water_stood", "water stood in the trench", (*_PLACE, _WHEN)),
    "stop": (
        "stop_work",
        "somebody ordered work to stop",
        (
            ("--who", _NEEDED),
            ("--why", _NEEDED),
            ("--alignment", {"help": "everywhere when left out"}),
            ("--from", {"dest": "from_ft", "metavar": "STATION"}),
            ("--to", {"dest": "to_ft", "metavar": "STATION"}),
            _WHEN,
        ),
    ),
    "lifted": (
        "stop_work_lifted",
        "whoever ordered a stop lifted it",
        (("stop", {"metavar": "ENTRY", "type": int, "help": "the entry of the order"}), ("--who", _NEEDED), _WHEN),
    ),
    "test-failed": (
        "test_failed",
        "a trade's own test failed",
        (
            ("activity", {"help": "the test"}),
            ("--faults", {**_NEEDED, "help": "what was found"}),
            ("--repair-hours", {"type": float, "help": "working hours to fix it"}),
            _WHEN,
        ),
    ),
    "not-done": (
        "not_done",
        "work that was planned was not done",
        (("activity", {}), ("--because", _NEEDED), _WHEN),
    ),
    "inspected-trench": (
        "trench_inspected",
        "the competent person inspected the open trench",
        (
            *_PLACE,
            ("--who", {**_NEEDED, "metavar": "PERSON", "help": "the competent person, by id in the site file"}),
            ("--not-safe", {"action": "store_false", "dest": "safe", "help": "nobody may stay in it; say why"}),
            ("--words", {"default": "", "help": "what was seen"}),
            _WHEN,
        ),
    ),
    "struck": (
        "line_struck",
        "a line in the ground was struck; work along the alignment stops until that is lifted",
        (
            ("alignment", {}),
            ("station_ft", {"metavar": "STATION"}),
            ("--who", {**_NEEDED, "metavar": "PERSON", "help": "who reports it"}),
            ("--line", {"help": "the line by its id, where it is known"}),
            ("--owner", {"default": "", "help": "whose line it is"}),
            ("--what", {**_NEEDED, "help": "what happened"}),
            ("--told", {**_NEEDED, "help": "who was called: owner, emergency number, one-call centre"}),
            _WHEN,
        ),
    ),
    "note": (
        "note_kept",
        "words or a photo, with an entry, a stretch, or by themselves",
        (
            ("--words", {"default": ""}),
            ("--file", {"type": Path, "help": "a photo or PDF to keep with it"}),
            ("--entry", {"type": int, "help": "number of the entry that it belongs to"}),
            ("--alignment", {}),
            ("--from", {"dest": "from_ft", "metavar": "STATION"}),
            ("--to", {"dest": "to_ft", "metavar": "STATION"}),
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
            ("--inches", {"type": _inches, "metavar": "AMOUNT", "help": "in inches, or with its unit: 20mm"}),
        ),
    ),
    "measured": (
        "measured",
        "a line was measured as built",
        (
            ("alignment", {}),
            ("station_ft", {"metavar": "STATION"}),
            ("--line", {}),
            ("--offset-in", {**_NEEDED, "type": _inches, "metavar": "AMOUNT", "help": "in inches, or with its unit"}),
            ("--cover-in", {**_NEEDED, "type": _inches, "metavar": "AMOUNT", "help": "in inches, or with its unit"}),
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


def body_of(case: Case, event: str, arguments: argparse.Namespace, now: datetime) -> dict[str, Any]:
    """Return the fields of an event as they were typed, moments in site time; raises BadInput for unknown ids."""
    fields = BY_NAME[event].model_fields
    body = {k: v for k, v in vars(arguments).items() if k in fields and k != "name" and v is not None}
    for key in _TIMES:
        if key in body:
            body[key] = site_moment(case, body[key])
    body |= {key: station(body[key]) for key in _STATIONS if key in body}
    if "when" in fields:
        body.setdefault("when", now)
    check_ids(case, body)
    return body
