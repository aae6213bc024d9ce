"""A plan as people read it: what happened at its real times, to the second, and what is left as planned."""

from __future__ import annotations

from datetime import datetime

from scheduler.assembly import plan_of
from scheduler.findings import Finding
from scheduler.ledger.covered_early import covered_unreleased
from scheduler.network.model import Activity, Hold, Network
from scheduler.of_the_dates import of_the_dates
from scheduler.plan import Plan, PlanActivity, PlanHold, PlanVisit, Reason, SiteRef
from scheduler.situation.calls_due import plan_calls
from scheduler.situation.facts_records import JobFacts
from scheduler.solve.outcome import Outcome
from scheduler.trench.cautions import CAUTIONS


def plan_as_of(
    facts: JobFacts, network: Network, outcome: Outcome, *, site: SiteRef, layout: tuple[Finding, ...]
) -> Plan:
    """Return the plan of an outcome on the standing network, with the past as it was reported."""
    covered = covered_unreleased(facts.site, facts.network, facts.state, facts.as_of)
    assert outcome.schedule is not None
    undone = of_the_dates(facts.site, network, outcome.schedule)
    plan = plan_of(network, outcome, site=site, findings=[*covered, *undone, *layout], cautions=CAUTIONS)
    rows = [_row(facts, a) for a in plan.activities if not network.by_id[a.id].begun_part_of]
    dated = plan.model_copy(
        update={
            "data_date": facts.as_of.astimezone(network.clock.when(0).tzinfo),
            "activities": sorted(rows, key=lambda a: (a.start, a.finish, a.id)),
            "visits": _joined([*_past_visits(facts, network), *plan.visits]),
            "holds": [_hold(facts, h) for h in plan.holds],
        }
    )
    return dated.model_copy(update={"calls": plan_calls(facts, dated)})


def _row(facts: JobFacts, row: PlanActivity) -> PlanActivity:
    """Return an activity with its actual times where it has any."""
    known = facts.network.by_id.get(row.id)
    local = facts.network.clock.when(0).tzinfo
    if (done := facts.done.get(row.id)) is not None and known is not None:
        return row.model_copy(
            update={
                "start": done.start.astimezone(local),
                "finish": done.finish.astimezone(local),
                **_work(facts, known),
                "critical": False,
                "moves_finish": False,
                "driven_by": [Reason(kind="record", ref=row.id, because=done.because)],
            }
        )
    if (begun := facts.begun.get(row.id)) is not None and known is not None:
        return row.model_copy(update={"start": begun.start.astimezone(local), **_work(facts, known)})
    return row


def _work(facts: JobFacts, whole: Activity) -> dict[str, object]:
    """Return what a plan says of the length of a whole piece of work, of which some is done."""
    minutes = facts.network.clock.tick_minutes
    return {"work_minutes": whole.work * minutes, "contingency_minutes": whole.contingency * minutes}


def _past_visits(facts: JobFacts, network: Network) -> list[PlanVisit]:
    """Return the visits that were made, one for each inspection and day."""
    local = network.clock.when(0).tzinfo
    holds: dict[str, list[str]] = {}
    for hold in facts.network.holds:
        holds.setdefault(hold.look, []).append(hold.id)
    visits = []
    for rule in facts.network.visit_rules:
        days: dict[str, list[str]] = {}
        for look in (k for k in rule.looks if k in facts.done):
            days.setdefault(facts.done[look].start.astimezone(local).date().isoformat(), []).append(look)
        for day, looks in days.items():
            visits.append(
                PlanVisit(
                    id=f"{rule.id}/{day}",
                    inspection=rule.id,
                    name=rule.name,
                    authority=rule.authority,
                    start=min(facts.done[k].start for k in looks).astimezone(local),
                    finish=max(facts.done[k].finish for k in looks).astimezone(local),
                    covers=sorted(h for k in looks for h in holds.get(k, ())),
                )
            )
    return visits


def _joined(visits: list[PlanVisit]) -> list[PlanVisit]:
    """Return visits in order, those of one inspection on one day that began already and go on as one."""
    by_id: dict[str, PlanVisit] = {}
    for visit in visits:
        known = by_id.get(visit.id)
        if known is not None:
            visit = visit.model_copy(
                update={
                    "start": min(known.start, visit.start),
                    "finish": max(known.finish, visit.finish),
                    "covers": sorted({*known.covers, *visit.covers}),
                }
            )
        by_id[visit.id] = visit
    return sorted(by_id.values(), key=lambda v: (v.start, v.id))


def _hold(facts: JobFacts, row: PlanHold) -> PlanHold:
    """Return a hold point with all it gates, and its release where that is known, or not given yet."""
    whole: Hold = next(h for h in facts.network.holds if h.id == row.id)
    local = facts.network.clock.when(0).tzinfo
    update: dict[str, object] = {"gates": list(whole.gates)}
    if row.id in facts.unreleased:
        update["planned_release"] = facts.network.clock.when(facts.now)
    elif whole.look in facts.done:
        given = [r.when for r in facts.state.releases.get(row.id, ()) if r.when <= facts.as_of]
        at: datetime = max(given, default=facts.done[whole.look].finish)
        update["planned_release"] = at.astimezone(local)
    return row.model_copy(update=update)
