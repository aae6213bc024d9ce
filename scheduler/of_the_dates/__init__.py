"""What the dates of a plan leave undone: digs without a ticket, ways left trenched, long waits, passes grown old.

No rule is broken by it, so the audit is silent; a plan that were silent too would be read as approval.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

from scheduler.findings import Finding, Severity
from scheduler.network.kind import Kind
from scheduler.network.model import Network
from scheduler.of_the_dates.long_open import open_for_long
from scheduler.of_the_dates.long_waits import long_waits
from scheduler.of_the_dates.old_passes import old_passes
from scheduler.of_the_dates.ways_at_night import ways_at_night
from scheduler.plan import OF_THE_DATES
from scheduler.schedule import Schedule, Span
from scheduler.site.locates import without_ticket
from scheduler.site.site_record import Site
from scheduler.spoken import moment

BREAKS_GROUND = (Kind.SURFACE_CUT, Kind.POTHOLE, Kind.DIG)


def of_the_dates(site: Site, network: Network, schedule: Schedule) -> tuple[Finding, ...]:
    """Return what the dates of a plan leave undone, from the data date on, the gravest first."""
    dates = schedule.dates
    return (
        *_dug_without_ticket(site, network, dates),
        *ways_at_night(site, network, dates),
        *open_for_long(site, network, dates),
        *long_waits(site, network, dates),
        *old_passes(site, network, dates),
        *(replace(note.finding, rule=f"{OF_THE_DATES}{note.finding.rule}") for note in network.notes),
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
