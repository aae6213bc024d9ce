"""Ways that others use, trenched outside their hours: what lies over them then, or that nothing does."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta

from scheduler.findings import Finding, Severity
from scheduler.measures import midnights
from scheduler.network.model import Network
from scheduler.network.open_records import Way
from scheduler.plan import OF_THE_DATES
from scheduler.schedule import Span
from scheduler.site.fields import parse_hours
from scheduler.site.site_record import Site
from scheduler.spoken import count, from_to, working
from scheduler.units import format_station, retold
from scheduler.worktime.calendar import Calendar, merged

DESIGN = "The trench is wider than 5 ft 3 in at its top: the plates need an engineer's design."


def ways_at_night(site: Site, network: Network, dates: Mapping[str, Span]) -> Iterator[Finding]:
    """Give each way that the plan leaves trenched outside the only hours in which it may be blocked."""
    names, reaches = {a.id: a.name for a in site.alignments}, {r.id: r for r in site.reaches}
    for way in network.ways:
        if (blocked := _open_span(network, way.reach, dates)) is None:
            continue
        span, calendar = blocked
        outside = _outside(span, _hours_of_days(network, way.hours, span, calendar))
        if outside:
            reach = reaches[way.reach]
            where = f"{names[reach.alignment]}, {format_station(reach.from_)} to {format_station(reach.to)}"
            nights = sum(a <= night < b for night in midnights(network.clock, *span) for a, b in outside)
            yield (_left_trenched if way.at_night == "filled" else _bridged)(network, way, where, outside, nights)


def _left_trenched(network: Network, way: Way, where: str, outside: list[Span], nights: int) -> Finding:
    over = f"over {count(nights, 'night')}" if nights else "outside its hours"
    ticks = sum(b - a for a, b in outside)
    return Finding(
        f"{OF_THE_DATES}left-trenched",
        Severity.FIX,
        where,
        f"{way.what} stays trenched {over}, {_said(network, outside)}: plates or a bridge are needed, or dig and fill "
        "it inside its hours.",
        found=f"{working(ticks * network.clock.tick_minutes)} open outside {way.hours}",
        required=f"open {way.hours} on working days only",
        source="site file: reaches, access",
        remedy="Order plates or a bridge for these nights, or cut the reach so short that each part is dug and filled "
        "inside the hours.",
    )


def _bridged(network: Network, way: Way, where: str, outside: list[Span], nights: int) -> Finding:
    over = f"over {count(nights, 'night')}" if nights else "outside its hours"
    begin, end = way.hours.split("-")
    if way.at_night == "plated":
        text = (
            f"{way.what} is trenched {over}, {_said(network, outside)}, under {count(way.plates, 'steel plate')}: "
            f"lifted from {begin.strip()}, set again by {end.strip()} each day."
        )
    else:
        text = f"Nobody passes {way.what} {over}, {_said(network, outside)}: it is fenced and lit, as agreed."
    price = sum(n.price or 0.0 for n in way.nights)
    return Finding(
        f"{OF_THE_DATES}{way.at_night}",
        Severity.FIX if way.designed else Severity.NOTE,
        where,
        f"{text} {retold(DESIGN)}" if way.designed else text,
        found=f"{count(nights, 'night')}, about {price:,.0f} dollars each",
        required="",
        source="site file: reaches, access; 520 CMR 14.00",
        remedy="Have the plates designed, or the trench narrower there." if way.designed else "",
    )


def _said(network: Network, outside: list[Span]) -> str:
    return from_to(network.clock.when(outside[0][0]), network.clock.when(outside[-1][1]))


def _open_span(network: Network, reach: str, dates: Mapping[str, Span]) -> tuple[Span, Calendar] | None:
    """Return from when to when a reach stands open, and the hours of those who close it; None when it does not."""
    openings = [o for o in network.openings if o.reach == reach and o.opens in dates and o.closes in dates]
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
