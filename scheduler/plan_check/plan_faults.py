"""What a plan says otherwise than its site or its own dates do: work, hold points, visits, finish, aims, slack."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from scheduler.assembly import activity_rows, costs_of, hold_rows, margin_of, site_row, visit_rows
from scheduler.findings import Finding, Severity
from scheduler.network.model import Network
from scheduler.plan import Part, Plan, SiteRef, Stage
from scheduler.schedule import Schedule
from scheduler.solve.goals import EVERY_GOAL, Goal
from scheduler.spoken import amount, moment

OF_ANY_WORK = ("name", "kind", "reach", "alignment", "from_ft", "to_ft", "lines", "layer", "trade")
OF_THE_SITE = (*OF_ANY_WORK, "work_minutes", "contingency_minutes")
"""Of work not begun when the plan was made."""
OF_A_HOLD = ("kind", "name", "scope", "reaches", "released_by", "planned_release", "gates")
OF_A_VISIT = ("name", "authority", "covers")
OF_THE_DATES = ("total_float_minutes", "free_float_minutes", "critical", "moves_finish")
SORTED = {"lines", "reaches", "gates", "covers"}
"""Fields whose order means nothing."""
GOALS: Mapping[str, Goal] = {goal.name: goal for goal in EVERY_GOAL}
LATER_KEYS = {"moves_finish", "contingency_minutes"}
"""Keys that plans written before have not; there they say nothing."""
LEAST_GAP = 0.005
"""Amounts that differ by less say the same [days, feet nights, money]."""


@dataclass(frozen=True)
class _Facts:
    network: Network
    reference: SiteRef
    plan: Plan
    schedule: Schedule
    sound: bool
    """Whether the dates keep every rule of the site."""

    @property
    def on_the_way(self) -> bool:
        """Whether the plan was made after the job had begun: it then rests on the journal, which is not asked here."""
        return self.plan.data_date > self.network.clock.when(self.network.data_date)

    @property
    def as_it_stood(self) -> bool:
        """Whether the network is the job as it stood when the plan was made, with what had happened in it."""
        return any(a.happened for a in self.network.activities)

    @property
    def whole(self) -> bool:
        """Whether every activity has dates and every visit is one of this job."""
        rules = {r.id for r in self.network.visit_rules}
        return all(a.id in self.schedule.dates for a in self.network.activities) and all(
            v.rule in rules for v in self.schedule.visits
        )


def plan_faults(network: Network, reference: SiteRef, plan: Plan, schedule: Schedule, *, sound: bool) -> list[Finding]:
    """Return each thing that a plan says and that is not so.

    `schedule` holds its dates, `reference` is how plans name the site, `sound` says whether the audit found the
    dates to keep every rule: only then does slack mean anything. What a plan made on the way says of slack, and when
    it says work began, is checked where the network is the job as it stood then; its amounts rest on the journal.
    """
    facts = _Facts(network, reference, plan, schedule, sound)
    checks = (_head, _work, _history, _holds, _visits, _ends, _status, _stages, _costs, _margin, _slack, _numbers)
    return [finding for check in checks for finding in check(facts)]


def _lie(rule: str, where: str, text: str, found: object, required: object) -> Finding:
    remedy = "Plan again, or fix the file by hand."
    return Finding(f"plan/{rule}", Severity.FIX, where, text, _said(found), _said(required), remedy=remedy)


def _said(value: object) -> str:
    if isinstance(value, datetime):
        return moment(value)
    if isinstance(value, list):
        return ", ".join(map(str, value)) or "nothing"
    return "nothing" if value in (None, "") else str(value)


def _differences(found: Part, required: Part, fields: tuple[str, ...]) -> tuple[str, str] | None:
    """Return what two records say differently, field by field; None when they say the same."""
    said = [f for f in fields if f in found.model_fields_set or f not in LATER_KEYS]
    pairs = [(f, getattr(found, f), getattr(required, f)) for f in said]
    different = [(f, a, b) for f, a, b in pairs if _plain(f, a) != _plain(f, b)]
    if not different:
        return None
    name = {f: f.replace("_ft", " ft").replace("_", " ") for f, _, _ in different}
    one, other = (("; ".join(f"{name[d[0]]} {_said(d[n])}" for d in different)) for n in (1, 2))
    return one, other


def _plain(field: str, value: Any) -> Any:
    return sorted(value) if field in SORTED else round(value, 6) if isinstance(value, float) else value


def _head(facts: _Facts) -> Iterator[Finding]:
    """The plan is of this site and its time zone, and not made from an earlier date."""
    for field, words in (("name", "site"), ("time_zone", "time zone")):
        found, required = getattr(facts.plan.site, field), getattr(facts.reference, field)
        if field in facts.plan.site.model_fields_set and found != required:
            yield _lie("site", "site", f"The plan names another {words}.", found, required)
    found, required = facts.plan.margin_percent, facts.network.margin_percent
    if found != required:
        yield _lie("margin", "margin", "The work has another margin.", f"{found} %", f"{required} %")
    due = facts.network.clock.when(facts.network.data_date)
    if facts.plan.data_date < due:
        found, required = facts.plan.data_date, f"{moment(due)} or later"
        yield _lie("data date", "data date", "The plan is made from a date before the site's.", found, required)


def _work(facts: _Facts) -> Iterator[Finding]:
    """Each piece of work is what the site says it is, and waits for work of this plan."""
    for row in facts.plan.activities:
        own = site_row(facts.network, facts.network.by_id[row.id], facts.schedule.dates[row.id])
        begun = row.start < facts.plan.data_date
        if wrong := _differences(row, own, OF_ANY_WORK if begun else OF_THE_SITE):
            yield _lie("work", own.reach or own.name, f'"{row.id}" is not as the site has it.', *wrong)
        for reason in row.driven_by:
            if reason.activity and reason.activity not in facts.schedule.dates:
                text = f'"{row.id}" is said to wait for work that is not in the plan.'
                yield _lie("reason", own.reach or own.name, text, reason.activity, "work of this plan")


def _history(facts: _Facts) -> Iterator[Finding]:
    """Of a plan made on the way: what it says happened lies before it was made, is on record, and is as recorded."""
    if not facts.on_the_way:
        return
    plan, network = facts.plan, facts.network
    parts = {a.begun_part_of: a.id for a in network.activities if a.begun_part_of}
    for row in plan.activities:
        where, begins, ends = row.reach or row.name, row.start, row.finish
        done = any(reason.kind == "record" for reason in row.driven_by)
        happened = network.by_id[row.id].happened
        if done and (ends > plan.data_date or begins > ends):
            text = f'"{row.name}" is said to be done, and not before the plan was made.'
            yield _lie("history", where, text, ends, f"{moment(plan.data_date)} or earlier")
        elif done and row.critical:
            yield _lie("history", where, f'"{row.name}" is done: nothing waits for it any more.', "critical", "done")
        elif not done and ends <= plan.data_date and (begins < ends or row.work_minutes):
            text = f'"{row.name}" ends before the plan was made, and is not said to be done.'
            yield _lie("history", where, text, ends, "a record of it, or a later finish")
        elif facts.as_it_stood and done != happened and begins < ends:
            text = f'"{row.name}" is {"" if done else "not "}said to be done.'
            yield _lie("history", where, text, "done" if done else "to do", "done" if happened else "to do")
        elif facts.as_it_stood and (happened or row.id in parts):
            recorded = facts.schedule.dates[row.id if happened else parts[row.id]]
            first, last = (network.clock.when(t) for t in recorded)
            began = network.clock.tick(begins) == recorded[0]
            if not (began if happened else network.clock.tick(begins, up=True) == recorded[1]) and recorded[0] > 0:
                yield _lie("history", where, f'"{row.name}" began at another time by the record.', begins, first)
            elif happened and network.clock.tick(ends, up=True) != recorded[1]:
                yield _lie("history", where, f'"{row.name}" ended at another time by the record.', ends, last)


def _holds(facts: _Facts) -> Iterator[Finding]:
    """Each hold point of the site is in the plan, with whoever releases it and all that waits for it."""
    found = {h.id: h for h in facts.plan.holds}
    if facts.network.holds and not found:
        count = len(facts.network.holds)
        yield _lie("holds", "hold points", "The plan has none of the site's hold points.", "none", f"{count}")
        return
    for own in hold_rows(facts.network, facts.schedule):
        where, name = ", ".join(own.reaches) or own.name, own.name or own.id
        if own.id not in found:
            yield _lie("holds", where, f'The hold point "{name}" is not in the plan.', "nothing", own.id)
        elif wrong := _differences(found[own.id], own, OF_A_HOLD[:-2] if facts.as_it_stood else OF_A_HOLD):
            yield _lie("holds", where, f'The hold point "{name}" is not as the site and the dates have it.', *wrong)
        elif facts.as_it_stood and not set(own.gates) <= set(found[own.id].gates):
            text = f'Work that waits for the hold point "{name}" is left out of it.'
            yield _lie("holds", where, text, _said(found[own.id].gates), _said(own.gates))


def _visits(facts: _Facts) -> Iterator[Finding]:
    """Each visit is by whom the site says, and covers all hold points of its looks."""
    found = {v.id: v for v in facts.plan.visits}
    for own in visit_rows(facts.network, facts.schedule):
        begun = facts.as_it_stood and found[own.id].start < facts.plan.data_date
        if not begun and (wrong := _differences(found[own.id], own, OF_A_VISIT)):
            yield _lie("visits", own.name, f'The visit "{own.id}" is not as the site has it.', *wrong)


def _ends(facts: _Facts) -> Iterator[Finding]:
    """The finish is that of the last work, and no bound on it comes after it."""
    plan, last = facts.plan, facts.network.clock.when(facts.schedule.finish)
    if plan.finish != last:
        yield _lie("finish", "finish", "The finish is not when the last work ends.", plan.finish, last)
    if plan.finish_bound is not None and plan.finish_bound > last:
        text = "The plan ends before the date that is said to be the earliest possible."
        yield _lie("bound", "finish bound", text, plan.finish_bound, f"{moment(last)} or earlier")
    for point in plan.curve:
        if plan.finish_bound is not None and point.finish < plan.finish_bound:
            text = "What a later finish buys begins before the earliest finish."
            yield _lie("curve", "curve", text, point.finish, f"{moment(plan.finish_bound)} or later")


def _status(facts: _Facts) -> Iterator[Finding]:
    """A plan with dates is not called impossible, nor its finish proved where it is not, nor unproved where it is."""
    plan = facts.plan
    finish = next((s for s in plan.stages if s.name == "finish"), None)
    if plan.status in ("infeasible", "unknown") or plan.conflicts:
        found = plan.status if not plan.conflicts else f"{plan.status}, with rules that cannot hold together"
        yield _lie("status", "status", "The plan has dates all the same.", found, "optimal, feasible or stopped")
    elif plan.status == "optimal":
        reached = plan.finish_bound is not None and plan.finish_bound >= facts.network.clock.when(facts.schedule.finish)
        if not (reached if finish is None else finish.proved):
            text = "The finish is called the earliest possible, and that is not proved."
            yield _lie("status", "status", text, plan.status, "feasible or stopped")
    elif finish is not None and finish.proved and plan.status == "feasible":
        yield _lie("status", "status", "The finish is proved, and not called so.", plan.status, "optimal")


def _stages(facts: _Facts) -> Iterator[Finding]:
    """Each aim's amount is that of the dates, its bound is none above it, and it is called proved where both meet."""
    for stage in facts.plan.stages:
        where = f"aim {stage.name}"
        if stage.value is None or not math.isfinite(stage.value):
            continue
        if wrong := _amount_wrong(facts, stage):
            yield _lie("aim", where, f"The {stage.name} is not what the dates come to.", *wrong)
        if stage.bound is None or not math.isfinite(stage.bound):
            continue
        room = stage.value - stage.bound
        if room < -LEAST_GAP:
            text = f"The {stage.name} is less than what is said to be the least possible."
            yield _lie("aim", where, text, f"bound {amount(stage.bound)}", f"{amount(stage.value)} at most")
        elif stage.proved and room > LEAST_GAP:
            text = f"The {stage.name} is called proved best, and its bound is lower."
            yield _lie("aim", where, text, "proved", f"not proved: {amount(stage.value)}, bound {amount(stage.bound)}")
        gap = 0.0 if stage.proved or not stage.value else max(0.0, room / abs(stage.value))
        if stage.gap is not None and abs(stage.gap - gap) > LEAST_GAP:
            yield _lie("aim", where, f"The gap of the {stage.name} is another.", f"{stage.gap:.1%}", f"{gap:.1%}")


