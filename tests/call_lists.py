"""For tests of calls: a bare plan of dates, and the calls that a plan file would hold."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from scheduler.ledger.state import State, fold
from scheduler.ledger.store import Entry
from scheduler.network.model import Network
from scheduler.plan import Plan, PlanActivity, PlanCall, SiteRef
from scheduler.schedule import Schedule
from scheduler.site.site_record import Site
from scheduler.situation.call_words import CallDue
from scheduler.situation.calls_due import calls_due, plan_calls
from scheduler.situation.job_facts import facts_at


def bare_plan(site: Site, network: Network, schedule: Schedule) -> Plan:
    """Return dates as a plan with nothing worked out, whether they keep the rules or not."""
    when = network.clock.when
    rows = [
        PlanActivity(
            id=a.id,
            name=a.name,
            kind=a.kind,
            reach=a.reach,
            alignment=a.alignment,
            from_ft=a.from_ft,
            to_ft=a.to_ft,
            trade=a.trade,
            start=when(schedule.dates[a.id][0]),
            finish=when(schedule.dates[a.id][1]),
            work_minutes=a.work * network.clock.tick_minutes,
        )
        for a in network.activities
    ]
    return Plan(
        site=SiteRef(name=site.site.name, file="", time_zone=site.site.time_zone),
        data_date=when(network.data_date),
        status="feasible",
        activities=rows,
        renewals=list(schedule.renewals),
    )


def calls_of(site: Site, network: Network, schedule: Schedule, since: int | None = None) -> list[PlanCall]:
    """Return the calls that plan.json holds of some dates, from a tick on, with nothing on record."""
    moment = network.clock.when(network.data_date if since is None else since)
    return plan_calls(facts_at(site, network, State(), moment), bare_plan(site, network, schedule))


def calls_at(
    site: Site, network: Network, plan: Plan, entries: Iterable[Entry], moment: datetime
) -> tuple[CallDue, ...]:
    """Return the calls to make at a moment, by a journal."""
    return calls_due(facts_at(site, network, fold(entries, moment), moment), plan)
