"""Who outside must be called for which work, and how much notice they ask for."""

from __future__ import annotations

from dataclasses import dataclass

from scheduler.network.model import Network
from scheduler.network.outside import outside_id
from scheduler.site.calendars import build_calendars
from scheduler.site.site_record import Site
from scheduler.spoken import count
from scheduler.worktime.calendar import Calendar


@dataclass(frozen=True, slots=True)
class Party:
    """Somebody whose coming is agreed beforehand: an authority for one inspection, or a party for outside work."""

    of: str
    """The id of the inspection or outside work."""
    about: str
    """What people call it."""
    who: str
    """The authority, firm or trade."""
    contact: str
    """A person there with a telephone number, where the site names one; else `who`."""
    notice_days: int
    """Working days of `calendar` from the call to the appointment."""
    calendar: Calendar
    activities: tuple[str, ...]
    reinspection_fee: float = 0.0

    def notice_said(self) -> str:
        """Say the notice in words: `3 working days of notice`."""
        return f"{count(self.notice_days, 'working day')} of notice"


def parties_of(site: Site, network: Network) -> tuple[Party, ...]:
    """Return every outside party of a network, inspections first, in the order of the site file."""
    calendars = build_calendars(site, network.clock)
    rules = {r.id: r for r in network.visit_rules}
    found = [
        Party(
            i.id,
            i.name,
            i.authority,
            contact(site, i.authority, i.released_by),
            i.notice_days,
            calendars[i.calendar],
            rules[i.id].looks,
            i.reinspection_fee,
        )
        for i in site.inspections
        if i.id in rules
    ]
    for work in site.outside_work:
        person = contact(site, work.by)
        activities = (outside_id(work.id),)
        found.append(Party(work.id, work.name, work.by, person, work.notice_days, calendars[work.calendar], activities))
    return tuple(found)


def contact(site: Site, firm: str, person: str | None = None) -> str:
    """Return whom to call at a firm: the person named, else its first with a telephone number, else the firm."""
    there = [p for p in site.people if p.id == person] or [p for p in site.people if p.of == firm]
    first = next((p for p in there if p.phone), there[0] if there else None)
    if first is None:
        return firm
    return f"{first.name}, {firm}" + (f" ({first.phone})" if first.phone else "")
