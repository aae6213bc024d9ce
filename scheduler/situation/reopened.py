"""A plan that was accepted, joined again to the job as it stood when it was made."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from scheduler.assembly import schedule_of
from scheduler.ledger.events import PlanAccepted
from scheduler.ledger.store import Entry
from scheduler.network.model import Network
from scheduler.plan import Plan
from scheduler.schedule import Schedule
from scheduler.site.site_record import Site
from scheduler.situation.job import job_of


def reopened(
    site: Site, network: Network, entries: Sequence[Entry], accepted: PlanAccepted, plan: Plan
) -> tuple[Network, Schedule] | None:
    """Return the job as it stood and the dates of an accepted plan in its ticks; None when they no longer fit.

    Only what was written down before the acceptance counts, as it did then.
    """
    number = next((e.number for e in entries if e.event == accepted), 0)
    job = job_of(site, network, [e for e in entries if e.number < number], plan.data_date, plan)
    stood = job.network
    schedule = schedule_of(plan, stood)
    if any(a.id not in schedule.dates for a in stood.activities):
        return None
    known = {a.id: schedule.dates[a.id] for a in stood.activities}
    visits = tuple(v for v in schedule.visits if all(k in known for k in v.looks))
    return stood, replace(schedule, dates=known, visits=visits)
