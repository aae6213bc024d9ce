"""What each command does. Each returns its exit code; bad input travels as BadInput."""

from __future__ import annotations

import argparse
import os
import signal
import subprocess
import sys
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path

from pydantic import ValidationError

import scheduler
from scheduler import (
    BadInput,
    Finding,
    Options,
    PlanChoice,
    Planned,
    Progress,
    Severity,
    bundled_sites,
    dates_of,
    with_covered,
)
from scheduler.cli import choose_plan, printed
from scheduler.cli.asked import opened
from scheduler.cli.looked import looked_at
from scheduler.dates_csv import margin_in, read_dates, write_dates
from scheduler.ledger import MAX_BYTES, place_of
from scheduler.plan import Plan, read_plan, write_plan
from scheduler.published.bench import run_bench
from scheduler.replan import mends
from scheduler.trench import CAUTIONS
from scheduler.whole_files import write_whole

FAULTS_AT_MOST = 20
"""After so many faults a plan.json is not what was meant."""


def plan(arguments: argparse.Namespace) -> int:
    """Solve a site; write plan.json and activities.csv; print a summary, and the plans to choose from if asked for."""
    case = opened(arguments.site)
    choose_plan.refuse_a_second(arguments, case)
    out = folder_for(arguments.out)
    options = Options(slack_days=arguments.slack)
    show = None if arguments.quiet or not sys.stderr.isatty() else _print_progress
    planned = scheduler.plan(case, options, progress=show, with_curve=arguments.curve)
    found: tuple[PlanChoice, ...] = ()
    if choose_plan.wants_choices(arguments):
        found = choose_plan.found_choices(case, options, planned, show, arguments.keep_looking)
    chosen = choose_plan.asked_for(arguments, found) if found else None
    planned, covered = _with_record(planned if chosen is None else chosen.planned)
    write_files(planned, out)
    print(printed.summary(planned, out, covered, every_cost=arguments.costs))
    if (arguments.choices or arguments.keep_looking) and found:
        for choice in found:
            write_files(choice.planned, folder_for(choose_plan.folder_of(choice, out)))
        print("\n" + choose_plan.table(found))
    if arguments.choose and chosen is not None:
        print("\n" + choose_plan.put_chosen_in_force(arguments, case, chosen))
    if planned.plan.status == "infeasible":
        return 3
    return 1 if planned.broken or covered else 0


def _with_record(planned: Planned) -> tuple[Planned, list[Finding]]:
    """Return a plan with what its site's journal says lies covered too early, and that; nothing without a journal."""
    place = place_of(planned.case.site, planned.case.path)
    if not place.made:
        return planned, []
    with closing(place.open()) as journal:
        entries = journal.entries()
    if not entries:
        return planned, []
    print("A journal is kept for this site; `jointtrench replan` plans from what it says happened.", file=sys.stderr)
    moment = max(datetime.now(UTC), entries[-1].at)
    return with_covered(planned, entries, moment)


def folder_for(path: Path) -> Path:
    """Return a folder to write in, made when there is none; raises BadInput before any work is lost on it."""
    try:
        path.mkdir(parents=True, exist_ok=True)
        writable = os.access(path, os.W_OK)
    except OSError:
        writable = False
    if not writable:
        text = "is no folder that can be written in"
        raise BadInput([Finding("out/folder", Severity.STOP, "--out", text + ".", str(path), "a folder of your own")])
    return path


def write_files(planned: Planned, folder: Path) -> None:
    """Write plan.json and, when there are dates, activities.csv into a folder."""
    write_plan(planned.plan, folder / "plan.json")
    if planned.schedule is not None:
        text = write_dates(planned.schedule, planned.case.network)
        write_whole(folder / "activities.csv", text)


def check(arguments: argparse.Namespace) -> int:
    """Check the layout of a site and that somebody may release every hold point; tell what was looked at."""
    case = opened(arguments.site)
    found = scheduler.check(case)
    print(printed.findings(found, good="The layout breaks no rule. Every hold point has somebody to release it."))
    looked = scheduler.looked_at(case)
    print("\n" + looked.verdict(found) + "\n\n" + looked_at(case.site, looked))
    print(printed.cautions(CAUTIONS))
    return 1 if any(f.severity is not Severity.NOTE for f in found) else 0


