"""How long work takes: hours from quantities and rates.

Rates that a site file does not give are common practice for a small crew, marked so here
and in the activity's source; each can be overridden in the site file.
"""

from __future__ import annotations

from collections.abc import Mapping

from scheduler.network.network_draft import COMMON, SITE_FILE
from scheduler.site.ground import Line, LineKind
from scheduler.site.people import Backfill, Trade

LAY_FEET_PER_HOUR: Mapping[LineKind, float] = {
    "power": 40.0,
    "lighting": 45.0,
    "communications": 50.0,
    "water": 30.0,
    "reclaimed": 30.0,
    "irrigation": 60.0,
    "sewer": 20.0,
    "storm": 15.0,
    "gas": 40.0,
}
"""Feet of one conduit or pipe that a crew lays in an hour; common practice."""

EACH_FURTHER_CONDUIT = 0.5
"""Share of the time of the first conduit that each further one of a bank takes; common practice."""

PROTECT_FT_PER_HOUR = 30.0
"""Trench shields set by the machine; common practice."""
PUMP_SET_UP_HOURS = 1.0
"""Pumps and a sump for one reach; common practice."""
POTHOLE_HOURS = 0.5
"""Least time to expose one marked line by hand or vacuum; common practice."""
BED_CY_PER_HOUR = 5.0
"""Bedding placed and levelled by a crew; common practice."""
RIBBON_FT_PER_HOUR = 400.0
"""Warning ribbon rolled out; common practice."""
CAP_HOURS = 0.5
"""Cap, tape and label one stub; common practice."""
PROVE_FT_PER_HOUR = 200.0
PROVE_SET_UP_HOURS = 0.5
"""Mandrel and pull string through one run of conduit; common practice."""
PULL_FT_PER_HOUR = 120.0
PULL_SET_UP_HOURS = 1.0
"""Conductors pulled through one run of conduit; common practice."""


def lay_hours(line: Line, trade: Trade, feet: float) -> tuple[float, str]:
    """Return the hours one crew needs to lay `feet` of a line, and where the rate comes from."""
    if line.feet_per_hour:
        return feet / line.feet_per_hour, f"{SITE_FILE}: lines"
    own = next((r.feet_per_hour for r in trade.lays if r.kind == line.kind), None)
    share = 1.0 + EACH_FURTHER_CONDUIT * (line.count - 1)
    if own:
        return feet * share / own, f"{SITE_FILE}: trades"
    return feet * share / LAY_FEET_PER_HOUR[line.kind], COMMON


def fill_hours(*, fill_cy: float, lifts: float, length_ft: float, dig_cy_per_hour: float, backfill: Backfill) -> float:
    """Return the hours to fill and compact: machine time for the volume, then passes on each lift."""
    placing = fill_cy / (dig_cy_per_hour * backfill.fill_share_of_dig)
    compacting = lifts * backfill.compact_minutes_per_lift / 60.0 * length_ft / 50.0
    return placing + compacting


def prove_hours(feet: float) -> float:
    """Return the hours to prove one run of conduit and leave a pull string in it."""
    return PROVE_SET_UP_HOURS + feet / PROVE_FT_PER_HOUR


def pull_hours(feet: float) -> float:
    """Return the hours to pull the conductors of one run."""
    return PULL_SET_UP_HOURS + feet / PULL_FT_PER_HOUR