def _costs(facts: _Facts) -> Iterator[Finding]:
    """Each line of what it costs, and their sum, are those of the dates."""
    said = facts.plan.costs
    if said is None or facts.on_the_way or not facts.whole:
        return
    own = costs_of(facts.network, facts.schedule)
    for line in sorted({n.id for n in (*said.lines, *own.lines)}):
        found, due = (next((n.amount for n in part.lines if n.id == line), 0.0) for part in (said, own))
        if abs(found - due) > LEAST_GAP:
            yield _lie("costs", line, f'"{line}" does not cost that by the dates.', amount(found), amount(due))
    if set(said.left_out) != set(own.left_out):
        text = "What has no rate, and is left out of the sum, is not told as it is."
        words, wanted = (" ".join(part.left_out) or "nothing" for part in (said, own))
        yield _lie("costs", "left out", text, words, wanted)
    if abs(said.total - sum(n.amount for n in said.lines)) > LEAST_GAP:
        text, due = "The sum of the costs is not that of their lines.", sum(n.amount for n in said.lines)
        yield _lie("costs", "costs", text, amount(said.total), amount(due))


def _margin(facts: _Facts) -> Iterator[Finding]:
    """Who has how much contingency, and how much longer the work may take, is as the site and the dates have it."""
    said = facts.plan.margin
    if said is None or facts.on_the_way or not facts.whole or not facts.sound:
        return
    own = margin_of(facts.network, facts.schedule)
    words = {
        "shares": "Others have the contingency than the work has it.",
        "borne_percent": "The work may take longer by another percentage than said, the finish kept.",
        "longer_finish": "With longer work the job ends at another time than said.",
    }
    for field, text in words.items() if said.longer_percent == own.longer_percent else ():
        found, due = getattr(said, field), getattr(own, field)
        if found != due:
            yield _lie("margin", "margin", text, _share_said(found), _share_said(due))
    if said.longer_percent != own.longer_percent:
        text = "Another percentage of longer work is told than plans tell."
        yield _lie("margin", "margin", text, f"{said.longer_percent} %", f"{own.longer_percent} %")


