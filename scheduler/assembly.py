"""Putting a plan together: results in clock ticks become the plan.json contract and back."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterable, Iterator, Sequence

from scheduler.costs.billing import bill
from scheduler.explain.conflicts import conflicts
from scheduler.explain.driving import SequencedPlan, drivers_in
from scheduler.explain.floats import floats_in, moving_finish
from scheduler.explain.longer_work import TOLD_PERCENT, borne_percent, finish_with_longer_work
from scheduler.explain.repairs import repairs
from scheduler.explain.rules import Rule
from scheduler.findings import Finding
from scheduler.network.contingency import own_work
from scheduler.network.model import Activity, Network
from scheduler.network.one_day import not_in_one_day
from scheduler.network.open_at_once import open_together
from scheduler.plan import (
    Conflict,
    ConflictMember,
    CostLine,
    CurvePoint,
    MarginShare,
    Plan,
    PlanActivity,
    PlanCosts,
    PlanFinding,
    PlanHold,
    PlanMargin,
    PlanVisit,
    Reason,
    Repair,
    SiteRef,
    Stage,
)
from scheduler.schedule import Schedule, Span, Visit
from scheduler.solve.outcome import Outcome, Progress, SolvedPoint, Status
from scheduler.units import format_counted


def plan_of(
    network: Network,
    outcome: Outcome,
    *,
    site: SiteRef,
    broken: Sequence[Finding] = (),
    findings: Sequence[Finding] = (),
    cautions: Sequence[str] = (),
) -> Plan:
    """Return the plan that an outcome amounts to, with floats and reasons worked out.

    `broken` is what the audit found in its dates: where they break a rule nothing holds them
    and no float can be told, so both are left out. `findings` are told beside it.
    """
    when = network.clock.when
    schedule = outcome.schedule
    rows = _bare_rows if broken else activity_rows
    return Plan(
        site=site,
        data_date=when(network.data_date),
        margin_percent=network.margin_percent,
        status=outcome.status.value,
        finish=when(schedule.finish) if schedule else None,
        finish_bound=when(outcome.finish_bound) if outcome.finish_bound is not None else None,
        stages=[
            Stage(
                name=s.name,
                value=s.value,
                bound=s.bound,
                bound_kind=s.bound_kind,
                unit=s.unit,
                gap=s.gap,
                proved=s.proved,
                seconds=round(s.seconds, 3),
            )
            for s in outcome.stages
        ],
        costs=costs_of(network, schedule) if schedule and not broken else None,
        activities=rows(network, schedule) if schedule else [],
        visits=visit_rows(network, schedule) if schedule else [],
        holds=hold_rows(network, schedule) if schedule else [],
        renewals=list(schedule.renewals) if schedule else [],
        conflicts=_conflicts(outcome),
        findings=[plan_finding(f) for f in (*broken, *findings)],
        cautions=list(cautions),
    )


def costs_of(network: Network, schedule: Schedule) -> PlanCosts:
    """Return what a schedule costs, line by line, as it stands in a plan."""
    made = bill(network, schedule)
    lines = [CostLine.model_validate(line, from_attributes=True) for line in made.lines]
    begun = any(a.happened for a in network.activities)
    return PlanCosts(lines=lines, total=made.total, still_to_come=begun, left_out=list(made.left_out))


def margin_of(network: Network, schedule: Schedule) -> PlanMargin:
    """Return who has how much contingency in a plan, and what it does when own work takes longer.

    `schedule` must audit clean, and nothing of the job may have happened yet.
    """
    minutes, shares = network.clock.tick_minutes, []
    for (trade, kind), work in own_work(network).items():
        extra = sum(a.contingency for a in work)
        plain = sum(a.work for a in work) - extra
        shares.append(
            MarginShare(trade=trade, kind=kind, work_minutes=plain * minutes, contingency_minutes=extra * minutes)
        )
    longer = max(TOLD_PERCENT, network.margin_percent)
    finish = finish_with_longer_work(network, schedule, longer)
    return PlanMargin(
        shares=sorted(shares, key=lambda s: (-s.work_minutes, s.trade, s.kind)),
        borne_percent=borne_percent(network, schedule),
        longer_percent=longer,
        longer_finish=None if finish is None else network.clock.when(finish),
    )


def curve_points(network: Network, points: Iterable[SolvedPoint]) -> list[CurvePoint]:
    """Return the points of a finish/exposure curve as they stand in a plan."""
    return [
        CurvePoint(
            slack_days=p.slack_days,
            finish=network.clock.when(p.finish),
            exposure_ft_nights=p.exposure,
            bound=p.bound,
            proved=p.proved,
        )
        for p in points
    ]


def plan_finding(finding: Finding) -> PlanFinding:
    """Return a finding as it stands in a plan."""
    return PlanFinding(
        rule=finding.rule,
        severity=finding.severity.value,
        where=finding.where,
        found=finding.found,
        required=finding.required,
        source=finding.source,
        text=finding.text,
        remedy=finding.remedy,
    )


def schedule_of(plan: Plan, network: Network) -> Schedule:
    """Return a plan's dates in the clock ticks of its network; the inverse of `plan_of`.

    Where the network is a job as it stood, what had happened has its recorded times, and of work in progress the
    rest is dated; visits are those still to come.
    """
    tick = network.clock.tick
    look_of = {h.id: h.look for h in network.holds}
    dates = {a.id: (tick(a.start), tick(a.finish)) for a in plan.activities}
    for activity in network.activities:
        if activity.happened:
            dates[activity.id] = network.calendar_of(activity.id).windows[0]
        if activity.begun_part_of in dates:
            rest = network.by_id[activity.begun_part_of]
            finish = dates[rest.id][1]
            begins = network.calendar_of(rest.id).retreat(finish, rest.work)
            dates[rest.id] = (dates[rest.id][0] if begins is None else begins, finish)
    visits = []
    for v in plan.visits:
        looks = {look_of[h] for h in v.covers if h in look_of}
        ahead = tuple(sorted(k for k in looks if k not in network.by_id or not network.by_id[k].happened))
        if ahead or not looks:
            visits.append(Visit(v.id, v.inspection, tick(v.start), tick(v.finish), ahead))
    return Schedule(dates, tuple(visits), tuple(plan.renewals))


def activity_rows(network: Network, schedule: Schedule) -> list[PlanActivity]:
    """Return the activities as they stand in a plan, in order of time; raises ValueError when the dates break rules."""
    minutes = network.clock.tick_minutes
    plan = SequencedPlan.of(network, schedule)
    driver_of = drivers_in(plan)
    float_of = floats_in(plan, driver_of)
    moving = moving_finish(plan)
    rows = []
    for a in sorted(network.activities, key=lambda a: (schedule.dates[a.id], a.id)):
        room = float_of[a.id]
        told: dict[str, object] = {
            "total_float_minutes": room.total * minutes,
            "free_float_minutes": room.free * minutes,
            "critical": room.critical,
            "moves_finish": a.id in moving,
            "driven_by": [
                Reason(kind=d.kind, ref=d.ref, because=d.because, activity=d.other or "") for d in driver_of[a.id]
            ],
        }
        rows.append(site_row(network, a, schedule.dates[a.id]).model_copy(update=told))
    return rows


def _bare_rows(network: Network, schedule: Schedule) -> list[PlanActivity]:
    """Return the activities of a plan that breaks rules, in order of time, without floats and reasons."""
    in_time = sorted(schedule.dates.items(), key=lambda row: (row[1], row[0]))
    return [site_row(network, network.by_id[a], span) for a, span in in_time]


def site_row(network: Network, activity: Activity, span: Span) -> PlanActivity:
    """Return one activity as it stands in a plan, without what the other dates say of it: slack and reasons."""
    start, finish = span
    return PlanActivity(
        id=activity.id,
        name=activity.name,
        kind=activity.kind,
        reach=activity.reach,
        alignment=activity.alignment,
        from_ft=activity.from_ft,
        to_ft=activity.to_ft,
        lines=list(activity.lines),
        layer=activity.layer,
        trade=activity.trade,
        start=network.clock.when(start),
        finish=network.clock.when(finish),
        work_minutes=activity.work * network.clock.tick_minutes,
        contingency_minutes=min(activity.contingency, activity.work) * network.clock.tick_minutes,
        because=activity.because,
        source=activity.source,
    )


def visit_rows(network: Network, schedule: Schedule) -> list[PlanVisit]:
    """Return the visits of this job's inspections as they stand in a plan, in order of time."""
    when = network.clock.when
    rule_of = {r.id: r for r in network.visit_rules}
    holds_of: dict[str, list[str]] = {}
    for hold in network.holds:
        holds_of.setdefault(hold.look, []).append(hold.id)
    return [
        PlanVisit(
            id=v.id,
            inspection=v.rule,
            name=rule_of[v.rule].name,
            authority=rule_of[v.rule].authority,
            person=rule_of[v.rule].person,
            start=when(v.start),
            finish=when(v.finish),
            covers=sorted(h for look in v.looks for h in holds_of.get(look, ())),
        )
        for v in sorted(schedule.visits, key=lambda v: (v.start, v.id))
        if v.rule in rule_of
    ]


