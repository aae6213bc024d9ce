"""Stretches that a plan leaves open for many nights, each with what keeps it open."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping

from scheduler.findings import Finding, Severity
from scheduler.measures import midnights, worked
from scheduler.network.lowering import lower
from scheduler.network.model import Network, Opening
from scheduler.plan import OF_THE_DATES
from scheduler.schedule import Span
from scheduler.site.site_record import Site
from scheduler.spoken import count, from_to, moment
from scheduler.units import format_feet, format_station


def open_for_long(site: Site, network: Network, dates: Mapping[str, Span]) -> Iterator[Finding]:
    """Give each stretch that stands open for more nights than the site wants to hear of, from the data date on."""
    most, names = site.limits.longest_open_nights, {a.id: a.name for a in site.alignments}
    for opening in network.openings:
        closes = network.by_id[opening.closes]
        if opening.opens not in dates or opening.closes not in dates or closes.happened or opening.length_ft <= 0:
            continue
        span = max(network.data_date, dates[opening.opens][0]), min(network.horizon, dates[opening.closes][1])
        night = midnights(network.clock, network.data_date, network.horizon)
        nights = bisect_left(night, span[1]) - bisect_right(night, span[0])
        if nights > most:
            where = f"{format_station(closes.from_ft)} to {format_station(closes.to_ft)}"
            yield Finding(
                f"{OF_THE_DATES}open-long",
                Severity.FIX,
                f"{names.get(closes.alignment, opening.reach)}, {where}",
                f"{format_feet(opening.length_ft)} stand open for {count(nights, 'night')}, {_said(network, span)}. "
                + _why(network, opening, span, dates),
                found=count(nights, "night"),
                required=f"{count(most, 'night')} or fewer, to go without a word",
                source="site file: limits, longest_open_nights",
                remedy="Dig it later, cover part of it sooner, or have it fenced, plated and inspected every day.",
            )


def _why(network: Network, opening: Opening, span: Span, dates: Mapping[str, Span]) -> str:
    """Return the sentence that says what the longest rest in a stretch waits for."""
    here = [a.id for a in network.activities if a.reach == opening.reach and a.id in dates]
    work = sorted((*part, a) for a in here for part in worked(network, a, dates[a]) if span[0] <= part[0] <= span[1])
    rests: list[tuple[int, int, int, str]] = []
    done = span[0]
    for begins, ends, activity in work:
        rests.append((begins - done, done, begins, activity))
        done = max(done, ends)
    _, since, until, activity = max(rests, default=(0, *span, opening.closes))
    name, rest = f'"{network.by_id[activity].name}"', _said(network, (since, until))
    if dates[activity][0] < until:
        return f"{name} rests from {rest}: its hours are closed."
    before = [
        (dates[k.before][1], k.before)
        for k in lower(network).links
        if k.after == activity and not k.at_most and k.before in dates
    ]
    last, waited = max(before, default=(since, ""))
    if waited and last > since:
        return f'Nobody works there from {rest}: {name} waits for "{network.by_id[waited].name}", ' + (
            f"done {moment(network.clock.when(last))}."
        )
    if not network.calendar_of(activity).open_ticks(since, until):
        return f"Nobody works there from {rest}: the hours for {name} are closed."
    return f"Nobody works there from {rest}: those who come next, for {name}, are at other work."


def _said(network: Network, span: Span) -> str:
    return from_to(network.clock.when(span[0]), network.clock.when(span[1]))
