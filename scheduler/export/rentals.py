"""For how long machines and signs are rented: from the day they are brought to the day they are taken away."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from zoneinfo import ZoneInfo

from scheduler.network.site_steps import BRING, SIGNS_DOWN, SIGNS_UP, TAKE_AWAY
from scheduler.plan import Plan, PlanActivity
from scheduler.site.site_record import Site


@dataclass(frozen=True, slots=True)
class Rental:
    """One machine from delivery to removal, or the signs of one reach from set up to take down."""

    name: str
    first: date
    last: date
    money: float | None
    """Its rate for each night, for every machine of the kind, as the plan's money counts it; None: not given."""

    @property
    def nights(self) -> int:
        """Nights from the first day to the last."""
        return (self.last - self.first).days


def rentals(plan: Plan, site: Site) -> tuple[Rental, ...]:
    """Return the rental of each machine that the plan brings and takes away; none where no site work is asked for."""
    rate = {m.id: None if m.day_rate is None else m.day_rate * m.count for m in site.equipment}
    return _rented(plan, site, [(m.name, rate[m.id], f"{BRING}{m.id}", f"{TAKE_AWAY}{m.id}") for m in site.equipment])


def signs(plan: Plan, site: Site) -> tuple[Rental, ...]:
    """Return for how long traffic control stands in each reach, and what that costs; none where none is planned."""
    rate = site.rates.traffic_cost_per_night
    return _rented(plan, site, [(r.id, rate, f"{r.id}{SIGNS_UP}", f"{r.id}{SIGNS_DOWN}") for r in site.reaches])


def _rented(plan: Plan, site: Site, wanted: list[tuple[str, float | None, str, str]]) -> tuple[Rental, ...]:
    """Return the rentals of a plan from what is wanted: name, money a night, and the ids of the first and last work."""
    zone, found = ZoneInfo(site.site.time_zone), {a.id: a for a in plan.activities}
    out = []
    for name, rate, first_id, last_id in wanted:
        brought, gone = found.get(first_id), found.get(last_id)
        if brought is not None and gone is not None:
            first, last = _days(brought, gone, zone)
            out.append(Rental(name, first, last, None if rate is None else (last - first).days * rate))
    return tuple(out)


def _days(brought: PlanActivity, gone: PlanActivity, zone: ZoneInfo) -> tuple[date, date]:
    return brought.start.astimezone(zone).date(), gone.finish.astimezone(zone).date()