def hold_rows(network: Network, schedule: Schedule) -> list[PlanHold]:
    """Return the hold points as they stand in a plan; none whose look has no dates is planned to be released."""
    when = network.clock.when
    return [
        PlanHold(
            id=h.id,
            kind=h.kind,
            name=h.name,
            scope=_scope(h.lines, h.layer),
            reaches=list(h.reaches),
            released_by=h.released_by,
            planned_release=when(schedule.dates[h.look][1]) if h.look in schedule.dates else None,
            gates=list(h.gates),
        )
        for h in network.holds
    ]


def _scope(lines: Iterable[str], layer: int | None) -> str:
    parts = [f"layer {layer + 1}"] if layer is not None else []
    return ", ".join([*parts, *lines])


def _conflicts(outcome: Outcome) -> list[Conflict]:
    """Return what the solver itself says cannot hold: enough rules to see why, perhaps more than needed."""
    if outcome.status is not Status.INFEASIBLE or not outcome.conflict:
        return []
    members = [ConflictMember(ref=ref, because=because) for ref, because in outcome.conflict]
    return [Conflict(id="conflict-1", members=members)]


def explained_conflicts(
    network: Network,
    progress: Callable[[Progress], None] | None = None,
    stop: threading.Event | None = None,
    *,
    proved: bool = False,
) -> list[Conflict]:
    """Return the smallest sets of rules that cannot all hold, each with its cheapest proved ways out.

    Where it is `proved` already that there is no plan, and no smaller set could be shown, all rules are one set.

    `progress` hears how far it is, under the names "conflicts" and "ways out". Setting `stop` ends
    it soon with what is found by then: a set that could still be made smaller is not `minimal`.
    """
    began = time.monotonic()

    def teller(stage: str) -> Callable[[str], None] | None:
        if progress is None:
            return None
        return lambda note: progress(Progress(time.monotonic() - began, stage, None, None, note))

    found = conflicts(network, proved=proved, tell=teller("conflicts"), stop=stop)
    ways_out = repairs(network, found, tell=teller("ways out"), stop=stop)
    when = network.clock.when
    return [
        Conflict(
            id=f"conflict-{number}",
            members=[
                ConflictMember(
                    ref=r.ref, because=" ".join([r.because, *_at_once(network, r), *_in_one_day(network, r)])
                )
                for r in conflict.rules
            ],
            repairs=[Repair(text=r.text, cost=r.cost, finish=when(r.schedule.finish)) for r in ways],
            minimal=conflict.minimal,
        )
        for number, (conflict, ways) in enumerate(zip(found, ways_out, strict=True), 1)
    ]


def _at_once(network: Network, rule: Rule) -> Iterator[str]:
    """Say what a limit on open trench cannot allow and the order of the work alone asks for."""
    reach_of = {o.id: o.reach for o in network.openings}
    for found in open_together(network) if rule.kind == "open limit" else ():
        if found.limit.record == rule.record.id:
            unit = next(o.unit for o in network.open_limits if o.id == found.limit.record)
            during, places = network.by_id[found.during].name, dict.fromkeys(reach_of[use.name] for use in found.uses)
            dug = "what has been dug and " if any(a.happened for a in network.activities) else ""
            yield (
                f"By {dug}the order of the work alone {format_counted(found.units, unit)} stand open at one time, "
                f'during "{during}": {", ".join(places)}.'
            )


def _in_one_day(network: Network, rule: Rule) -> Iterator[str]:
    """Say of each way that is to be filled the same day what keeps it from being so."""
    for shut in network.kept_shut if rule.kind == "way" else ():
        if shut.id in {record.id for record in rule.records}:
            yield from not_in_one_day(network, shut)
