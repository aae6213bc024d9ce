"""`jointtrench plan --choices`: several plans to choose from, and one of them put in force."""

from __future__ import annotations

import argparse
import os
import sys
import textwrap
import threading
from collections.abc import Callable, Sequence
from contextlib import closing
from pathlib import Path

import scheduler
from scheduler import BadInput, Case, ChoiceAim, Finding, Journal, Options, PlanChoice, Planned, Progress, Severity
from scheduler.cli import printed
from scheduler.ledger import place_of

AIMS = {aim.name.lower(): aim for aim in ChoiceAim}
OBJECTIVES = {"staged": ChoiceAim.EARLIEST, "cost": ChoiceAim.MONEY} | {
    name: aim for name, aim in AIMS.items() if aim not in (ChoiceAim.EARLIEST, ChoiceAim.MONEY)
}
"""What `--objective` may name."""
MOST_MINUTES = 24 * 60.0


def add_to(plan: argparse.ArgumentParser) -> None:
    """Add what chooses between plans to the command `plan`."""
    plan.add_argument(
        "--objective",
        choices=tuple(OBJECTIVES),
        default="staged",
        help="what the plan is to be best at, of several; 'staged' (the default): finish, then open trench, then money",
    )
    plan.add_argument("--choices", action="store_true", help="also show several plans that differ, each in a folder")
    plan.add_argument(
        "--keep-looking", type=minutes, default=0.0, metavar="MINUTES", help="go on looking for better choices so long"
    )
    plan.add_argument("--choose", choices=tuple(AIMS), metavar="NAME", help=f"put one in force: {', '.join(AIMS)}")
    plan.add_argument("--by", default=os.environ.get("USER") or "unknown", help="who puts it in force")
    plan.add_argument("--journal", metavar="WHERE", help="file, folder or database URL, as with `report`")


def wants_choices(arguments: argparse.Namespace) -> bool:
    """Tell whether more than the plan that finishes earliest is asked for."""
    return bool(
        arguments.choices
        or arguments.keep_looking
        or arguments.choose
        or OBJECTIVES[arguments.objective] is not ChoiceAim.EARLIEST
    )


def minutes(text: str) -> float:
    """Read how long to go on looking."""
    if not 0.0 <= (number := float(text)) <= MOST_MINUTES:
        raise argparse.ArgumentTypeError("expected minutes, not negative and at most a day")
    return number


def found_choices(
    case: Case, options: Options, first: Planned, progress: Callable[[Progress], None] | None, more_minutes: float = 0.0
) -> tuple[PlanChoice, ...]:
    """Return all plans to choose from, better ones looked for so many minutes more; none if the first has no dates."""
    search = scheduler.ChoiceSearch(case, options, first=first, progress=progress)
    *_, found = [(), *search.looks()]
    if more_minutes and found:
        enough = threading.Event()
        timer = threading.Timer(60 * more_minutes, enough.set)
        timer.daemon = True
        timer.start()
        for found in search.keep_looking(enough):
            if progress is not None:
                print(f"  {scheduler.open_trench_known(found)}", file=sys.stderr, flush=True)
        timer.cancel()
    return found


def asked_for(arguments: argparse.Namespace, found: Sequence[PlanChoice]) -> PlanChoice:
    """Return the choice that is asked for by name, or by what it is to be best at."""
    aim = AIMS[arguments.choose] if arguments.choose else OBJECTIVES[arguments.objective]
    return next(c for c in found if aim in c.aims)


def folder_of(choice: PlanChoice, out: Path) -> Path:
    """Return the folder that a choice is written in."""
    return out / "choices" / choice.name


def table(found: Sequence[PlanChoice]) -> str:
    """Lay the choices out side by side, and say what differs from the first."""
    names = ("name", *(c.name for c in found))
    rows = [(name, *row[1:]) for name, row in zip(names, scheduler.side_by_side(found, year=True), strict=True)]
    lines = ["Plans to choose from:", printed.table(rows)]
    for choice in found:
        text = f"{choice.name}: {', '.join(choice.aims)}. {choice.said}".rstrip()
        lines.append(textwrap.fill(text, printed.WIDTH, initial_indent="  - ", subsequent_indent="    "))
    return "\n".join([*lines, "", "Their money by line:", _by_line(found)])


def _by_line(found: Sequence[PlanChoice]) -> str:
    rows = [("line", *(c.name for c in found))]
    rows += [(words, *(f"${a:,.0f}" for a in amounts)) for words, amounts in scheduler.money_by_line(found)]
    return printed.table(rows)


def refuse_a_second(arguments: argparse.Namespace, case: Case) -> None:
    """Raise BadInput where one is to be put in force and a plan is in force already, before any is looked for."""
    place = place_of(case.site, case.path, arguments.journal or "")
    if arguments.choose and place.made:
        with closing(place.open()) as journal:
            _none_in_force(arguments, journal)


def _none_in_force(arguments: argparse.Namespace, journal: Journal) -> None:
    if scheduler.accepted_plan(journal, journal.entries()) is not None:
        text = "A plan is in force already; `jointtrench replan` plans from it and from what has happened."
        raise BadInput([Finding("plan/choose", Severity.STOP, "--choose", text, arguments.choose)])


def put_chosen_in_force(arguments: argparse.Namespace, case: Case, choice: PlanChoice) -> str:
    """Put a choice in force in the job's journal; raises BadInput where a plan is in force already."""
    plan = choice.planned.plan
    at = plan.data_date if case.site.site.invented else None
    with closing(place_of(case.site, case.path, arguments.journal or "").open()) as journal:
        _none_in_force(arguments, journal)
        why = f"Chosen of several plans: {', '.join(choice.aims)}."
        kept = scheduler.put_in_force(journal, plan, by=arguments.by, at=at, why=why)
    return f"In force: {choice.name}. The plan is kept in the journal as {kept[:12]}."
