"""Results in plain words for a terminal."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from datetime import datetime
from difflib import get_close_matches
from pathlib import Path

import scheduler
from scheduler import BadInput, Check, Finding, Planned, Progress, Severity, spoken
from scheduler.explain import margin_borne, proof, who_has_margin
from scheduler.export import rentals, signs
from scheduler.plan import Conflict, Plan, PlanActivity, PlanCosts, PlanFinding, Stage, put_together
from scheduler.replan import Mends
from scheduler.site import Site
from scheduler.spoken import amount as amount
from scheduler.spoken import found_and_expected
from scheduler.trench import materials, tons_said
from scheduler.units import FT_NIGHTS, in_length_unit, nights_unit, told_measure

WIDTH = 96
BIGGEST = 5
"""Lines of the costs that the summary tells."""


def moment(when: datetime) -> str:
    """Write a moment as a terminal shows it, always with its year: `Tue 9 Mar 2027 10:30`."""
    return spoken.moment(when, year=True)


def progress(at: Progress) -> str:
    """One line on how far the solver is."""
    so_far = f"{at.seconds:5.1f} s  {at.stage}: "
    if at.value is None and at.bound is None:
        return so_far + at.note
    return f"{so_far}best {amount(at.value)}, proved no better than {amount(at.bound)}  {at.note}"


def findings(found: Sequence[Finding], *, good: str) -> str:
    """List findings, gravest first, each with what would mend it."""
    if not found:
        return good
    order = (Severity.STOP, Severity.FIX, Severity.NOTE)
    lines = [f"{len(found)} finding{'s' if len(found) != 1 else ''}:"]
    for finding in sorted(found, key=lambda f: order.index(f.severity)):
        lines.append(f"[{finding.severity}] {finding}")
        if finding.remedy:
            lines.append(f"    Fix: {finding.remedy}")
        if finding.source:
            lines.append(f"    Source: {finding.source}")
    return "\n".join(lines)


def mends(found: Mends) -> str:
    """Say the smallest changes that mend dates made elsewhere, in the order to make them, and whether any are fewer."""
    lines = ["", "The smallest changes that fix these:"]
    lines.append(textwrap.fill(found.said, WIDTH, initial_indent="     ", subsequent_indent="     "))
    for number, mend in enumerate(found.steps, 1):
        lines.append(textwrap.fill(mend.text, WIDTH, initial_indent=f"{number:3}. ", subsequent_indent="     "))
    return "\n".join(lines)


def assessment(checks: Sequence[Check]) -> str:
    """Tell each published check: what was found, its limit, and why it fails or does not apply."""
    lines = []
    for check in checks:
        verdict = "does not apply" if check.passed is None else "passed" if check.passed else "failed"
        share = f"{amount(check.found)} of {amount(check.of)}" if check.of else amount(check.found)
        lines.append(f"{check.number:3}. {check.name}: {verdict}; found {share}, limit {check.limit}.")
        if check.why and check.passed is not True:
            lines.append(textwrap.fill(check.why, WIDTH, initial_indent="     ", subsequent_indent="     "))
        if check.examples and check.passed is False:
            named = f"For example: {'; '.join(check.examples)}."
            lines.append(textwrap.fill(named, WIDTH, initial_indent="     ", subsequent_indent="     "))
        lines.append(f"     Source: {check.source}")
    return "\n".join(lines)


def cautions(texts: Iterable[str]) -> str:
    """The usual cautions, as a block."""
    wrapped = (textwrap.fill(t, WIDTH, initial_indent="  ! ", subsequent_indent="    ") for t in texts)
    return "\n".join(["", "Cautions", *wrapped])


def summary(planned: Planned, folder: Path, covered: Sequence[Finding] = (), *, every_cost: bool = False) -> str:
    """Everything `plan` has to say on one screen; `covered` lies covered before its release, by the journal.

    With `every_cost` each line of what the plan costs is told, else the biggest ones.
    """
    plan = planned.plan
    case = planned.case
    blocks = [plan.site.name, "Layout: " + scheduler.looked_at(case).verdict(scheduler.check(case)), headline(plan)]
    if covered:
        blocks.append("The journal: " + findings(covered, good=""))
    if plan.conflicts:
        blocks.append(conflicts(plan.conflicts))
    if plan.stages:
        blocks.append(_stages(plan.stages))
    if plan.curve:
        blocks.append(_curve(plan))
    if plan.costs is not None:
        blocks.append(_costs(plan.costs, every=every_cost))
    if plan.margin is not None:
        blocks.append(_margin(plan, case.site))
    if plan.visits:
        blocks.append(_visits(plan, planned.case.site))
    blocks.append(_materials(planned))
    if planned.broken:
        blocks.append("The audit found this plan broken: " + findings(planned.broken, good=""))
    if left := undone(plan.of_the_dates):
        blocks.append(left)
    if planned.case.layout:
        blocks.append("Layout: " + findings(planned.case.layout, good=""))
    names = "plan.json and activities.csv" if plan.activities else "plan.json"
    blocks.append(f"Written to {folder}: {names}")
    return "\n\n".join(blocks) + "\n" + cautions(plan.cautions)


def undone(found: Iterable[Finding | PlanFinding]) -> str:
    """Say what dates leave undone though they break no rule; '' when nothing."""
    rows = [f"[{f.severity}] {f.where}: {f.text} {found_and_expected(f.found, f.required)}" for f in found]
    wrapped = (textwrap.fill(row, WIDTH, initial_indent="  - ", subsequent_indent="    ") for row in rows)
    return "\n".join(["What these dates leave undone:", *wrapped]) if rows else ""


def headline(plan: Plan) -> str:
    """Say when everything is finished, and how sure that is."""
    if plan.status == "infeasible":
        return "No plan exists: the rules below cannot all be kept."
    if plan.finish is None:
        return "No plan was found in the time given; none was proved impossible either."
    return f"Everything will finish {moment(plan.finish)}. {proof(plan)}"


def conflicts(found: Sequence[Conflict]) -> str:
    """Tell which rules cannot hold together, and the ways out."""
    lines = []
    for conflict in found:
        more = "" if conflict.minimal or len(conflict.members) == 1 else "; perhaps not all of them are needed for that"
        lines.append(f"These cannot hold together{more}:")
        lines.extend(
            textwrap.fill(m.because, WIDTH, initial_indent="  - ", subsequent_indent="    ") for m in conflict.members
        )
        for repair in conflict.repairs:
            cost = f", costs {repair.cost:,.0f}" if repair.cost is not None else ""
            finish = f", finished {moment(repair.finish)}" if repair.finish else ""
            text = f"Way out: {repair.text.rstrip('.')}{cost}{finish}."
            lines.append(textwrap.fill(text, WIDTH, initial_indent="  ", subsequent_indent="    "))
    return "\n".join(lines)


def _stages(stages: Sequence[Stage]) -> str:
    rows = [("aim", "reached", "bound", "gap", "unit", "seconds", "proof")]
    for s in stages:
        gap = "-" if s.gap is None else f"{s.gap:.1%}"
        proof = "proved best" if s.proved else f"not proved; bound: {s.bound_kind or 'none'}"
        (value, unit), (bound, _) = told_measure(s.value, s.unit), told_measure(s.bound, s.unit)
        rows.append((s.name, amount(value), amount(bound), gap, unit, f"{s.seconds:.2f}", proof))
    return table(rows)


def _curve(plan: Plan) -> str:
    rows = [("extra finish", "will finish", f"open trench, {nights_unit()}", "proof")]
    for p in plan.curve:
        proof = "proved least" if p.proved else f"bound {amount(told_measure(p.bound, FT_NIGHTS)[0])}"
        rows.append((f"{p.slack_days:g} days", moment(p.finish), amount(in_length_unit(p.exposure_ft_nights)), proof))
    return "What later finishing buys:\n" + table(rows)


def _costs(costs: PlanCosts, *, every: bool) -> str:
    """Lay out what a plan costs: all of it with where each rate stands, or the biggest lines."""
    biggest = sorted(costs.lines, key=lambda line: -line.amount)[:BIGGEST]
    rows = [("what", "quantity", "unit", "rate", "dollars", "where the rate stands")]
    for line in costs.lines if every else biggest:
        quantity, unit = told_measure(line.quantity, line.unit)
        numbers = amount(quantity), unit, f"{line.amount / (quantity or 1.0):,.2f}", f"{line.amount:,.2f}"
        rows.append((line.words, *numbers, line.where))
    left = "" if every or len(costs.lines) <= BIGGEST else f", the {BIGGEST} biggest of {len(costs.lines)} lines"
    what = "for what is still to come" if costs.still_to_come else "in all"
    lines = [f"Costs: {costs.total:,.2f} dollars {what}{left}:", table(rows)]
    told = costs.left_out if every else costs.left_out[:1]
    lines += [textwrap.fill(said, WIDTH, initial_indent="  - ", subsequent_indent="    ") for said in told]
    more = len(costs.left_out) - len(told)
    if more:
        lines.append(f"  - {spoken.count(more, 'thing')} more without a rate, left out of the sum.")
    if not every and (more or left):
        lines.append("  `jointtrench plan SITE --costs` prints every line.")
    return "\n".join(lines)


def _margin(plan: Plan, site: Site) -> str:
    said = (who_has_margin(plan, {t.id: t.name for t in site.trades}), margin_borne(plan, year=True))
    return "\n".join(textwrap.fill(text, WIDTH) for text in said if text)


def _visits(plan: Plan, site: Site) -> str:
    chances = {i.id: f"{i.pass_chance:.0%}" for i in site.inspections}
    rows = [("visit", "from", "to", "hold points", "pass the first time")]
    for made in put_together(plan.visits):
        names = " and ".join(dict.fromkeys(v.name or v.inspection for v in made))
        chance = " and ".join(dict.fromkeys(chances.get(v.inspection, "-") for v in made))
        ends = moment(made[0].start), moment(max(v.finish for v in made))
        rows.append((names, *ends, str(sum(len(v.covers) for v in made)), chance))
    return "Inspection visits:\n" + table(rows)


def _materials(planned: Planned) -> str:
    """Lay out what the job hauls away, brings and orders, and what its machines are rented for."""
    rows = [("material", "amount", "unit", tons_said(), "truck loads")]
    for m in materials(planned.case.site):
        tons = "" if m.tons is None else amount(m.tons)
        rows.append((m.name, amount(m.amount), m.unit, tons, "" if m.loads is None else str(m.loads)))
    rented = [
        f"  {r.name} is rented for {spoken.count(r.nights, 'night')}, {spoken.short_day(r.first)} to "
        f"{spoken.short_day(r.last, year=True)}{'' if r.money is None else f': {amount(r.money)} in all'}."
        for r in rentals(planned.plan, planned.case.site)
    ]
    if standing := signs(planned.plan, planned.case.site):
        nights, money = sum(r.nights for r in standing), sum(r.money or 0.0 for r in standing)
        rented.append(
            f"  Traffic control stands in {spoken.count(len(standing), 'reach', 'reaches')}, "
            f"{spoken.count(nights, 'night')} together: {amount(money)} in all."
        )
    return "\n".join(["Materials:", table(rows), *rented])


def table(rows: Sequence[Sequence[str]]) -> str:
    """Lay out rows in columns; the first row is the head."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    lines = ["  ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)).rstrip() for row in rows]
    return "\n".join(["  " + lines[0], "  " + "  ".join("-" * w for w in widths), *("  " + t for t in lines[1:])])


