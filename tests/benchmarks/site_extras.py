"""What is drawn last of a small random site, so that everything before it stays as it was: weeks without work."""

from __future__ import annotations

from datetime import timedelta
from random import Random

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
