"""For how long machines are rented: from the day they are brought to the day they are taken away."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from scheduler.network.site_steps import BRING, TAKE_AWAY
from scheduler.plan import Plan
from scheduler.site.site_record import Site


@dataclass(frozen=True, slots=True)
class Rental:
    """One machine from delivery to removal."""

    name: str
    first: date
    last: date
    money: float
    """Its day rate for each night, for every machine of the kind, as the plan's money counts it."""

    @property
    def nights(self) -> int:
        """Nights from the first day to the last."""
        return (self.last - self.first).days


def rentals(plan: Plan, site: Site) -> tuple[Rental, ...]:
    """Return the rental of each machine that the plan brings and takes away; none where no site work is asked for."""
    zone, found = ZoneInfo(site.site.time_zone), {a.id: a for a in plan.activities}
    out = []
    for machine in site.equipment:
        brought, gone = found.get(f"{BRING}{machine.id}"), found.get(f"{TAKE_AWAY}{machine.id}")
        if brought is not None and gone is not None:
            first, last = brought.start.astimezone(zone).date(), gone.finish.astimezone(zone).date()
            nights = (last - first).days
            out.append(Rental(machine.name, first, last, nights * machine.day_rate * machine.count))
    return tuple(out)
