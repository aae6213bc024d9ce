"""How long work takes: hours from quantities and rates."""

from __future__ import annotations

from scheduler.network.network_draft import SITE_FILE
from scheduler.site.filling import Backfill
from scheduler.site.ground import Line
from scheduler.site.people import Trade
from scheduler.site.work_rates import WorkRates


def lay_hours(line: Line, trade: Trade, feet: float, rates: WorkRates) -> tuple[float, str]:
    """Return the hours one crew needs to lay `feet` of a line, and where the rate comes from."""
    if line.feet_per_hour:
        return feet / line.feet_per_hour, f"{SITE_FILE}: lines"
    own = next((r.feet_per_hour for r in trade.lays if r.kind == line.kind), None)
    share = 1.0 + rates.each_further_conduit * (line.count - 1)
    if own:
        return feet * share / own, f"{SITE_FILE}: trades"
    common, source = rates.laying(line.kind)
    return feet * share / common, source


def fill_hours(*, fill_cy: float, lifts: float, length_ft: float, dig_cy_per_hour: float, backfill: Backfill) -> float:
    """Return the hours to fill and compact: machine time for the volume, then passes on each lift."""
    placing = fill_cy / (dig_cy_per_hour * backfill.fill_share_of_dig)
    compacting = lifts * backfill.compact_minutes_per_lift / 60.0 * length_ft / 50.0
    return placing + compacting
