"""`jointtrench new`: a site file to start from, made of a template or of a bundled site."""

from __future__ import annotations

import argparse
from datetime import date
from pathlib import Path
from typing import Any, get_args

from pydantic import TypeAdapter, ValidationError

from scheduler import BadInput, bundled_sites
from scheduler.cli.asked import fault
from scheduler.reading import REFERENCE
from scheduler.site import Day
from scheduler.site.editor import (
    LONGEST_FT,
    NAMES,
    SHORTEST_FT,
    Draft,
    Start,
    about,
    copied_site,
    file_name,
    new_site,
    read_text,
    read_yaml,
)
from scheduler.spoken import count
from scheduler.units import Units, format_length, parse_length, told_in
from scheduler.whole_files import write_new

_DAY: TypeAdapter[date] = TypeAdapter(Day)
OF_TEMPLATES = ("length", "units", "time_zone", "country", "state")
"""What only a template takes: a bundled site keeps its own."""


def add_to(sub: Any) -> None:
    """Add the command to the command line."""
    new = sub.add_parser("new", help="begin a site file, from a template or a bundled site; never over another file")
    new.add_argument("file", nargs="?", type=Path, help="the new file; named after the site when left out")
    new.add_argument(
        "--from",
        dest="template",
        metavar="TEMPLATE",
        default=next(iter(NAMES)),
        help=f"one of: {', '.join([*NAMES, *bundled_sites()])} (default: {next(iter(NAMES))})",
    )
    new.add_argument("--name", help="of the site; made of the file's name when left out")
    new.add_argument("--first-day", metavar="DAY", help="first on site (default: today, or as in the bundled site)")
    new.add_argument("--units", choices=get_args(Units), help="in which the site is written and told (default: feet)")
    new.add_argument(
        "--length",
        metavar="AMOUNT",
        help="of a template's main trench, such as 80 or '30 m' (default: 100 ft)",
    )
    new.add_argument("--time-zone", metavar="ZONE", help="such as America/Denver, which is the default")
    new.add_argument("--country", help="for public holidays (default: US)")
    new.add_argument("--state", help="for public holidays, in short, such as UT")
    new.set_defaults(run=begin_site)


def begin_site(arguments: argparse.Namespace) -> int:
    """Write a new site file, and say what it still needs."""
    name = _site_name(arguments)
    file = arguments.file or Path(file_name(name))
    draft = _draft(arguments, name)
    site, faults = draft.judged()
    if told_wrong := [f for f in faults if f.path[:1] == ("site",)]:
        raise read_yaml(draft.text(), file=str(file)).refusal(told_wrong)
    try:
        write_new(file, draft.text())
    except FileExistsError:
        text = "There is already a file or folder of this name; nothing was written"
        raise BadInput([fault(str(file), text)]) from None
    print(f"Begun: {file}, from {arguments.template}, with a job id of its own.")
    if site is None:
        parts = dict.fromkeys(str(f.path[0]) for f in faults if f.path)
        print(f"It is not whole yet ({count(len(faults), 'fault')}); write these parts: {', '.join(parts)}.")
    elif site.site.invented:
        print("Its people, firms, rates and measures are invented: put in your own, then take out `invented: true`.")
    else:
        print("A start, not a design: names, rates, notices and hours in it are invented; put in your own.")
    print(f"What is wrong with it, at any time: jointtrench check {file}")
    print(f"Every field and every rule, with examples: {REFERENCE}")
    return 0


def _site_name(arguments: argparse.Namespace) -> str:
    """Return the name given, or one made of the file's: `mill-road-14.yaml` gives `Mill road 14`."""
    if arguments.name is not None:
        return str(arguments.name)
    words = arguments.file.stem.replace("-", " ").replace("_", " ").strip() if arguments.file else ""
    return words[:1].upper() + words[1:] or "New site"


def _draft(arguments: argparse.Namespace, name: str) -> Draft:
    """Return the new site; raises BadInput for what cannot be begun from."""
    first_day, bundled = _first_day(arguments.first_day), bundled_sites()
    asked = {key: getattr(arguments, key) for key in OF_TEMPLATES if getattr(arguments, key) is not None}
    if arguments.template in bundled:
        if asked:
            options = ", ".join("--" + key.replace("_", "-") for key in asked)
            raise BadInput([fault(options, "is for templates; a bundled site keeps its own")])
        return copied_site(read_text(bundled[arguments.template]), name=name, first_day=first_day)
    if arguments.template not in NAMES:
        known = [f"{t} ({about(t).rstrip('.')})" for t in NAMES]
        required = "one of: " + "; ".join([*known, *(f"{s} (a bundled site)" for s in bundled)])
        raise BadInput([fault("--from", "is neither a template nor a bundled site", arguments.template, required)])
    if "length" in asked:
        asked["length_ft"] = _length_ft(asked.pop("length"), asked.get("units", "feet"))
    return new_site(arguments.template, Start(name, first_day or date.today(), **asked))


def _length_ft(text: str, units: Units) -> float:
    """Read a length with its unit, or without it in the units of the site."""
    try:
        feet = parse_length(text, units)
    except ValueError:
        feet = 0.0
    if not SHORTEST_FT <= feet <= LONGEST_FT:
        with told_in(units):
            required = f"a length from {format_length(SHORTEST_FT)} to {format_length(LONGEST_FT)}"
        raise BadInput([fault("--length", "is no length of a trench", text, required)])
    return feet


def _first_day(text: str | None) -> date | None:
    try:
        return None if text is None else _DAY.validate_python(text)
    except ValidationError:
        raise BadInput([fault("--first-day", "is no day", text or "", "a date such as 2026-06-08")]) from None
