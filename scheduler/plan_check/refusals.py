"""What leaves no dates to check: a plan of another site, names that the site has not, and things given twice."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from scheduler.findings import Finding, Severity
from scheduler.network.model import Network
from scheduler.plan import Plan, PlanActivity, PlanVisit, SiteRef
from scheduler.spoken import moment

FAULTS_AT_MOST = 20
"""So many faults of one kind are listed; the rest would say nothing new."""
LONGEST_JOB = timedelta(days=36525)
"""Farther from the first day no moment is one of a job [100 years]."""


def refusals(network: Network, reference: SiteRef, plan: Plan, *, file: str = "") -> list[Finding]:
    """Return why a plan's dates cannot be checked against a site; empty when they can. `file` is named in each.

    A plan most of whose work the site does not know was made for another one, and that is all that is said.
    """
    unknown = [a.id for a in plan.activities if a.id not in network.by_id]
    if network.activities and not plan.activities:
        return [_stop("plan/dates", "activities", "This plan has no dates.", "no activity", "dates to check", file)]
    if unknown and len(unknown) > len(plan.activities) / 2:
        text = (
            f'This plan is of another site: {len(unknown)} of its {len(plan.activities)} activities, "{unknown[0]}" '
            "among them, are none of this one."
        )
        return [_stop("plan/site", "the file", text, f'"{plan.site.name}"', f'a plan of "{reference.name}"', file)]
    found = [*_unknown(network, plan, file), *_twice(plan, file), *_no_times(network, plan, file)]
    return found[:FAULTS_AT_MOST]


def _stop(rule: str, where: str, text: str, found: str, required: str, file: str) -> Finding:
    return Finding(rule, Severity.STOP, where, text, found, required, file=file)


def _unknown(network: Network, plan: Plan, file: str) -> Iterator[Finding]:
    holds, renewals = {h.id for h in network.holds}, {r.id for t in network.tickets for r in t.renewals}
    unknown = [("activities", a.id) for a in plan.activities if a.id not in network.by_id]
    unknown += [("visits", h) for v in plan.visits for h in v.covers if h not in holds]
    unknown += [("holds", h.id) for h in plan.holds if h.id not in holds]
    unknown += [("renewals", r) for r in plan.renewals if r not in renewals]
    for at, name in unknown:
        yield _stop("plan/site", at, "This job knows no such thing.", name, "what the site file describes now", file)


def _twice(plan: Plan, file: str) -> Iterator[Finding]:
    dated: Sequence[PlanActivity | PlanVisit] = [*plan.activities, *plan.visits]
    span = {id(r): f"{moment(r.start)} to {moment(r.finish)}" for r in dated}
    for part, records in (("activities", plan.activities), ("visits", plan.visits), ("holds", plan.holds)):
        first: dict[str, str] = {}
        for record in records:
            said = span.get(id(record), record.id)
            if record.id in first:
                text = f'"{record.id}" stands in the plan twice; nobody can tell which is meant.'
                yield _stop("plan/twice", part, text, f"{first[record.id]}, and {said}", "each once", file)
            first.setdefault(record.id, said)
    for renewal in sorted({r for r in plan.renewals if plan.renewals.count(r) > 1}):
        text = f'The renewal "{renewal}" is called for twice.'
        yield _stop("plan/twice", "renewals", text, f"{plan.renewals.count(renewal)} times", "each once", file)


def _no_times(network: Network, plan: Plan, file: str) -> Iterator[Finding]:
    """Name what no clock of this job shows; what had happened when the plan was made is as it was reported."""
    origin, minutes = network.clock.origin, network.clock.tick_minutes
    moments: list[tuple[str, datetime]] = [("finish", t) for t in (plan.finish, plan.finish_bound) if t is not None]
    moments += [(r.id, t) for part in (plan.activities, plan.visits) for r in part for t in (r.start, r.finish)]
    for where, when in moments:
        if abs(when - origin) > LONGEST_JOB:
            yield _stop("plan/time", where, "This is no time of a job.", when.isoformat(), "a day of this job", file)
        elif when > plan.data_date and (when - origin) % timedelta(minutes=minutes):
            required = f"a time on a step of {minutes} minutes"
            yield _stop("plan/time", where, "This time falls between two steps.", when.isoformat(), required, file)
