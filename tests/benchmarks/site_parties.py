"""Who works when on a generated site: people, calendars, trades, machines, tickets, inspections."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from math import ceil
from random import Random
from typing import Any, Literal

Bottleneck = Literal["excavator", "labour", "trade", "inspector"]
DAYS_PER_REACH = 3.6
"""Calendar days of the horizon for each reach: about twice what the slowest party needs."""

Record = dict[str, Any]
"""One record of a site file, before it is checked."""


@dataclass(frozen=True, slots=True)
class Pace:
    """How fast each party works; the slowest one binds the finish."""

    crews: int = 3
    cycle_s: float = 20.0
    bucket_cy: float = 0.35
    hand_cy_per_hour: float = 6.0
    feet_per_hour: float = 80.0
    power_feet_per_hour: float = 80.0
    trade_crews: int = 2
    looks_per_visit: int = 8
    look_windows: str = "mon-fri 08:00-14:00"


PACES: dict[Bottleneck, Pace] = {
    "excavator": Pace(cycle_s=60.0, bucket_cy=0.15),
    "labour": Pace(crews=1, hand_cy_per_hour=2.5),
    "trade": Pace(trade_crews=1, power_feet_per_hour=10.0),
    "inspector": Pace(looks_per_visit=3, look_windows="mon,wed,fri 09:00-11:00"),
}


def people() -> list[Record]:
    """Return the named people, releasers and a deputy among them."""
    return [
        {"id": "contractor", "name": "Invented Contractor", "role": "general_contractor"},
        {"id": "inspector", "name": "Invented Inspector", "role": "inspector"},
        {"id": "inspector-2", "name": "Invented Deputy", "role": "inspector", "deputy_of": "inspector"},
        {"id": "utility-rep", "name": "Invented Utility Contact", "role": "utility"},
    ]


def calendars(rng: Random, pace: Pace, first_day: date) -> list[Record]:
    """Return the calendars; trades draw different weeks, and the pipe crews two days off."""
    weeks = ("mon-fri 07:00-15:30", "mon-thu 07:00-16:30", "tue-sat 07:00-15:30", "mon-fri 08:00-16:00")
    off = sorted({first_day + timedelta(days=rng.randrange(10, 60)) for _ in range(2)})
    weekly = (
        ("site-hours", "Site hours", weeks[0]),
        ("power-hours", "Electrician's hours", rng.choice(weeks)),
        ("pipe-hours", "Pipe crews' hours", rng.choice(weeks)),
        ("visit-hours", "Trades inspector's hours", pace.look_windows),
        ("building-mornings", "Building inspector's mornings", "mon,wed,fri 08:00-12:00"),
        ("utility-week", "Utility crew's week", "mon-thu 08:00-16:00"),
        ("outage-hours", "Agreed outage hours", "tue-thu 09:00-13:00"),
    )
    records: list[Record] = [{"id": id_, "name": name, "weekly": [week]} for id_, name, week in weekly]
    records[2]["closed"] = off
    records[-1]["holidays"] = False  # so that a start offered each week is never closed
    return records


def trades(pace: Pace) -> list[Record]:
    """Return the site crew and the four trades."""
    feet = pace.feet_per_hour
    crew = {"id": "site-crew", "name": "Site crew", "own": True, "crews": pace.crews, "calendar": "site-hours"}
    return [
        crew | {"day_rate": 1400},
        _trade("electrician", "Electrician", "power-hours", pace.trade_crews, "power", pace.power_feet_per_hour),
        _trade("plumber", "Plumber", "pipe-hours", pace.trade_crews, "water", feet),
        _trade("gas-fitter", "Gas fitter", "pipe-hours", 1, "gas", feet),
        _trade("data-crew", "Communications crew", "site-hours", pace.trade_crews, "communications", feet),
    ]


def _trade(id_: str, name: str, calendar: str, crews: int, kind: str, feet_per_hour: float) -> Record:
    lays = [{"kind": kind, "feet_per_hour": feet_per_hour}]
    cost = {"day_rate": 1100, "mobilisation_cost": 240, "notice_days": 2}
    return {"id": id_, "name": name, "calendar": calendar, "crews": crews, "lays": lays} | cost


def equipment(pace: Pace, *, helpers: bool) -> list[Record]:
    """Return one excavator, which digs and fills, two compactors, and the helper machines if asked for."""
    ours = {"calendar": "site-hours", "trade": "site-crew"}
    excavator = {"id": "excavator", "name": "Excavator", "kind": "excavator", "bucket_width_in": 36, "day_rate": 380}
    plate = {"id": "plate", "name": "Plate compactor", "kind": "compactor", "count": 2, "day_rate": 70}
    machines = [ours | excavator | {"bucket_cy": pace.bucket_cy, "cycle_s": pace.cycle_s}, ours | plate]
    if helpers:
        rented = (("saw", "Pavement saw"), ("vacuum", "Vacuum truck"), ("lift", "Lifting machine"))
        machines += [ours | {"id": kind, "name": name, "kind": kind, "day_rate": 250} for kind, name in rented]
    return machines


def tickets(parts: Sequence[Sequence[str]], first_day: date, horizon_days: int) -> list[Record]:
    """Return one locate ticket for each part of the site, a week apart, with renewals to the horizon."""
    called = datetime.combine(first_day - timedelta(days=4), time(10))
    life = min(365, max(28, ceil(horizon_days / 16)))
    return [
        {
            "id": f"ticket-{number + 1}",
            "called": called + timedelta(days=7 * number),
            "life_days": life,
            "renewals": 24,
            "renewal_cost": 40,
            "alignments": list(part),
        }
        for number, part in enumerate(parts)
    ]


def inspection(id_: str, name: str, stage: str, looks_per_visit: int, **more: Any) -> Record:
    """Return an inspection: building department for what it sees of the trench, else the trades inspector."""
    building = stage in ("open_trench", "shaded", "final")
    return {
        "id": id_,
        "name": name,
        "stage": stage,
        "authority": "Valley Building Department" if building else "Valley Trades Inspection",
        "calendar": "building-mornings" if building else "visit-hours",
        "looks_per_visit": looks_per_visit,
        "fee": 90,
        "reinspection_fee": 130,
        "released_by": "inspector",
    } | more
