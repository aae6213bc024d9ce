"""`jointtrench free-hours`: what an inspector's or a trade's own calendar leaves free, against what the plan wants."""

from __future__ import annotations

import argparse
import shlex
import textwrap
from pathlib import Path
from typing import Any
from urllib.error import URLError
from urllib.parse import urlsplit
from urllib.request import Request, urlopen

from scheduler import BadInput
from scheduler.cli import printed
from scheduler.cli.asked import fault, opened, site_moment
from scheduler.cli.site_today import situation_asked
from scheduler.export import Clash, free_hours
from scheduler.spoken import count, typed

LARGEST = 5_000_000
SECONDS = 20.0
SHOWN = 12
"""Windows told unless all are asked for."""


def add_to(sub: Any) -> None:
    """Add the command to the command line."""
    free = sub.add_parser("free-hours", help="when somebody is free by their own calendar, and what does not suit them")
    free.add_argument("site", type=Path)
    free.add_argument("party", metavar="PARTY", help="an inspection, outside work or trade, by its id")
    free.add_argument("calendar", metavar="CALENDAR", help="a file, or an address that begins with https://")
    free.add_argument("--days", type=int, default=60, choices=range(1, 367), metavar="DAYS", help="(default: 60)")
    free.add_argument("--at", metavar="TIME", help="from when on, site time; now when left out")
    free.add_argument("--all", action="store_true", help="tell every window")
    free.add_argument("--journal", metavar="WHERE", help="file, folder or database URL, as with `report`")
    free.set_defaults(run=show_free_hours)


def show_free_hours(arguments: argparse.Namespace) -> int:
    """Show when a party is free, and offer what does not suit it as a report to plan again from; 1 when anything."""
    case = opened(arguments.site)
    content = _content(arguments.calendar)
    situation = situation_asked(arguments, case, site_moment(case, arguments.at), all_of_it=arguments.at is None)
    found = free_hours(situation, arguments.party, content, arguments.days)
    lines = [f"Free in their hours of the site file, {count(len(found.windows), 'time')}:"]
    told = found.as_open_days()
    shown = told if arguments.all else told[:SHOWN]
    lines += [f"    {line}" for line in shown]
    lines += [f"    ... and {len(told) - len(shown)} more: --all."] if len(shown) < len(told) else []
    lines.append("As `open` of a calendar in the site file, with `weekly: []`, these are all the hours a plan may use.")
    for clash in found.clashes:
        lines += ["", *_told(arguments, clash)]
    if not found.clashes:
        lines += ["", "They are free for everything that the plan wants of them."]
    print("\n".join(lines))
    return 1 if found.clashes else 0


def _told(arguments: argparse.Namespace, clash: Clash) -> list[str]:
    call, later = clash.call, clash.free_from
    assert call.now is not None
    head = f"Not free {printed.moment(call.now)}: {call.about}."
    if later is None:
        return [textwrap.fill(f"{head} No other time long enough is known.", printed.WIDTH)]
    why = "By their calendar."
    words = ["delayed", call.of, "--not-before", typed(later), "--why", why, "--about", *call.activities]
    again = f"jointtrench replan {shlex.quote(str(arguments.site))} --what-if {shlex.quote(shlex.join(words))}"
    return [textwrap.fill(f"{head} Free from {printed.moment(later)} on. See what that does:", printed.WIDTH), again]


def _content(where: str) -> str:
    """Return the text of a calendar; raises BadInput when it cannot be had."""
    try:
        if "://" not in where:
            with Path(where).open("rb") as file:
                raw = file.read(LARGEST + 1)
        elif urlsplit(where).scheme != "https":
            raise BadInput([fault("calendar", "is no file and no address that begins with https://", where[:80])])
        else:
            request = Request(where, headers={"Accept": "text/calendar"})
            with urlopen(request, timeout=SECONDS) as answer:
                if urlsplit(answer.url).scheme != "https":
                    raise BadInput([fault("calendar", "leads to an address without TLS", where[:80])])
                raw = answer.read(LARGEST + 1)
        if len(raw) > LARGEST:
            raise BadInput([fault("calendar", "is too large", f"more than {LARGEST // 1_000_000} MB")])
        return str(raw.decode("utf-8"))
    except UnicodeDecodeError:
        raise BadInput([fault("calendar", "is no text", where[:80])]) from None
    except (URLError, OSError, ValueError) as error:
        words = " ".join(str(error).split())[:120]
        raise BadInput([fault("calendar", f"cannot be had: {words}", where[:80])]) from None
