"""What the dates of a plan leave undone: digs without a ticket, ways left trenched at night, passes grown old.

No rule is broken by it, so the audit is silent; a plan that were silent too would be read as approval.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta

from scheduler.findings import Finding, Severity
from scheduler.measures import midnights
from scheduler.network.kind import Kind
from scheduler.network.model import Network
from scheduler.of_the_dates.long_open import open_for_long
from scheduler.of_the_dates.old_passes import old_passes
from scheduler.plan import OF_THE_DATES
from scheduler.schedule import Schedule, Span
from scheduler.site.fields import parse_hours
from scheduler.site.ground import Reach
from scheduler.site.locates import without_ticket
from scheduler.site.site_record import Site
from scheduler.spoken import count, from_to, moment, working
from scheduler.units import format_station
from scheduler.worktime.calendar import Calendar, merged

BREAKS_GROUND = (Kind.SURFACE_CUT, Kind.POTHOLE, Kind.DIG)


def of_the_dates(site: Site, network: Network, schedule: Schedule) -> tuple[Finding, ...]:
    """Return what the dates of a plan leave undone, from the data date on, the gravest first."""
    dates = schedule.dates
    return (
        *_dug_without_ticket(site, network, dates),
        *_left_trenched(site, network, dates),
        *open_for_long(site, network, dates),
        *old_passes(site, network, dates),
    )


def _dug_without_ticket(site: Site, network: Network, dates: Mapping[str, Span]) -> Iterator[Finding]:
    """Give each alignment along which digging is planned though no locate ticket covers it."""
    for alignment in without_ticket(site):
        digs = [a for a in network.activities if a.kind in BREAKS_GROUND and a.alignment == alignment.id]
        starts = [dates[a.id][0] for a in digs if a.id in dates and not a.happened]
        if starts:
            first = moment(network.clock.when(min(starts)))
            yield Finding(
                f"{OF_THE_DATES}no-ticket",
                Severity.STOP,
                alignment.name,
                "No locate ticket covers this ground: nobody digs there before one is clear.",
                found=f"digging planned from {first}",
                required="a locate ticket that covers it, clear by then",
                source="29 CFR 1926.651(b)",
                remedy="Call before you dig, and write the ticket under `locate_tickets`; or say in the alignment's "
                "`locate_not_needed` why none is asked for.",
            )


def _left_trenched(site: Site, network: Network, dates: Mapping[str, Span]) -> Iterator[Finding]:
    """Give each way that the plan leaves trenched outside the only hours in which it may be blocked."""
    names = {a.id: a.name for a in site.alignments}
    for reach in site.reaches:
        if reach.access is None or (blocked := _open_span(network, reach, dates)) is None:
            continue
        span, calendar = blocked
        outside = _outside(span, _hours_of_days(network, reach.access.closed_only, span, calendar))
        if not outside:
            continue
        start, finish = (network.clock.when(tick) for tick in (outside[0][0], outside[-1][1]))
        between = midnights(network.clock, span[0], span[1])
        nights = sum(a <= night < b for night in between for a, b in outside)
        over = f"over {count(nights, 'night')}" if nights else "outside its hours"
        ticks = sum(b - a for a, b in outside)
        yield Finding(
            f"{OF_THE_DATES}left-trenched",
            Severity.FIX,
            f"{names[reach.alignment]}, {format_station(reach.from_)} to {format_station(reach.to)}",
            f"{reach.access.what} stays trenched {over}, {from_to(start, finish)}: plates or a bridge are needed, or "
            "dig and fill it inside its hours.",
            found=f"{working(ticks * network.clock.tick_minutes)} open outside {reach.access.closed_only}",
            required=f"open {reach.access.closed_only} on working days only",
            source="site file: reaches, access",
            remedy="Order plates or a bridge for these nights, or cut the reach so short that each part is dug and "
            "filled inside the hours.",
        )


def _open_span(network: Network, reach: Reach, dates: Mapping[str, Span]) -> tuple[Span, Calendar] | None:
    """Return from when to when a reach stands open, and the hours of those who close it; None when it does not."""
    openings = [o for o in network.openings if o.reach == reach.id and o.opens in dates and o.closes in dates]
    left = [o for o in openings if not network.by_id[o.closes].happened and network.by_id[o.closes].work]
    if not left:
        return None
    start = max(network.data_date, min(dates[o.opens][0] for o in left))
    last = max(left, key=lambda o: dates[o.closes][1])
    return (start, min(network.horizon, dates[last.closes][1])), network.calendar_of(last.closes)


def _hours_of_days(network: Network, hours: str, span: Span, calendar: Calendar) -> Iterator[Span]:
    """Give the hours in which a way may be blocked, of each day on which a calendar opens [ticks]."""
    clock, (begin, end) = network.clock, parse_hours(hours)
    day, last = clock.when(span[0]).date(), clock.when(span[1]).date()
    while day <= last:
        midnight, next_one = clock.midnight(day), clock.midnight(day + timedelta(days=1))
        if calendar.open_ticks(midnight, next_one):
            until = clock.tick(datetime.combine(day, end)) if end > begin else next_one
            yield clock.tick(datetime.combine(day, begin)), until
        day += timedelta(days=1)


def _outside(span: Span, allowed: Iterator[Span]) -> list[Span]:
    """Return the parts of a span that no allowed stretch holds."""
    parts, at = [], span[0]
    for begin, end in merged(allowed):
        if begin > at:
            parts.append((at, min(begin, span[1])))
        at = max(at, end)
    return [(a, b) for a, b in [*parts, (at, span[1])] if a < b]
