"""Whom to call by when, so that those who come from outside have the notice they ask for."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, timedelta

from scheduler.measures import days_on_site, midnights
from scheduler.network.model import Network
from scheduler.network.parties import Party, contact, parties_of
from scheduler.plan import PlanCall
from scheduler.schedule import Schedule
from scheduler.site.calendars import build_calendars
from scheduler.site.people import Trade
from scheduler.site.site_record import Site
from scheduler.spoken import count
from scheduler.worktime.calendar import Calendar


def plan_calls(site: Site, network: Network, schedule: Schedule, since: int | None = None) -> list[PlanCall]:
    """Return every call that a plan asks for from a tick on, the most urgent first.

    Notice is counted as in `network.hours.after_notice`: the day of the call does not count. The last
    moment for a call is the end of the site's own hours before those days; of what asks for no notice,
    before the day itself.
    """
    desk = desk_hours(site, network)
    now = network.data_date if since is None else since
    found = [
        *(c for p in parties_of(site, network) for c in _appointments(network, schedule, p, desk, now)),
        *(c for t in site.trades if not t.own for c in _trade(site, network, schedule, t, desk, now)),
        *_renewals(network, schedule),
    ]
    return sorted(found, key=lambda c: (c.by, c.id))


def last_call(network: Network, hours: Calendar, desk: Calendar, start: int, days: int) -> int:
    """Return the last tick at which a call still gives `days` working days of notice of a start.

    `hours` are the party's, `desk` those in which the site makes its calls.
    """
    clock = network.clock
    day = clock.when(start).date()
    opened = [day]
    for begin, _ in hours.windows_to(clock.midnight(day)):
        if len(opened) >= days:
            break
        if (on := clock.when(begin).date()) != opened[-1]:
            opened.append(on)
    end = clock.midnight(opened[-1] if len(opened) >= days else min(opened[-1], day - timedelta(days=days)))
    return next((min(b, end) for _, b in desk.windows_to(end)), end)


def desk_hours(site: Site, network: Network) -> Calendar:
    """Return the hours of the general trade, in which calls are made."""
    return build_calendars(site, network.clock)[site.general_trade.calendar]


def _appointments(network: Network, schedule: Schedule, party: Party, desk: Calendar, now: int) -> Iterator[PlanCall]:
    visits: dict[date, int] = {}
    for activity in party.activities:
        start = schedule.dates[activity][0]
        if start >= now and not network.by_id[activity].happened:
            day = network.clock.when(start).date()
            visits[day] = min(start, visits.get(day, start))
    for day, start in visits.items():
        by = last_call(network, party.calendar, desk, start, party.notice_days)
        text = f"Call {party.contact}: {party.about}, {network.clock.spoken(start)}"
        text += f" ({party.notice_said()})." if party.notice_days else "."
        yield PlanCall(
            id=f"call/{party.of}/{day.isoformat()}",
            text=text,
            by=network.clock.when(by),
            to=party.contact,
            about=party.about,
        )


def _trade(
    site: Site, network: Network, schedule: Schedule, trade: Trade, desk: Calendar, now: int
) -> Iterator[PlanCall]:
    """Yield a call for each run of days that a trade comes for."""
    if not trade.notice_days:
        return
    spans = sorted(schedule.dates[a.id] for a in network.activities if a.trade == trade.id and a.kind.takes_time)
    hours, left = build_calendars(site, network.clock)[trade.calendar], None
    nights = midnights(network.clock, network.data_date, network.horizon)
    for span in spans:
        first, last = days_on_site(network, span)
        if (left is None or first - left - 1 > trade.stay_days) and span[0] >= now and nights:
            by = last_call(network, hours, desk, span[0], trade.notice_days)
            to = contact(site, trade.name)
            days = f"{count(trade.notice_days, 'working day')} of notice"
            yield PlanCall(
                id=f"call/{trade.id}/{network.clock.when(span[0]).date().isoformat()}",
                text=f"Call {to}: first work on site {network.clock.spoken(span[0])} ({days}).",
                by=network.clock.when(by),
                to=to,
                about=f"{trade.name}, first day on site",
            )
        left = last if left is None else max(left, last)


def _renewals(network: Network, schedule: Schedule) -> Iterator[PlanCall]:
    for ticket in network.tickets:
        for renewal in ticket.renewals:
            if renewal.id in schedule.renewals:
                yield PlanCall(
                    id=f"call/{renewal.id}",
                    text=f"Renew {ticket.name}: without it the digging still to come is not allowed.",
                    by=network.clock.when(renewal.call_by),
                    to="the one-call centre",
                    about=ticket.name,
                )
