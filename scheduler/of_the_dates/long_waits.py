"""Inspectors who wait on site between two looks for longer than the site wants to hear of."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from scheduler.findings import Finding, Severity
from scheduler.measures import waits_between_looks
from scheduler.network.model import Network, VisitRule
from scheduler.plan import OF_THE_DATES
from scheduler.schedule import Span
from scheduler.site.site_record import Site
from scheduler.spoken import from_to, length


def long_waits(site: Site, network: Network, dates: Mapping[str, Span]) -> Iterator[Finding]:
    """Give each day on which a person waits longer between looks than the shortest limit of what they look at."""
    limits = {i.id: i.longest_wait_hours for i in site.inspections if i.longest_wait_hours is not None}
    together: dict[tuple[str, str], list[VisitRule]] = {}
    for rule in network.visit_rules:
        together.setdefault((rule.person or rule.id, rule.calendar), []).append(rule)
    for (_, calendar), rules in together.items():
        limited = [r.id for r in rules if r.id in limits]
        if not limited:
            continue
        most = min(limits[id_] for id_ in limited)
        looks = [k for r in rules for k in r.looks if k in dates and not network.by_id[k].happened]
        for span, wait in sorted(waits_between_looks(network, looks, calendar, dates).items()):
            minutes = wait * network.clock.tick_minutes
            if minutes > 60 * most:
                yield _long_wait(network, rules, span, minutes, f"inspections, {' and '.join(limited)}", most)


def _long_wait(network: Network, rules: list[VisitRule], span: Span, minutes: int, where: str, most: float) -> Finding:
    """Return what is told of one wait; `most` is the limit in hours."""
    first, last = network.clock.when(span[0]), network.clock.when(span[1])
    names = " and ".join(dict.fromkeys(r.name for r in rules))
    return Finding(
        f"{OF_THE_DATES}long-wait",
        Severity.FIX,
        names,
        f"{rules[0].authority} waits {length(minutes)} between its looks of {from_to(first, last)}.",
        found=f"{length(minutes)} without a look",
        required=f"{length(round(60 * most))} or less, to go without a word",
        source=f"site file: {where}: longest_wait_hours",
        remedy="Give the waiting a price (`wait_cost_per_hour`), so that a plan brings the looks together; or ask the "
        "authority to come twice.",
    )
