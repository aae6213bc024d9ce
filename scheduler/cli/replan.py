"""`jointtrench replan`: what to do after what the journal says happened."""

from __future__ import annotations

import argparse
import os
import textwrap
from collections.abc import Sequence
from contextlib import closing
from datetime import datetime
from pathlib import Path
from typing import Any

import scheduler
from scheduler import BadInput, Case, Finding, Severity, accept
from scheduler.cli import printed
from scheduler.cli.asked import accepted_for, opened, say, say_on_the_side, site_moment
from scheduler.cli.commands import folder_for, opened_plan
from scheduler.cli.what_if import supposed
from scheduler.ledger import Entry, JournalPlace, fold, place_of
from scheduler.plan import Plan, PlanFinding, write_plan
from scheduler.replan import (
    GROUPS_AT_MOST,
    Aim,
    Alternative,
    Differences,
    Replanning,
    by_party,
    move_groups,
    moves_csv,
    moves_said,
    reasons_said,
    shared_reasons,
)
from scheduler.spoken import count, length
from scheduler.units import in_length_unit, nights_unit
from scheduler.whole_files import write_whole

AIMS = {a.name.lower(): a for a in Aim}
TAKEN = "Taken as done, because what follows has begun; report it if that is wrong:"


def add_to(sub: Any) -> None:
    """Add the command to the command line."""
    command = sub.add_parser("replan", help="after a delay: the alternatives, whom to call, and what moves")
    command.add_argument("site", type=Path)
    command.add_argument(
        "--as-of", metavar="TIME", help="from when on, such as '2027-03-09 10:30', site time; now when left out"
    )
    command.add_argument("--accept", choices=tuple(AIMS), help="work by this alternative from now on")
    command.add_argument("--why", default="", help="why it is accepted, for the record")
    command.add_argument("--by", default=os.environ.get("USER") or "unknown", help="who accepts it")
    command.add_argument(
        "--plan", type=Path, help="the plan in force; the one accepted last, else one made now, when left out"
    )
    command.add_argument(
        "--what-if",
        action="append",
        default=[],
        metavar="REPORT",
        help="suppose this, as after `report SITE`, and write nothing: \"delayed WHO --not-before 'TIME'\"",
    )
    command.add_argument("--out", type=Path, help="folder for a plan.json of each alternative, and what moves in it")
    command.add_argument("--all", action="store_true", help="tell every task that moves, however many")
    command.add_argument("--journal", metavar="WHERE", help="file, folder or database URL, as with `report`")
    command.set_defaults(run=replan_site)


def replan_site(arguments: argparse.Namespace) -> int:
    """Show the alternatives, write and accept what is asked; 3 when there is no plan, 1 when something lies covered."""
    case = opened(arguments.site)
    as_of = site_moment(case, arguments.as_of)
    supposing = supposed(case, arguments.what_if, as_of)
    if supposing and arguments.accept:
        text = "What is only supposed is not worked by: report it first, or leave --what-if out"
        raise BadInput([Finding("replan/accept", Severity.STOP, "--accept", text + ".", arguments.accept)])
    place = place_of(case.site, case.path, arguments.journal or "")
    entries, before, accepted = _known(case, place)
    out = folder_for(arguments.out) if arguments.out is not None else None
    if arguments.plan is not None:
        before = opened_plan(arguments.plan)
        if not case.made(before):
            say_on_the_side(f"{arguments.plan} was made from other content of the site file; moves are told from it.")
    elif before is None:
        if not accepted:
            say_on_the_side("No plan was accepted yet; one is made now, as at the start.")
        before = scheduler.plan(case).plan
    found = scheduler.replan(case, entries, as_of, before=before, supposing=supposing)
    if out is not None:
        _write(found, out)
    if supposing:
        print("\n".join(["What if (nothing is written down):", *(_wrapped(say(case, e)) for e in supposing)]) + "\n")
    print(told(found, whole=arguments.all))
    if arguments.accept and found.alternatives:
        print(_accepted(arguments, case, place, found, as_of))
    if found.conflicts or not found.alternatives:
        return 3
    return 1 if any(f.rule == "hold/covered" for f in found.alternatives[0].plan.findings) else 0


def _known(case: Case, place: JournalPlace) -> tuple[tuple[Entry, ...], Plan | None, bool]:
    """Return the entries of a journal, the plan accepted last if it is of this content, and whether any was."""
    if not place.made:
        return (), None, False
    with closing(place.open()) as journal:
        entries = journal.entries()
        return entries, accepted_for(case, journal, entries), fold(entries).plan is not None


def _write(found: Replanning, folder: Path) -> None:
    for alternative in found.alternatives:
        aim = alternative.aims[0].name.lower()
        write_plan(alternative.plan, folder / f"plan-{aim}.json")
        write_whole(folder / f"moves-{aim}.csv", moves_csv(alternative.moves))


def _accepted(
    arguments: argparse.Namespace, case: Case, place: JournalPlace, found: Replanning, as_of: datetime
) -> str:
    aim = AIMS[arguments.accept]
    alternative = found.serving(aim)
    if alternative is None:
        reason = found.impossible.get(aim, "there is no such alternative")
        raise BadInput([Finding("replan/accept", Severity.STOP, "--accept", f"'{aim}': {reason}", arguments.accept)])
    at = as_of if case.site.site.invented else None
    with closing(place.open()) as journal:
        kept = accept(journal, alternative, by=arguments.by, at=at, why=arguments.why)
    return f"Accepted: {aim}. The plan is kept in the journal as {kept[:12]}; earlier plans stay on record."


