"""Who outside must be called for which work, and how much notice they ask for."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import datetime

from scheduler.network.model import Network
from scheduler.network.outside import outside_id
from scheduler.schedule import Span
from scheduler.site.calendars import build_calendars
from scheduler.site.site_record import Site
from scheduler.spoken import count, half_of
from scheduler.worktime.calendar import Calendar
from scheduler.worktime.clock import Clock


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
    reinspection_fee: float | None = 0.0
    """Of one more look after a failure; None: the site file gives none."""
    person: str = ""
    """Whom to call, by name; empty: nobody is named."""
    phone: str = ""
    trade: bool = False
    """A trade: it comes for a stay of days, and works at whatever is planned there."""
    anywhere: bool = False
    """Whether it keeps an appointment to come at any time in the same window of `calendar`: an inspector's visit."""
    half_days: bool = False
    """Whether it is asked for a half-day: then it comes in the same half, and not at any time in the window."""

    def kept_in(self, clock: Clock, tick: int) -> Span:
        """Return the span [ticks] in which work that starts keeps an appointment at a tick."""
        window = self.calendar.window_at(tick) if self.anywhere else None
        if window is None:
            return tick, tick + 1
        return within_half(clock, tick, window) if self.half_days else window

    def asked(self, clock: Clock, when: int | datetime) -> str:
        """Say for when it is asked: `Tue 9 Mar 10:30`, or a half-day: `Tue 9 Mar in the morning`."""
        tick = when if isinstance(when, int) else clock.tick(when)
        return clock.spoken_half(tick) if self.half_days else clock.spoken(tick)

    def day_key(self, when: datetime) -> str:
        """Return the day for an id, `2027-03-09`, with its half where it is asked for one: `2027-03-09/morning`."""
        day = when.date().isoformat()
        return f"{day}/{half_of(when)}" if self.half_days else day

    def notice_said(self) -> str:
        """Say the notice in words: `3 working days of notice`."""
        return f"{count(self.notice_days, 'working day')} of notice"


def within_half(clock: Clock, tick: int, window: Span) -> Span:
    """Return the part of a window that lies in the half-day of a tick."""
    first, last = clock.half_day(tick)
    return max(window[0], first), min(window[1], last)


def ids_to_call(site: Site, network: Network) -> tuple[str, ...]:
    """Return the ids of all that a call can be about: inspections, outside work, trades and locate tickets."""
    ids = [*(i.id for i in site.inspections), *(w.id for w in site.outside_work), *(t.id for t in site.trades)]
    return tuple(dict.fromkeys([*ids, *(t.id for t in network.tickets)]))


def parties_of(site: Site, network: Network) -> tuple[Party, ...]:
    """Return every outside party of a network, inspections first, in the order of the site file."""
    calendars = build_calendars(site, network.clock)
    rules = {r.id: r for r in network.visit_rules}
    found = []
    for look in site.inspections:
        if look.id in rules:
            hours, looks = calendars[look.calendar], rules[look.id].looks
            party = Party(look.id, look.name, look.authority, "", look.notice_days, hours, looks, anywhere=True)
            party = replace(party, reinspection_fee=look.reinspection_fee, half_days=look.half_days)
            found.append(_to_call(site, party, look.released_by))
    for work in site.outside_work:
        activities = (outside_id(work.id),)
        party = Party(work.id, work.name, work.by, "", work.notice_days, calendars[work.calendar], activities)
        found.append(_to_call(site, party, None))
    return tuple(found)


def trade_parties(site: Site, network: Network, not_own: Collection[str] = ()) -> tuple[Party, ...]:
    """Return every trade of a site that is called before it comes, own ones aside, in the order of the site file.

    Trades in `not_own` are called whatever the site file says.
    """
    calendars = build_calendars(site, network.clock)
    found = []
    for trade in site.trades:
        if not trade.own or trade.id in not_own:
            about = f"{trade.name}, first day on site"
            work = tuple(a.id for a in network.activities if a.trade == trade.id)
            party = Party(
                trade.id, about, trade.name, "", trade.notice_days, calendars[trade.calendar], work, trade=True
            )
            found.append(_to_call(site, party, trade.contact))
    return tuple(found)


def _to_call(site: Site, party: Party, person: str | None) -> Party:
    """Return a party with whom to call: the person named, else its first with a telephone number, else the firm."""
    there = [p for p in site.people if p.id == person] or [p for p in site.people if p.of == party.who]
    first = next((p for p in there if p.phone), there[0] if there else None)
    if first is None:
        return replace(party, contact=party.who)
    said = f"{first.name}, {party.who}" + (f" ({first.phone})" if first.phone else "")
    return replace(party, contact=said, person=first.name, phone=first.phone)
