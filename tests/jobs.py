"""Hand-made jobs of a few tasks in one week, for tests of one rule at a time."""

from __future__ import annotations

from datetime import date

from scheduler.audit import audit
from scheduler.network.kind import Kind
from scheduler.network.model import Activity, Network
from scheduler.schedule import Schedule, Span, Visit
from scheduler.worktime.calendar import Calendar
from scheduler.worktime.clock import Clock

CLOCK = Clock.starting(date(2027, 3, 8), "America/New_York")  # a Monday; clocks go forward on Sunday 14 March


def at(day: int, hour: float) -> int:
    """The tick of an hour on a day of the first week; day 0 is Monday 8 March 2027."""
    return round(96 * day + 4 * hour)


def hours(id_: str, days: tuple[int, ...], *windows: tuple[float, float]) -> Calendar:
    return Calendar(id_, f"{id_} hours", tuple((at(d, a), at(d, b)) for d in days for a, b in windows))


CREW = hours("crew", (0, 1, 2, 3, 4), (8, 12), (13, 17))
CITY = hours("city", (1, 3), (9, 11))
ALWAYS = Calendar("always", "always", ((0, at(7, 0)),))


def task(id_: str, work_hours: float = 2, calendar: str = "crew", kind: Kind = Kind.PLAIN, **more: object) -> Activity:
    return Activity(id_, f"task {id_}", kind, round(4 * work_hours), calendar, **more)  # type: ignore[arg-type]


def job(*activities: Activity, **rules: object) -> Network:
    fields: dict[str, object] = {
        "data_date": 0,
        "horizon": at(7, 0),
        "calendars": {c.id: c for c in (CREW, CITY, ALWAYS)},
        **rules,
    }
    return Network("job", CLOCK, activities=activities, **fields)  # type: ignore[arg-type]


def broken(network: Network, *visits: Visit, renewals: tuple[str, ...] = (), **dates: Span) -> list[str]:
    """The ids of the rules that the audit finds broken."""
    return [f.rule for f in audit(network, Schedule(dates, visits, renewals))]
