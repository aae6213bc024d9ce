"""Everything that a plan is charged for, each with its rate and the place of that in the site file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from scheduler.costs.counted import (
    BookingMoved,
    Comings,
    Counted,
    DaysAtWork,
    DaysStandingBy,
    DaysToFinish,
    NightsBetween,
    RenewalCalled,
    ShortOfLeast,
    StretchesByDay,
    VisitDays,
    WaitsBetweenLooks,
)
from scheduler.network.lowering import lower
from scheduler.network.model import Network, Resource, ResourceKind
from scheduler.network.normal import LookGroup
from scheduler.network.prices import Mobilisation

CENTS = 100
TENTHS = 10
"""Feet are counted in tenths."""
UNPAVED = "unpaved"
"""The id of the charge for filled trench without its pavement."""
_KEPT_AS = "_charges"


@dataclass(frozen=True, slots=True)
class Charge:
    """One thing a plan is charged for."""

    id: str
    words: str
    unit: str
    """Of its quantity, for one: 'day', 'ft night'."""
    rate: float | None
    """Dollars for one; None: the site file gives no rate, and it is left out of every sum."""
    where: str
    """The place of the rate in the site file."""
    counted: Counted
    per: int = 1
    """How many of what is counted make one of the unit."""
    is_money: bool = True
    """Whether the stage of money weighs it: the finish and the open trench have stages of their own."""

    @property
    def priced(self) -> tuple[int, Counted]:
        """Whole cents for one of something, and what: what is counted, or each stretch at its own price a night."""
        if self.rate is None:
            return 0, self.counted
        if isinstance(self.counted, NightsBetween) and self.per > 1:
            cents = CENTS * self.rate / self.per
            spans = tuple((a, b, round(cents * times)) for a, b, times in self.counted.spans)
            return int(self.rate > 0), replace(self.counted, spans=spans)
        return round(CENTS * self.rate / self.per), self.counted

    @property
    def costs(self) -> bool:
        """Whether it has a rate above nothing."""
        return self.priced[0] > 0


def charges(network: Network) -> tuple[Charge, ...]:
    """Return what plans of a network are charged for; worked out once for each network."""
    known = vars(network).get(_KEPT_AS)
    if not isinstance(known, tuple):
        makers = (_parties, _comings, _visits, _waits, _bookings, _tickets, _nights, _days)
        known = tuple(charge for made in makers for charge in made(network))
        vars(network)[_KEPT_AS] = known
    return known


def _parties(network: Network) -> Iterator[Charge]:
    """Crews and machines by the day; a machine that is rented from its delivery on is paid for by the night."""
    rented = {r.id for r in network.rentals}
    for party in network.resources:
        at_work = DaysAtWork(
            party.id,
            tuple(a.id for a in network.activities if a.work > 0 and any(r == party.id for r, _ in a.needs)),
            party.capacity,
        )
        if party.kind not in (ResourceKind.CREW, ResourceKind.MACHINE) or not at_work.activities:
            continue
        where, unit = _place(party), "machine" if party.kind is ResourceKind.MACHINE else "crew"
        if stretches := _stretches(network, at_work):
            words = f"{party.name}, setting up in a stretch, each day anew"
            counted = StretchesByDay(stretches)
            yield Charge(f"setups/{party.id}", words, "time", party.setup_cost, f"{where}: setup_cost", counted)
        if party.id in rented:
            continue
        yield Charge(
            f"days/{party.id}",
            f"{party.name}, days at work",
            f"{unit} day",
            party.day_rate,
            f"{where}: day_rate",
            at_work,
        )
        yield Charge(
            f"standing/{party.id}",
            f"{party.name}, working days on site without work",
            f"{unit} day",
            party.standing_rate,
            f"{where}: standing_rate",
            DaysStandingBy(at_work, party.stay_days),
        )


def _stretches(network: Network, party: DaysAtWork) -> tuple[DaysAtWork, ...]:
    """Return the days at work of a party in each stretch that it works in."""
    work: dict[str, list[str]] = {}
    for activity in party.activities:
        if reach := network.by_id[activity].reach:
            work.setdefault(reach, []).append(activity)
    return tuple(DaysAtWork(f"{party.party} in {reach}", tuple(ids)) for reach, ids in work.items())


def _place(party: Resource) -> str:
    """Return where a crew or a machine stands in the site file."""
    section = "equipment" if party.kind is ResourceKind.MACHINE else "trades"
    return f"{section}, {party.id.partition('/')[2]}"


def _comings(network: Network) -> Iterator[Charge]:
    for party in network.mobilisations:
        if party.activities:
            outside = party.rate_at.startswith("outside_work")
            yield Charge(
                f"comings/{party.id}",
                party.name if outside else f"{party.name}, coming to site",
                "job" if outside else "coming",
                party.cost,
                party.rate_at,
                Comings(party),
            )
            if party.crew in network.resource_by_id:
                yield from _least(network, party)


def _least(network: Network, party: Mobilisation) -> Iterator[Charge]:
    """What the days at work of a coming fall short of the least for one; days without a rate count nothing."""
    crew = network.resource_by_id[party.crew]
    id_, where = f"least/{party.id}", f"{_place(crew)}: least_per_coming"
    if party.least is None:
        words = f"{party.name}, the least that a coming is charged"
        yield Charge(id_, words, "coming", None, where, Comings(party))
        return
    days = DaysAtWork(party.id, tuple(a for a in party.activities if network.by_id[a].work > 0), crew.capacity)
    a_day = round(CENTS * (crew.day_rate or 0.0)) * crew.capacity
    short = ShortOfLeast(party, days, a_day, round(CENTS * party.least))
    if short.least > a_day:  # else the one day that a coming has at least is enough
        words = f"{party.name}, days at work short of the least for a coming"
        yield Charge(id_, words, "dollar", 1.0, where, short, CENTS)


def _visits(network: Network) -> Iterator[Charge]:
    """A fee for each day on which a person looks at anything: the highest of the inspections looked at then."""
    people: dict[str, list[LookGroup]] = {}
    for group in lower(network).look_groups:
        if group.looks:
            people.setdefault(group.person or group.record, []).append(group)
    for person, groups in people.items():
        below = 0.0
        for fee in sorted({g.price for g in groups if g.price}):
            asked = tuple(g for g in groups if g.price is not None and g.price >= fee)
            words = _called(asked) if not below else f"{_called(asked)}, more than {below:,.2f} for a visit"
            yield _visit_charge(f"visits/{person}{f'/{fee:g}' if below else ''}", words, round(fee - below, 2), asked)
            below = fee
        if unknown := tuple(g for g in groups if g.price is None):
            yield _visit_charge(f"visits/{person}/not given", _called(unknown), None, unknown)


def _waits(network: Network) -> Iterator[Charge]:
    """The hours in which a person waits between two looks; what one person looks at by one calendar counts together."""
    together: dict[tuple[str, str, float | None], list[LookGroup]] = {}
    for group in lower(network).look_groups:
        if group.looks:
            key = group.person or group.record, group.calendar, group.wait_per_hour
            together.setdefault(key, []).append(group)
    for (person, calendar, rate), groups in together.items():
        ids = tuple(g.record for g in groups)
        yield Charge(
            f"waits/{person}/{ids[0]}",
            f"{_called(tuple(groups))}, waiting on site between looks",
            "hour",
            rate,
            f"inspections, {' and '.join(ids)}: wait_cost_per_hour",
            WaitsBetweenLooks(ids, calendar),
            network.clock.ticks(hours=1),
        )


def _visit_charge(id_: str, words: str, rate: float | None, groups: tuple[LookGroup, ...]) -> Charge:
    ids = tuple(g.record for g in groups)
    return Charge(id_, words, "visit", rate, f"inspections, {' and '.join(ids)}: fee", VisitDays(ids))


def _called(groups: tuple[LookGroup, ...]) -> str:
    return groups[0].name if len(groups) == 1 else f"Visits of {groups[0].authority}"


def _bookings(network: Network) -> Iterator[Charge]:
    booked = {b.id: b for b in network.bookings}
    for booking in (booked[record] for record in lower(network).priced):
        where = f"bookings, {booking.id}: move_cost"
        words, counted = f"{booking.name}, moved", BookingMoved(booking.id)
        yield Charge(f"moved/{booking.id}", words, "move", booking.move_cost, where, counted)


def _tickets(network: Network) -> Iterator[Charge]:
    for record, bounds in lower(network).renewable.items():
        for limit in bounds[0].later:
            where = f"locate_tickets, {record}: renewal_cost"
            yield Charge(
                f"renewed/{limit.id}",
                f"Renewal of ticket {record}",
                "renewal",
                limit.price,
                where,
                RenewalCalled(limit.id),
            )


def _nights(network: Network) -> Iterator[Charge]:
    """What stands by the night: rented machines, plates, fences, open trench, fill without its surface, traffic."""
    for paid in [*(n for way in network.ways for n in way.nights), *network.rentals]:
        counted = NightsBetween(((paid.opens, paid.closes, 1),))
        yield Charge(f"nights/{paid.id or paid.opens}", paid.what, "night", paid.price, paid.rate_at, counted)
    rates = network.rates
    for id_, words, places, since, rate in (
        (UNPAVED, "Filled trench without its pavement", network.unpaved, "finish", "unpaved_per_ft_night"),
        ("open", "Open trench", network.openings, "start", "exposure_per_ft_night"),
    ):
        if spans := tuple((o.opens, o.closes, round(TENTHS * o.length_ft)) for o in places if o.length_ft > 0):
            yield Charge(
                id_,
                words,
                "ft night",
                getattr(rates, rate),
                f"site: {rate}",
                NightsBetween(spans, since),
                TENTHS,
                is_money=id_ != "open",
            )


def _days(network: Network) -> Iterator[Charge]:
    rates = network.rates
    counted = DaysToFinish(network.data_date + 1, first=True)
    where = "site: overhead_per_day"
    yield Charge("overhead", "Overhead", "day", rates.overhead_per_day, where, counted, is_money=False)
    if rates.damages_from is not None:
        late = DaysToFinish(rates.damages_from, first=False)
        where = "site: damages_per_day"
        yield Charge(
            "damages", "Damages for days after the target", "day", rates.damages_per_day, where, late, is_money=False
        )