def audit(arguments: argparse.Namespace) -> int:
    """Check dates made elsewhere against every rule of the site."""
    case = opened(arguments.site)
    if arguments.schedule.suffix == ".json":
        plan = opened_plan(arguments.schedule)
        case = case.fitting(plan)
        schedule = dates_of(case, plan, file=str(arguments.schedule))
        if plan.data_date > case.network.clock.when(case.network.data_date):
            print("This plan was made on the way; what it says of slack and amounts is not checked.", file=sys.stderr)
        found = scheduler.audit(case, plan)
    else:
        margin = margin_in(arguments.schedule) if arguments.margin is None else arguments.margin
        case = case.with_margin(margin)
        schedule = read_dates(arguments.schedule, case.network)
        found = scheduler.audit(case, schedule)
    print(printed.findings(found, good="The dates keep every rule."))
    if undone := printed.undone(scheduler.left_undone(case, schedule)):
        print(f"\n{undone}")
    if found:
        print(printed.mends(mends(case.network, schedule)))
    return 1 if found else 0


def assess(arguments: argparse.Namespace) -> int:
    """Measure the best plan of a site against the published schedule-assessment checks."""
    planned = scheduler.plan(opened(arguments.site), Options(only_finish=True))
    if planned.schedule is None:
        print(printed.headline(planned.plan))
        return 3 if planned.plan.status == "infeasible" else 1
    print(printed.assessment(scheduler.explain(planned).checks))
    return 0


def why(arguments: argparse.Namespace) -> int:
    """Tell what drives an activity of a plan, back to the start."""
    print(printed.story(opened_plan(arguments.plan), arguments.activity))
    return 0


def bench(arguments: argparse.Namespace) -> int:
    """Solve published instances; CSV on standard output."""
    run_bench(arguments.path, limit_seconds=arguments.seconds, out=sys.stdout)
    return 0


def app(arguments: argparse.Namespace) -> int:
    """Solve the site, then serve the dashboard on this machine only."""
    site: Path = arguments.site or next(iter(bundled_sites().values()))
    opened(site)
    script = Path(__file__).parents[2] / "app" / "server.py"
    page = f"http://localhost:{arguments.port}"
    environment = {**os.environ, "JOINTTRENCH_SITE": str(site.resolve())}
    if not arguments.no_browser:
        environment["JOINTTRENCH_PAGE"] = page
    command = [sys.executable, "-m", "streamlit", "run", str(script)]
    settings = {
        "server.address": "localhost",
        "server.port": arguments.port,
        "server.headless": "true",
        "server.showEmailPrompt": "false",
        "server.fileWatcherType": "none",
        "server.maxUploadSize": MAX_BYTES // 1024 // 1024,
        "browser.gatherUsageStats": "false",
        "runner.postScriptGC": "false",  # it would hold every page up for 0.15 s after each; Python collects by itself
        "client.toolbarMode": "minimal",
        "client.showErrorDetails": "none",
        "theme.base": script.with_name("theme.toml"),
    }
    print(f"The dashboard opens at {page} (Ctrl-C ends it).", flush=True)
    return run_on(command + [f"--{key}={value}" for key, value in settings.items()], environment)


def run_on(command: list[str], environment: dict[str, str]) -> int:
    """Run a program until it ends and return its exit code; it ends with this one, also when this one is terminated."""
    with subprocess.Popen(command, env=environment) as running:
        before = signal.signal(signal.SIGTERM, lambda *_: running.terminate())
        try:
            return running.wait()
        except KeyboardInterrupt:  # Ctrl-C reached it too; it ends in its own time
            return running.wait()
        finally:
            signal.signal(signal.SIGTERM, before)


def opened_plan(path: Path) -> Plan:
    """Return the plan in a file; raises BadInput with every fault when it is none."""
    try:
        return read_plan(path)
    except ValidationError as error:
        faults = [(".".join(map(str, e["loc"])) or "the file", e["msg"] + ".") for e in error.errors()]
    except IsADirectoryError:
        faults = [("the file", f"This is a folder. Give the plan in it: {path / 'plan.json'}")]
    except UnicodeDecodeError:
        faults = [("the file", "The file is not plain text in UTF-8.")]
    more = len(faults) - FAULTS_AT_MOST
    if more > 0:
        faults = [*faults[:FAULTS_AT_MOST], ("the file", f"{more} more faults of a file that is no plan.")]
    raise BadInput([Finding("plan/format", Severity.STOP, at, text, file=str(path)) for at, text in faults])


def _print_progress(at: Progress) -> None:
    print("  " + printed.progress(at), file=sys.stderr, flush=True)