def told(found: Replanning, *, whole: bool = False) -> str:
    """Return everything there is to say about a re-planning, as a terminal shows it; `whole`: with every move."""
    blocks = [f"As of {printed.moment(found.as_of.astimezone(found.network.clock.when(0).tzinfo))}"]
    if found.conflicts:
        blocks.append("No plan exists: what has happened and the rules below cannot all hold.")
        blocks.append(printed.conflicts(found.conflicts))
    if found.alternatives:
        blocks.append(_table(found.alternatives))
        blocks += ["\n".join(_one(n, a, whole=whole)) for n, a in enumerate(found.alternatives, 1)]
        blocks.append(printed.cautions(found.alternatives[0].plan.cautions))
    notes = [*found.notes, *(f"{aim}: {why}" for aim, why in found.impossible.items() if not found.conflicts)]
    if notes:
        told = "\n".join(["To know:", *(_wrapped(n) for n in notes)])
        blocks.insert(len(blocks) if found.conflicts else 1, told)
    if found.taken_as_done:
        taken = (_wrapped(f"{t.name} ({t.trade or 'site'})") for t in found.taken_as_done)
        blocks.insert(1, "\n".join([TAKEN, *taken]))
    return "\n\n".join(blocks)


def _table(alternatives: Sequence[Alternative]) -> str:
    rows = [("", "aim", "will finish", "later by", "calls", "work moved", f"open, {nights_unit()}", "cost")]
    for n, a in enumerate(alternatives, 1):
        d = a.differences
        cells = (
            printed.moment(a.finish),
            later(a.later_by_minutes),
            str(len(a.phone_calls)),
            str(d.moved) + (f" + {d.new} new" if d.new else ""),
            f"{printed.amount(in_length_unit(a.trench_open_ft_nights))} ({_more(in_length_unit(d.open_ft_nights))})",
            f"{a.cost:,.0f} ({_more(d.cost)})",
        )
        rows.append((str(n), str(a.aims[0]), *cells))
        rows += [("", f"= {aim}", "same plan", "", "", "", "", "") for aim in a.aims[1:]]
    return printed.table(rows)


def later(minutes: int) -> str:
    """Say how much later a plan finishes: `6 days 2 h`, `1 h sooner`, `no change`."""
    if not minutes:
        return "no change"
    return length(minutes) + (" sooner" if minutes < 0 else "")


def _one(number: int, alternative: Alternative, *, whole: bool) -> list[str]:
    lines = [f"{number}. {' = '.join(alternative.aims)}"]
    lines += [_wrapped(f"{aim}: {proof}") for aim, proof in alternative.proofs.items()]
    lines.append(_wrapped(different(alternative.differences)))
    lines += [_wrapped(left_out) for left_out in alternative.cost_left_out]
    found = alternative.plan.findings
    lines += [_finding(f) for f in found if f.rule == "hold/covered"]
    calls = count(len(alternative.phone_calls), "call")
    lines.append(f"   Calls to make today ({calls}):" if alternative.calls else "   No calls to make today.")
    lines += [_wrapped(c.said) for c in alternative.phone_calls]
    lines += _moves(alternative, whole=whole)
    dates = [_finding(f) for f in found if f.is_of_the_dates and f.rule != "hold/covered"]
    return [*lines, "   To know of its dates:", *dates] if dates else lines


def _finding(finding: PlanFinding) -> str:
    return _wrapped(f"[{finding.severity}] {finding.where}: {finding.text} {finding.remedy}")


def _moves(alternative: Alternative, *, whole: bool) -> list[str]:
    """Say what moves, by day, party and stretch; unless the `whole` list is asked for, many are counted by party."""
    if not alternative.moves:
        return ["   Nothing moves."]
    zone = alternative.plan.data_date.tzinfo

    def local(when: datetime) -> datetime:
        return when.astimezone(zone)

    groups = move_groups(alternative.moves, local)
    shared = shared_reasons(groups)
    folded = len(groups) > GROUPS_AT_MOST and not whole
    lines = [f"   What moves ({moves_said(alternative.differences)}):"]
    lines += [_wrapped(f"{name} {reason}") for name, reason in reasons_said(shared)[: 1 if folded else None]]
    if folded:
        lines += [_wrapped(one.said(local)) for one in by_party(alternative.moves)]
        return [*lines, "   Each by its day: add --all, or see the moves-*.csv that --out writes."]
    return lines + [_wrapped(f"{g.head}: {g.said(local, shared)}") for g in groups]


def different(d: Differences) -> str:
    """Say how an alternative differs from the plan before, in one sentence or two."""
    parts = [
        f"finished {later(d.later_minutes)}" + (" later" if d.later_minutes > 0 else ""),
        f"{_more(d.cost)} dollars",
        f"{_more(in_length_unit(d.open_ft_nights))} {nights_unit()} of open trench",
        f"{_more(d.visits)} visit{'' if abs(d.visits) == 1 else 's'}",
        f"{count(len(d.people_called), 'person', 'people')} to call",
        moves_said(d),
    ]
    who = f"Work at another time for {len(d.people_moved)}: {', '.join(d.people_moved)}. " if d.people_moved else ""
    return f"Against the plan before: {'; '.join(parts)}. {who}{as_before(d.as_before_from)}"


def as_before(since: datetime | None) -> str:
    """Say from when on everything is as before."""
    if since is None:
        return "To the end something is at another time than before."
    return f"From {printed.moment(since)} on everything is as before."


def _more(amount: float) -> str:
    return f"{amount:+,.0f}" if abs(amount) >= 0.5 else "0"


def _wrapped(text: str) -> str:
    return textwrap.fill(text, printed.WIDTH, initial_indent="   - ", subsequent_indent="     ")
