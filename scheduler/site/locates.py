"""Which ground the locate tickets of a site cover."""

from __future__ import annotations

from scheduler.site.ground import Alignment
from scheduler.site.people import LocateTicket
from scheduler.site.site_record import Site


def covers(ticket: LocateTicket, alignment: str) -> bool:
    """Return whether a ticket is for the ground along an alignment."""
    return not ticket.alignments or alignment in ticket.alignments


def without_ticket(site: Site) -> list[Alignment]:
    """Return the alignments that are dug though no ticket covers them and none is said not to be needed."""
    dug = {reach.alignment for reach in site.reaches}
    return [
        a
        for a in site.alignments
        if a.id in dug and not a.locate_not_needed and not any(covers(t, a.id) for t in site.locate_tickets)
    ]
