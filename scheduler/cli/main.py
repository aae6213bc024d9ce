"""`jointtrench`: the commands, their arguments and exit codes.

Exit codes: 0 done; 1 a check found violations; 2 bad input, all of it listed; 3 no plan exists; 4 not known whether
an entry was written.
"""

from __future__ import annotations

import argparse
import gc
import os
import sys
from collections.abc import Sequence
from contextvars import copy_context
from pathlib import Path

from scheduler import BadInput, __version__
from scheduler.cli import (
    calls,
    choose_plan,
    commands,
    export,
    free_times,
    journal,
    journal_keeping,
    look_up,
    mailing,
    new,
    replan,
    site_today,
    to_phones,
)


def _days(text: str) -> float:
    """Read a number of days from 0 to a year."""
    if not 0.0 <= (days := float(text)) <= 366.0:
        raise argparse.ArgumentTypeError("expected days from 0 to 366")
    return days


def _seconds(text: str) -> float:
    """Read a time limit."""
    if not 0.0 < (seconds := float(text)) <= 86400.0:
        raise argparse.ArgumentTypeError("expected seconds, more than 0 and at most a day")
    return seconds


def parser() -> argparse.ArgumentParser:
    """Return the parser of the whole command line."""
    top = argparse.ArgumentParser(prog="jointtrench", description="Plan the work in a shared utility trench.")
    top.add_argument("--version", action="version", version=f"jointtrench {__version__}")
    sub = top.add_subparsers(dest="command", required=True, metavar="COMMAND")

    app = sub.add_parser("app", help="open the dashboard on this machine")
    app.add_argument("site", nargs="?", type=Path, help="site file; a bundled site when left out")
    app.add_argument("--port", type=int, default=8501, choices=range(1, 65536), metavar="PORT")
    app.add_argument("--no-browser", action="store_true", help="do not open a browser window")
    app.set_defaults(run=commands.app)

    to_phones.add_to(sub)
    new.add_to(sub)

    plan = sub.add_parser("plan", help="find the best plan: plan.json, activities.csv and a summary")
    plan.add_argument("site", type=Path)
    plan.add_argument("--out", type=Path, default=Path("out"), help="folder for the files (default: out)")
    plan.add_argument(
        "--slack", type=_days, default=0.0, metavar="DAYS", help="give up this much finish for less open trench"
    )
    choose_plan.add_to(plan)
    plan.add_argument("--costs", action="store_true", help="print every line of what the plan costs")
    plan.add_argument("--curve", action="store_true", help="also show what a later finish would buy")
    plan.add_argument("--quiet", action="store_true", help="no progress lines")
    plan.set_defaults(run=commands.plan)

    assess = sub.add_parser("assess", help="measure the best plan against the published schedule-assessment checks")
    assess.add_argument("site", type=Path)
    assess.set_defaults(run=commands.assess)

    check = sub.add_parser("check", help="check the layout of the trench against its rules")
    check.add_argument("site", type=Path)
    check.set_defaults(run=commands.check)

    audit = sub.add_parser("audit", help="check dates made elsewhere against every rule of the site")
    audit.add_argument("site", type=Path)
    audit.add_argument("schedule", type=Path, help="CSV: activity,start,finish; or a plan.json")
    audit.add_argument(
        "--margin", type=int, metavar="PERCENT", help="contingency in own work, where the CSV does not say it"
    )
    audit.set_defaults(run=commands.audit)

    why = sub.add_parser("why", help="what drives an activity, back to the start")
    why.add_argument("plan", type=Path, help="a plan.json")
    why.add_argument(
        "activity", nargs="?", default="finish", help="its id or part of its name; the finish when left out"
    )
    why.set_defaults(run=commands.why)

    export.add_to(sub)
    journal.add_to(sub)
    journal_keeping.add_to(sub)
    site_today.add_to(sub)
    calls.add_to(sub)
    mailing.add_to(sub)
    free_times.add_to(sub)
    replan.add_to(sub)

    look_up.add_to(sub)

    bench = sub.add_parser("bench", help="published instances through the same solver; CSV on standard output")
    bench.add_argument(
        "path", help="a .sm, .rcp or job-shop .json file, or a folder; FILE:NAME,NAME picks from a collection"
    )
    bench.add_argument("--seconds", type=_seconds, default=60.0, help="limit for each instance")
    bench.set_defaults(run=commands.bench)
    return top


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code; a user never sees a traceback."""
    arguments = parser().parse_args(argv)
    gc.freeze()  # the program itself is no garbage, so nobody needs to look for any in it
    try:
        code: int = copy_context().run(arguments.run, arguments)  # in which a command tells its site's units
    except BadInput as bad:
        for finding in bad.findings:
            print(finding, file=sys.stderr)
        if any(finding.rule == "journal/unknown" for finding in bad.findings):
            print("It is not known whether this was written.", file=sys.stderr)
            return 4
        count = len(bad.findings)
        print(f"{count} fault{'s' if count != 1 else ''} in the input; nothing was done.", file=sys.stderr)
        return 2
    except BrokenPipeError:
        # Whoever read our output has seen enough; keep the interpreter from complaining at its end.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except OSError as error:
        print(f"{error.filename or 'file'}: {error.strerror or error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        print("Stopped.", file=sys.stderr)
        return 130
    return code