def _share_said(value: object) -> object:
    if isinstance(value, list):
        return [f"{s.trade} {s.kind.value} {s.contingency_minutes} of {s.work_minutes} minutes" for s in value]
    return value


def _amount_wrong(facts: _Facts, stage: Stage) -> tuple[str, str] | None:
    """Return the amount that a stage gives and the one of the dates, where they differ."""
    network, value = facts.network, stage.value or 0.0
    if facts.on_the_way or not facts.whole:
        return None
    if stage.name == "finish":
        days = (facts.schedule.finish - network.data_date) * network.clock.tick_minutes / 1440
        return None if abs(value - days) <= LEAST_GAP else (f"{amount(value)} days", f"{amount(days)} days")
    goal = GOALS.get(stage.name)
    due = value if goal is None else goal.amount(network, facts.schedule) / goal.per_unit
    return None if abs(value - due) <= LEAST_GAP else (amount(value), amount(due))


def _slack(facts: _Facts) -> Iterator[Finding]:
    """What each piece of work may slip is what its dates leave it."""
    own = {}
    if facts.sound and facts.whole and (facts.as_it_stood or not facts.on_the_way):
        rows = activity_rows(facts.network, facts.schedule)
        own = {row.id: row for row in rows if not facts.network.by_id[row.id].happened}
    for row in facts.plan.activities:
        where = row.reach or row.name
        if min(row.total_float_minutes or 0, row.free_float_minutes or 0) < 0:
            text = f'"{row.name}" is said to have less slack than none.'
            found = f"total {row.total_float_minutes}, free {row.free_float_minutes} minutes"
            yield _lie("slack", where, text, found, "none or more")
        elif row.total_float_minutes is None or row.id not in own:
            continue
        elif wrong := _differences(row, own[row.id], OF_THE_DATES):
            yield _lie("slack", where, f'"{row.name}" may slip otherwise than said.', *wrong)


def _numbers(facts: _Facts) -> Iterator[Finding]:
    """Every number is one."""
    plan = facts.plan
    lines = [] if plan.costs is None else plan.costs.lines
    parts = (("stages", plan.stages), ("curve", plan.curve), ("activities", plan.activities), ("costs", lines))
    for name, rows in parts:
        for place, row in enumerate(rows):
            for field, value in row:
                if isinstance(value, float) and not math.isfinite(value):
                    at = f"{name}.{getattr(row, 'id', '') or getattr(row, 'name', '') or place}.{field}"
                    yield _lie("number", at, "This is no number.", value, "a number")
