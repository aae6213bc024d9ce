"""The record of a bundled site until a busy morning: all as planned, but for a look that failed."""

from __future__ import annotations

from collections import defaultdict
from contextlib import closing
from datetime import date, datetime, timedelta

from scheduler.ledger import write_down
from scheduler.ledger.day_events import NoteKept
from scheduler.ledger.events import InspectionFailed
from scheduler.network.model import Hold
from scheduler.plan import PlanActivity
from tests.happenings import as_planned
from tests.site_week import FAULTS, REPAIR_HOURS, SiteWeek

FIRST_DAYS = 5


def busiest_morning(week: SiteWeek) -> datetime:
    """Return half past six of the first day on which most parties work in the first two hours, by the first plan."""
    days: dict[date, list[PlanActivity]] = defaultdict(list)
    for a in week.first_plan:
        if a.work_minutes:
            days[a.start.date()].append(a)

    def parties(on: date) -> int:
        early = days[on][0].start + timedelta(hours=2)
        return len({a.trade or a.id for a in days[on] if a.start < early})

    # Not in the first days: by then a look has been made.
    busiest = max(list(days)[FIRST_DAYS:], key=lambda on: (parties(on), -on.toordinal()))
    return days[busiest][0].start.replace(hour=6, minute=30)


def write_busy_day(week: SiteWeek) -> Hold:
    """Write the days until the busiest morning down; return the hold point of the last look before cover: it failed."""
    by = next(p.name for p in week.case.site.people if p.role == "general_contractor")
    site, network, morning = week.case.site, week.case.network, busiest_morning(week)
    hides = {a.id for a in network.activities if a.kind.hides}
    held = {h.look: h for h in network.holds if h.reaches and hides.intersection(h.gates)}
    look = [a for a in week.first_plan if a.id in held and a.kind.is_look and a.finish < morning][-1]
    _, planned = week.known()
    with closing(week.place.open()) as journal:
        for at, event in as_planned(week.case, planned.plan, morning):
            of_the_look = look.id in getattr(event, "looks", ()) or getattr(event, "hold", "") == held[look.id].id
            if not of_the_look:
                write_down(journal, site, network, event, at=at, by=by)
        inspector = held[look.id].released_by
        failed = InspectionFailed(
            looks=(look.id,), inspector=inspector, faults=FAULTS, when=look.finish, repair_hours=REPAIR_HOURS
        )
        write_down(journal, site, network, failed, at=morning, by=by)
        write_down(journal, site, network, NoteKept(words="Fair weather.", when=morning), at=morning, by=by)
    return held[look.id]
