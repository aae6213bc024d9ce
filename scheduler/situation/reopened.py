"""A plan that was accepted, joined again to the job as it stood when it was made."""

from __future__ import annotations

from collections.abc import Sequence

from scheduler.ledger.events import PlanAccepted
from scheduler.ledger.store import Entry
from scheduler.network.model import Activity, Network
from scheduler.plan import Plan, PlanActivity
from scheduler.schedule import Schedule, Span, Visit
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
    rows = {a.id: a for a in plan.activities}
    dates: dict[str, Span] = {}
    for activity in stood.activities:
        row = rows.get(activity.id)
        if activity.happened:
            dates[activity.id] = stood.calendars[activity.calendar].windows[0]
        elif row is not None:
            dates[activity.id] = _span(stood, activity, row)
    if len(dates) < len(stood.activities):
        return None
    look_of = {h.id: h.look for h in stood.holds}
    visits = []
    for v in plan.visits:
        looks = {look_of[h] for h in v.covers if h in look_of}
        ahead = tuple(sorted(k for k in looks if k in dates and not stood.by_id[k].happened))
        if ahead:
            visits.append(Visit(v.id, v.inspection, stood.clock.tick(v.start), stood.clock.tick(v.finish), ahead))
    return stood, Schedule(dates, tuple(visits), tuple(plan.renewals))


def _span(network: Network, activity: Activity, row: PlanActivity) -> Span:
    """Return when an activity is worked on; of work in progress, the rest of it."""
    start, finish = network.clock.tick(row.start), network.clock.tick(row.finish)
    if all(a.begun_part_of != activity.id for a in network.activities):
        return start, finish
    rest = network.calendar_of(activity.id).retreat(finish, activity.work)
    return start if rest is None else rest, finish
