"""Seeded sites of any size, always valid and always possible to plan. All their data is invented.

A site is drawn as groups: a street trench of a few reaches and the branches that leave it. A line
or an outside chain never leaves its group, and the open-trench limit holds any one whole group
beside every loose stretch, so groups done one after the other are a plan; a larger site has room
for more than one group at a time, and a horizon of twice the slowest party's work.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import chain, count
from math import ceil
from random import Random
from typing import Any

from scheduler.site.site_record import Site
from tests.benchmarks.site_extras import with_closed_weeks, with_ways
from tests.benchmarks.site_parties import (
    DAYS_PER_REACH,
    PACES,
    Bottleneck,
    Record,
    calendars,
    equipment,
    inspection,
    people,
    tickets,
    trades,
)
from tests.benchmarks.site_streets import Group, Run, draw_groups, draw_reaches, marked_line


@dataclass(frozen=True, slots=True)
class Mix:
    """How often each feature is drawn: a chance per place it could appear, 0 never, 1 always."""

    branch: float = 0.6
    drive: float = 0.15
    water: float = 0.8
    gas: float = 0.35
    communications: float = 0.8
    test: float = 0.5
    pole: float = 0.4
    existing: float = 0.2
    wet: float = 0.05
    cure: float = 0.2
    stub: float = 0.1
    conductors: float = 0.2
    offered: float = 0.3
    helpers: float = 0.5
    witness: float = 0.3
    open_trench_look: float = 0.5
    shaded_look: float = 0.5
    compaction: float = 0.5
    final_look: float = 0.5
    booking: float = 0.5
    visit_booking: float = 0.0
    rain: float = 0.5
    second_ticket: float = 0.5
    count_limit: float = 0.3


_WEDNESDAY = 2
_CONDUIT: Record = {"material": "pvc40", "size_in": 1.0, "use": "feeder", "cover_in": 30.0}
_PIPE: Record = {"material": "pe", "size_in": 1.0, "use": "main", "tracer_wire_awg": 14}
_LINES: dict[str, Record] = {
    "power": _CONDUIT | {"trade": "electrician", "voltage_v": 240.0, "offset_in": -16.0},
    "communications": _CONDUIT | {"trade": "data-crew", "count": 2, "offset_in": 3.0},
    "water": _PIPE | {"trade": "plumber", "offset_in": 20.0, "cover_in": 42.0},
    "gas": _PIPE | {"trade": "gas-fitter", "offset_in": 18.0, "cover_in": 18.0},
}


def make_site(reaches: int, seed: int, bottleneck: Bottleneck = "excavator") -> Site:
    """Return a valid site of that many reaches (3 to 500) on which `bottleneck` binds the finish.

    The same arguments always give the same site. Raises ValueError outside 3 to 500 reaches.
    """
    if not 3 <= reaches <= 500:
        raise ValueError(f"expected 3 to 500 reaches, found {reaches}")
    return _Drawing(Random(f"{seed}/{reaches}/{bottleneck}"), Mix(), bottleneck, reaches).site()


def random_small_site(rng: Random, most: int = 6) -> Site:
    """Return a valid site of 2 to `most` reaches with each feature drawn as absent, occasional or always."""
    chances = {name: rng.choice((0.0, 0.5, 1.0)) for name in Mix.__slots__}
    bottleneck = rng.choice(sorted(PACES))
    site = _Drawing(rng, Mix(**chances), bottleneck, rng.randint(2, most)).site()
    return with_ways(rng, with_closed_weeks(rng, site))


class _Drawing:
    """One site in the making: plain records in the shape of a site file."""

    def __init__(self, rng: Random, mix: Mix, bottleneck: Bottleneck, reaches: int) -> None:
        self.rng, self.mix, self.pace = rng, mix, PACES[bottleneck]
        self.bottleneck, self.count = bottleneck, reaches
        self.horizon_days = min(2000, 120 + ceil(reaches * DAYS_PER_REACH))
        self.first_day = date(2027, 3, 1) + timedelta(days=7 * rng.randrange(12))
        self.lines: list[Record] = []
        self.structures: list[Record] = []
        self.keep_open: list[Record] = []
        self.outside: list[Record] = []
        self.bookings: list[Record] = []

    def _chance(self, share: float) -> bool:
        return self.rng.random() < share

    def site(self) -> Site:
        groups = draw_groups(self.rng, reaches=self.count, branch_share=self.mix.branch)
        runs = list(chain.from_iterable(groups))
        shares = {"drive_share": self.mix.drive, "wet_share": self.mix.wet}
        ground = [reach for run in runs for reach in draw_reaches(self.rng, run, **shares)]
        marked = [marked_line(self.rng, reach) for reach in ground if self._chance(self.mix.existing)]
        for number, group in enumerate(groups):
            self._add_group(group, start_day=10 + ceil(0.1 * self.horizon_days * number / len(groups)))
        if self._chance(self.mix.visit_booking):
            self._book_visit(ground[0])
        return Site.model_validate(
            {
                "site": self._job(),
                "people": people(),
                "calendars": calendars(self.rng, self.pace, self.first_day),
                "alignments": [run.alignment() for run in runs],
                "reaches": ground,
                "existing": marked,
                "lines": self.lines,
                "structures": self.structures,
                "keep_open": self.keep_open,
                "trades": trades(self.pace),
                "equipment": equipment(self.pace, helpers=self._chance(self.mix.helpers)),
                "locate_tickets": self._tickets(groups),
                "inspections": self._inspections(groups[0]),
                "outside_work": self.outside,
                "bookings": self.bookings,
                "limits": self._limits(groups),
                "backfill": {
                    "hand_shade_cy_per_hour": self.pace.hand_cy_per_hour,
                    "compaction_test": self._chance(self.mix.compaction),
                    "lift_in": self.rng.choice((8, 10, 12)),
                },
            }
        )

    def _job(self) -> Record:
        return {
            "name": f"Generated site of {self.count} reaches, short of {self.bottleneck}",
            "first_day": self.first_day,
            "horizon_days": self.horizon_days,
            "frost_depth_in": 30,
            "overhead_per_day": self.rng.choice((200, 400, 600)),
            "exposure_per_ft_night": self.rng.choice((0.5, 1, 2)),
            "general_trade": "site-crew",
            "invented": True,
        }

    def _add_group(self, group: Group, *, start_day: int) -> None:
        """Add the lines along every run of a group, a pull box, and sometimes a service to a pole.

        `start_day` is when appointments for the group may begin, in days from the first day.
        """
        mix, street = self.mix, group[0]
        for run in group:
            shares = (("power", 1.0), ("water", mix.water), ("communications", mix.communications), ("gas", mix.gas))
            for kind, share in shares:
                if self._chance(share):
                    self._add_line(kind, f"{kind.capitalize()} along {run.name}", f"{run.id}-{kind}", [run.stretch()])
        if street.length_ft > 60:
            box = {"id": f"{street.id}-box", "kind": "pull_box", "name": f"Pull box on {street.name}"}
            where = {"alignment": street.id, "station": street.ends[1]}
            self.structures.append(
                box | where | {"size_in": [17, 30], "trade": "electrician", "lines": [f"{street.id}-power"]}
            )
        if self._chance(mix.pole):
            service = self._add_pole(street, group[-1])
            self._add_chain(street, service, start_day=start_day)

    def _add_line(self, kind: str, name: str, line_id: str, route: Sequence[Record], **more: Any) -> None:
        line = _LINES[kind] | {"id": line_id, "name": name, "kind": kind, "route": list(route)} | more
        pipe = kind in ("water", "gas")
        if self._chance(self.mix.test):
            hold_hours = self.rng.choice((0.25, 1, 24)) if pipe else 0
            line["test"] = {"kind": "pressure" if pipe else "mandrel", "hold_hours": hold_hours}
        line["joint_cure_hours"] = self.rng.choice((1, 4, 16)) if pipe and self._chance(self.mix.cure) else 0
        if self._chance(self.mix.stub):
            line["stub"] = True
        elif kind == "power" and self._chance(self.mix.conductors):
            line["conductors"] = [{"count": 3, "size": "8"}]
        self.lines.append(line)

    def _add_pole(self, street: Run, last: Run) -> str:
        """Add a service to a pole at the end of `last` with its loose stretch; return the line's id."""
        route = [last.stretch()]
        if last.leaves and last.leaves[1] > 0:
            route.insert(0, street.stretch(last.leaves[1]))
        service, riser, end = f"{street.id}-service", f"{street.id}-riser", last.length_ft
        more: Record = {"use": "service", "size_in": 2.0, "offset_in": -20.0}
        self._add_line("power", f"Power service of {street.name}", service, route, **more)
        at = {"alignment": last.id, "station": end, "trade": "electrician", "lines": [service]}
        plastic = {"riser_material": "pvc80", "riser_height_ft": 10, "exposed": True, "slip_joint": True}
        self.structures.append(
            at | plastic | {"id": riser, "kind": "riser", "name": f"Riser at the end of {last.name}"}
        )
        self.keep_open.append(
            {
                "id": f"{street.id}-loose",
                "alignment": last.id,
                "from": end - self.rng.choice((6, 8)),
                "to": end,
                "until": f"{street.id}-tie_in",
                "because": "The utility ties in here before it is covered.",
                "released_by": "utility-rep",
                "structure": riser,
            }
        )
        return service

    def _add_chain(self, street: Run, service: str, *, start_day: int) -> None:
        """Add set pole, tie-in, energise and cutover, sometimes with the first two booked."""
        state = self.rng.choice(("laid", "inspected", "covered"))
        steps: tuple[tuple[str, str, Record], ...] = (
            ("set_pole", "Set the pole", {"hours": 4, "lines_state": "none"}),
            ("tie_in", "Tie in", {"hours": 4, "lines": [service], "lines_state": state, "notice_days": 3}),
            ("energise", "Energise", {"hours": 1}),
            ("cutover", "Cut over", {"hours": 2, "outage": True} | self._cutover_times()),
        )
        after: list[str] = []
        for kind, verb, more in steps:
            work = {"id": f"{street.id}-{kind}", "name": f"{verb} for {street.name}", "kind": kind, "after": after}
            self.outside.append(work | {"by": "Valley Power", "calendar": "utility-week"} | more)
            after = [f"{street.id}-{kind}"]
        if self._chance(self.mix.booking):
            self._add_bookings(street, start_day)

    def _cutover_times(self) -> Record:
        """Draw when service may be off: in agreed hours, or at one offered start a week to the horizon."""
        if not self._chance(self.mix.offered):
            return {"calendar": "outage-hours", "trade": self.rng.choice((None, "electrician"))}
        weeks = range((self.horizon_days - 20) // 7)
        return {"calendar": "outage-hours", "offered": [self._wednesday(9 + 7 * week, hour=9) for week in weeks]}

    def _wednesday(self, day: int, *, hour: int) -> datetime:
        """Return an hour of the first Wednesday from a day of the job; no public holiday falls on one till 2029."""
        first = next(n for n in count(day) if (self.first_day + timedelta(days=n)).weekday() == _WEDNESDAY)
        return datetime.combine(self.first_day + timedelta(days=first), time(hour))

    def _book_visit(self, reach: Record) -> None:
        """Book the inspector for the lines of one reach, which may have to wait for it."""
        record = {"id": "visit-date", "of": "laid", "reaches": [reach["id"]], "firm": self._chance(0.5)}
        self.bookings.append(record | {"start": self._wednesday(21, hour=9)})

    def _add_bookings(self, street: Run, start_day: int) -> None:
        """Book the pole, sometimes firmly, and the tie-in two weeks later, softly.

        Beyond any notice, so that a soft date can move, and no two firm ones on one day, which
        the utility's one crew could not keep.
        """
        start = self._wednesday(start_day, hour=8)
        taken = {booking["start"] for booking in self.bookings if booking["firm"]}
        firm = start not in taken and self._chance(0.5)
        for kind, days_later, fixed in (("set_pole", 0, firm), ("tie_in", 14, False)):
            record = {"id": f"{street.id}-{kind}-date", "of": f"{street.id}-{kind}", "firm": fixed, "move_cost": 250}
            self.bookings.append(record | {"start": start + timedelta(days=days_later)})

    def _tickets(self, groups: Sequence[Group]) -> list[Record]:
        ids = [[run.id for run in group] for group in groups]
        half = len(ids) // 2 if self._chance(self.mix.second_ticket) else 0
        parts = [list(chain.from_iterable(part)) for part in (ids[:half], ids[half:]) if part]
        return tickets(parts, self.first_day, self.horizon_days)

    def _inspections(self, first: Group) -> list[Record]:
        mix, looks = self.mix, self.pace.looks_per_visit
        out = [inspection("laid", "Lines before cover", "lines_laid", looks, kinds=["power"], pass_valid_days=60)]
        tested = sorted({line["kind"] for line in self.lines if line.get("test", {}).get("kind") == "pressure"})
        if tested:
            out.append(inspection("pressure", "Pressure test", "pressure_test", looks, kinds=tested))
        if self._chance(mix.open_trench_look):
            where = [run.id for run in first]
            out.append(inspection("bottom", "Trench bottom", "open_trench", 8, alignments=where))
        if self._chance(mix.shaded_look):
            out.append(inspection("shading", "Shading", "shaded", 8, kinds=["power"], feet_per_visit=400))
        if self._chance(mix.final_look):
            services = [line["id"] for line in self.lines if line["use"] == "service"] or [self.lines[0]["id"]]
            out.append(inspection("final", "Final inspection", "final", 8, lines=services[:4]))
        if self._chance(mix.compaction):
            out.append(inspection("density", "Compaction", "compaction", 6))
        return [record | {"hold": "witness" if self._chance(mix.witness) else "hold"} for record in out]

    def _limits(self, groups: Sequence[Group]) -> Record:
        loose_ft = 10 * len(self.keep_open)
        longest_ft = max(sum(run.length_ft for run in group) for group in groups)
        share = self.rng.choice((1.0, 1.25, 1.5) if len(groups) < 3 else (1.5, 2.0, 3.0))
        limits: Record = {"open_trench_ft": ceil(longest_ft * share) + loose_ft}
        if self._chance(self.mix.count_limit):
            most = max(sum(len(run.ends) - 1 for run in group) for group in groups)
            limits["reaches_open"] = most + 2 * len(self.keep_open) + self.rng.randrange(2)
        if self._chance(self.mix.rain):
            booked = {booking["start"].date() for booking in self.bookings if booking["firm"]}  # none come in the rain
            days = {self.first_day + timedelta(days=self.rng.randrange(3, 40)) for _ in range(3)}
            limits["rain_days"] = sorted(days - booked)
        return limits
