"""Which looks share a visit: all looks in one window of an authority's calendar are one visit.

So the dates of the looks decide it. How many looks and feet one visit can take bounds those dates
(`solve/formulation/rules/visit_caps.py`); the audit counts the same in its own words (`audit/visit_checks.py`).
"""

from __future__ import annotations

from collections.abc import Mapping

from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.network.normal import LookGroup
from scheduler.schedule import Span, Visit


def visits_of(network: Network, dates: Mapping[str, Span]) -> tuple[Visit, ...]:
    """Return the visits that dated looks make: one for each rule and each window with looks in it.

    The id is the rule's and the day of the visit, such as `trench/2027-03-09`, with the hour
    too when the authority comes twice that day.
    """
    return tuple(v for group in lower(network).look_groups for v in _visits(network, group, dates))


def _visits(network: Network, group: LookGroup, dates: Mapping[str, Span]) -> list[Visit]:
    calendar = network.calendars[group.calendar]
    in_window: dict[Span, list[str]] = {}
    for look in sorted(group.looks, key=lambda look: (dates[look], look)):
        in_window.setdefault(calendar.window_at(dates[look][0]) or dates[look], []).append(look)
    days = [network.clock.when(start).date() for start, _ in in_window]
    visits = []
    for (window, looks), day in zip(in_window.items(), days, strict=True):
        hour = "" if days.count(day) == 1 else f"{network.clock.when(window[0]):T%H:%M}"
        start, finish = min(dates[k][0] for k in looks), max(dates[k][1] for k in looks)
        visits.append(Visit(f"{group.record}/{day.isoformat()}{hour}", group.record, start, finish, tuple(looks)))
    return visits
