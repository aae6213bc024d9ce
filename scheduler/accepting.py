"""Which plan a job is worked by: putting one in force on record, and joining it again to the job as it stands."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime

from pydantic import ValidationError

from scheduler.audit import audit as broken_rules
from scheduler.case import Case, units_of
from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.ledger.call_events import ComingExpected
from scheduler.ledger.events import PlanAccepted
from scheduler.ledger.state import fold
from scheduler.ledger.store import Entry, Journal
from scheduler.plan import Plan, plan_json, plan_read
from scheduler.planning import Planned
from scheduler.replan.replan_records import Alternative
from scheduler.situation.reopened import reopened
from scheduler.units import in_units_of


def as_planned(case: Case, alternative: Alternative) -> Planned:
    """Return an alternative as any other plan, with the job as it stands for its network."""
    stands = replace(case, network=alternative.network)
    broken = tuple(broken_rules(alternative.network, alternative.schedule))
    return Planned(stands, alternative.plan, alternative.schedule, broken, stands=True)


@in_units_of(units_of)
def as_accepted(case: Case, entries: Sequence[Entry], accepted: PlanAccepted, plan: Plan) -> Planned | None:
    """Return an accepted plan joined again to the job as it stood then.

    None when it was made from other content of the site file (its job id aside), or no longer fits what is on record.
    """
    case = case.fitting(plan)
    found = reopened(case.site, case.network, entries, accepted, plan) if case.made(plan) else None
    if found is None:
        return None
    network, schedule = found
    left = {o.id: o for o in network.openings}
    # What is covered by now is no longer planned, but whoever looks back at it finds it.
    network = replace(network, openings=tuple(left.get(o.id, o) for o in case.network.openings))
    broken = tuple(broken_rules(network, schedule))
    return Planned(replace(case, network=network), plan, schedule, broken, stands=True)


def accept(journal: Journal, alternative: Alternative, *, by: str, at: datetime | None = None, why: str = "") -> str:
    """Keep an alternative's plan in the journal and accept it; returns its hash. The plans before stay on record."""
    if alternative.supposing:
        text = "It rests on what is only supposed; write that down first, and plan again."
        raise BadInput([Finding("replan/accept", Severity.STOP, "The alternative", text)])
    expected = tuple(
        ComingExpected(of=c.of, start=c.was, activities=c.was_for)
        for c in alternative.calls
        if c.was is not None and not c.on_record
    )
    return put_in_force(journal, alternative.plan, by=by, at=at, why=why, expected=expected)


def put_in_force(
    journal: Journal,
    plan: Plan,
    *,
    by: str,
    at: datetime | None = None,
    why: str = "",
    expected: tuple[ComingExpected, ...] = (),
) -> str:
    """Keep a plan in the journal as the one to work by; returns its hash. So the first plan of a job is put in force.

    `expected` are those who were to come by the plan before it.
    """
    kept = journal.keep_plan(plan_json(plan))
    journal.append(PlanAccepted(plan=kept, data_date=plan.data_date, why=why, expected=expected), at=at, by=by)
    return kept


def accepted_plan(journal: Journal, entries: Iterable[Entry]) -> Plan | None:
    """Return the plan accepted last, by entries of a journal; None when none was, or it cannot be read."""
    accepted = fold(entries).plan
    kept = journal.attachment(accepted.plan) if accepted is not None else None
    try:
        return None if kept is None else plan_read(kept.content)
    except ValidationError:
        return None
