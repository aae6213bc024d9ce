"""What is drawn last of a small random site, so that all before it stays as it was: closed weeks, ways at night."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from random import Random

from scheduler.network.derive import derive
from scheduler.network.model import Network
from scheduler.network.one_day import least_time
from scheduler.network.pieces import Ground
from scheduler.site.ground import Reach
from scheduler.site.site_record import Site


def with_closed_weeks(rng: Random, site: Site, *, share: float = 0.3) -> Site:
    """Return a site, now and then, on whose own hours more than a week is closed in a row, a firm date apart."""
    first = site.site.first_day + timedelta(days=rng.randrange(8, 45))
    days = [first + timedelta(days=n) for n in range(rng.randrange(9, 24))]
    if rng.random() >= share or any(booking.firm for booking in site.bookings):
        return site
    own = site.general_trade.calendar
    calendars = [c.model_copy(update={"closed": [*c.closed, *days]}) if c.id == own else c for c in site.calendars]
    return site.model_copy(update={"calendars": calendars})


def with_ways(rng: Random, site: Site) -> Site:
    """Return a site on which each drive is plated or fenced at night."""
    return _at_night(site, lambda _: rng.choice(("plated", "plated", "fenced")))


def filled_the_same_day(site: Site) -> Network:
    """Return the network of a site whose drives are dug and filled in one day each, in quick work that nobody looks at.

    A drive in which something is kept open, or cures or is tested for too long, is plated.
    """
    looks = {i.id for i in site.inspections}
    site = site.model_copy(update={"inspections": [], "bookings": [b for b in site.bookings if b.of not in looks]})
    kept = {p.reach for pieces in Ground(site).pieces.values() for p in pieces if p.keeps}
    network = _quick(derive(_at_night(site, lambda reach: "plated" if reach.id in kept else "filled")))
    for shut in (s for s in network.kept_shut if s.kind == "way"):
        day = max(b - a for a, b in network.calendar_of(shut.opens).windows)
        if least_time(network, shut.opens, shut.closes).ticks > 0.7 * day:
            kept.add(network.by_id[shut.opens].reach)
    return _quick(derive(_at_night(site, lambda reach: "plated" if reach.id in kept else "filled")))


def _quick(network: Network) -> Network:
    filled = {w.reach for w in network.ways if w.at_night == "filled"}
    activities = tuple(replace(a, work=1) if a.reach in filled and a.work else a for a in network.activities)
    return replace(network, activities=activities)


def _at_night(site: Site, drawn: Callable[[Reach], str]) -> Site:
    reaches = [
        r.model_copy(update={"access": r.access.model_copy(update={"at_night": drawn(r)})}) if r.access else r
        for r in site.reaches
    ]
    return site.model_copy(update={"reaches": reaches})