def find_activity(plan: Plan, wanted: str) -> PlanActivity:
    """Return the activity with this id, else the only one whose name holds the words.

    `finish` is the last to finish. Raises BadInput naming the nearest ones otherwise.
    """
    by_id = {a.id: a for a in plan.activities}
    if wanted == "finish" and by_id:
        return max(plan.activities, key=lambda a: (a.finish, a.critical, a.id))
    if wanted in by_id:
        return by_id[wanted]
    named = [a for a in plan.activities if wanted.casefold() in a.name.casefold()]
    if len(named) == 1:
        return named[0]
    near = [f"{a.id} ({a.name})" for a in named[:8]] or get_close_matches(wanted, by_id, n=5, cutoff=0.3)
    text = "fits several activities." if named else "is no activity of this plan."
    required = "one of: " + "; ".join(near) if near else "an activity id or part of a name"
    raise BadInput([Finding("plan/activity", Severity.STOP, f"'{wanted}'", text, wanted, required)])


def story(plan: Plan, wanted: str) -> str:
    """What drives an activity, back to the start, a paragraph a step; a plan tells the reason to follow first."""
    by_id = {a.id: a for a in plan.activities}
    current: PlanActivity | None = find_activity(plan, wanted)
    lines: list[str] = []
    seen: set[str] = set()
    while current is not None and current.id not in seen:
        seen.add(current.id)
        head = f"{current.name}: {moment(current.start)} to {moment(current.finish)}."
        lines.append(textwrap.fill(head, WIDTH))
        lines.extend(
            textwrap.fill(reason.because, WIDTH, initial_indent="    - ", subsequent_indent="      ")
            for reason in current.driven_by
        )
        current = next((by_id[r.activity] for r in current.driven_by if r.activity in by_id), None)
    return "\n".join(lines)
