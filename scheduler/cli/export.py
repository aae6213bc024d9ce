"""`jointtrench export`: papers, calendars, tables and hold tags from a plan."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from contextlib import nullcontext
from datetime import UTC, date, datetime
from hashlib import sha256
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import scheduler
from scheduler import BadInput, Case, Finding, Severity, bundled_sites
from scheduler.cli.asked import opened, site_moment
from scheduler.cli.commands import folder_for, opened_plan
from scheduler.export import (
    PAPER,
    WEEKS,
    Period,
    checked_base,
    unreadable,
)
from scheduler.ledger import place_of
from scheduler.plan import Plan
from scheduler.site import content_digest
from scheduler.spoken import LANGUAGES
from scheduler.whole_files import write_whole


def add_to(sub: Any) -> None:
    """Add the command to the command line."""
    export = sub.add_parser("export", help="papers for the truck, calendars for phones, tables and hold tags")
    export.add_argument("plan", type=Path, help="a plan.json")
    export.add_argument("--out", type=Path, default=Path("papers"), help="folder for the files (default: papers)")
    export.add_argument("--weeks", type=int, choices=WEEKS, default=2, help="how far a look-ahead looks (default: 2)")
    export.add_argument(
        "--from",
        dest="first",
        type=_day,
        metavar="DATE",
        help="its first day; when left out that of --at, else today while the plan goes on, else its data date",
    )
    export.add_argument("--trade", metavar="ID", help="only for this trade, authority or outside party: its id or name")
    export.add_argument(
        "--earlier",
        type=Path,
        action="append",
        default=[],
        metavar="PLAN",
        help="a plan.json exported before, so that calendars update in place; may be given again, the oldest first",
    )
    export.add_argument("--link", default="", metavar="URL", help="address of the dashboard, for links and QR codes")
    export.add_argument("--paper", choices=tuple(PAPER), help="what is usual in the site's country when left out")
    export.add_argument("--tags-in", choices=tuple(LANGUAGES), default="en", help="the language of hold tags")
    export.add_argument("--at", metavar="TIME", help="the site as it was known to stand then; now when left out")
    export.add_argument(
        "--journal", metavar="WHERE", help="file, folder or database URL of the journal, as with `report`"
    )
    export.add_argument("--site", type=Path, help="the site file; looked for beside the plan when left out")
    export.set_defaults(run=export_files)


def export_files(arguments: argparse.Namespace) -> int:
    """Write the papers, calendars, tables and tags of a plan into a folder, and say what was written."""
    plan = opened_plan(arguments.plan)
    checked_base(arguments.link)
    case = _case(plan, arguments.plan, arguments.site)
    place = place_of(case.site, case.path, arguments.journal or "")
    if arguments.journal and not place.made:
        text = "holds no journal of this job."
        raise BadInput([Finding("export/journal", Severity.STOP, "--journal", text, arguments.journal)])
    at = None if arguments.at is None else site_moment(case, arguments.at)
    first = arguments.first or first_day(plan, at, datetime.now(UTC), ZoneInfo(case.site.site.time_zone))
    with place.open() if place.made else nullcontext() as journal:
        files = scheduler.export(
            case,
            plan,
            journal=journal,
            first=first,
            weeks=arguments.weeks,
            party=arguments.trade or "",
            paper=arguments.paper or "",
            link=arguments.link,
            tags_in=arguments.tags_in,
            earlier=[_of_same_job(opened_plan(path), plan, path) for path in arguments.earlier],
            before=lambda name: _published(arguments.out / name),
            at=at,
        )
    folder = folder_for(arguments.out)
    for name, content in files.items():
        write_whole(folder / name, content)
    print(f"{plan.site.name}, {Period(first, arguments.weeks).words}. Written to {folder}:")
    for name in files:
        print(f"  {name}")
    if not arguments.link:
        print("Hold tags have no QR code: give the address of the dashboard with --link.")
    return 0


def first_day(plan: Plan, at: datetime | None, now: datetime, zone: ZoneInfo) -> date:
    """Return the day a look-ahead begins where none is asked for.

    That is the day of the moment asked about; else today, while the plan goes on; else the plan's data date.
    """
    begins = plan.data_date.astimezone(zone).date()
    if at is not None:
        return at.astimezone(zone).date()
    today = now.astimezone(zone).date()
    ends = plan.finish.astimezone(zone).date() if plan.finish is not None else begins
    return today if begins <= today <= ends else begins


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f'"{text}" is no date such as 2027-03-09') from None


def _case(plan: Plan, at: Path, given: Path | None) -> Case:
    """Return the site that a plan was made from: the one given, or one with the very same content."""
    looked = [given] if given else list(_likely(plan, at))
    for path in looked:
        if not path.is_file():
            continue
        raw = path.read_bytes()
        if plan.site.is_of(sha256(raw).hexdigest(), content_digest(raw)):
            return opened(path)
    if given and given.is_file():
        text, found = "is not the site file this plan was made from, or has changed since.", "another content"
    else:
        text, found = f'needs its site file "{plan.site.file}".', "none with the same content"
    required = "the site file as it was when the plan was made, with --site; or a new plan of it"
    raise BadInput([Finding("export/site", Severity.STOP, str(given or at), text, found, required)])


def _likely(plan: Plan, at: Path) -> Iterator[Path]:
    """Yield where the site file of a plan may lie: beside it, one folder up, here, or among the bundled ones."""
    name = Path(plan.site.file).name
    if name:
        yield from (at.parent / name, at.resolve().parent.parent / name, Path(name), Path("scenarios") / name)
        yield from (p for p in bundled_sites().values() if p.name == name)


def _of_same_job(earlier: Plan, plan: Plan, path: Path) -> Plan:
    if earlier.site.name != plan.site.name:
        text = "is a plan of another job."
        raise BadInput([Finding("export/earlier", Severity.STOP, str(path), text, earlier.site.name, plan.site.name)])
    return earlier


def _published(path: Path) -> str:
    """Return the text of a calendar exported into this folder before; nothing when there is none."""
    try:
        return path.read_text(encoding="utf-8") if path.is_file() else ""
    except UnicodeDecodeError:
        raise unreadable("a file that is not UTF-8 text", str(path)) from None
