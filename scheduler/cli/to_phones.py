"""The dashboard served to phones, everybody known: `jointtrench serve`, `invite`, `revoke` and `calendar`."""

from __future__ import annotations

import argparse
import os
import sys
from pathlib import Path

from scheduler.cli.commands import run_on

PROGRAM = "app.served.serve"


def add_to(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the four commands."""
    common = argparse.ArgumentParser(add_help=False)
    common.add_argument(
        "--config", type=Path, default=Path("served.toml"), metavar="FILE", help="(default: served.toml)"
    )
    serve = subparsers.add_parser("serve", parents=[common], help="serve the dashboard to phones, everybody signed in")
    serve.set_defaults(run=_serve)
    invite = subparsers.add_parser("invite", parents=[common], help="make a personal link for somebody of a site")
    invite.add_argument("--days", type=float, default=14.0, help="how long it may be opened (default: 14)")
    invite.add_argument("--qr", type=Path, metavar="FILE", help="write its code to be scanned as .svg or .png")
    invite.set_defaults(run=_invite)
    revoke = subparsers.add_parser("revoke", parents=[common], help="end somebody's links and sessions at once")
    revoke.add_argument("--forget-code", action="store_true", help="let them choose another code with a new link")
    revoke.set_defaults(run=_revoke)
    for kind in (invite, revoke):
        kind.add_argument("site", help="name of its file in the folder of sites, without .yaml")
        kind.add_argument("person", help="id under `people`")
    calendar = subparsers.add_parser("calendar", parents=[common], help="make the address of somebody's calendar")
    calendar.add_argument("site", help="name of its file in the folder of sites, without .yaml")
    calendar.add_argument("party", help="a trade, authority or outside party, by its id or name; or everybody")
    calendar.add_argument("--revoke", action="store_true", help="end every address of that calendar at once")
    calendar.set_defaults(run=_calendar)


def _serve(arguments: argparse.Namespace) -> int:
    return _run("serve", str(arguments.config))


def _invite(arguments: argparse.Namespace) -> int:
    picture = ["--qr", str(arguments.qr)] if arguments.qr else []
    days = ["--days", str(arguments.days)]
    return _run("invite", *days, *picture, "--", str(arguments.config), arguments.site, arguments.person)


def _revoke(arguments: argparse.Namespace) -> int:
    code = ["--forget-code"] if arguments.forget_code else []
    return _run("revoke", *code, "--", str(arguments.config), arguments.site, arguments.person)


def _calendar(arguments: argparse.Namespace) -> int:
    end = ["--end"] if arguments.revoke else []
    return _run("calendar", *end, "--", str(arguments.config), arguments.site, arguments.party)


def _run(*words: str) -> int:
    return run_on([sys.executable, "-m", PROGRAM, *words], dict(os.environ))
