"""How each family of rules becomes rules of the four kinds: the one place where that is said.

The meaning of a family stands in words in `model`; the audit reads those. Here the same is said
in date bounds, links, uses of capacities and groups of looks (`normal`), for all who plan,
bound or explain. A family that is missing here is no rule for them, so a test compares
`LOWERED` and `NO_RULE` with the fields of `Network`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import replace
from itertools import takewhile

from scheduler.network.model import Activity, Link, LinkType, Network
from scheduler.network.normal import Capacity, DateBound, LaterLimit, LookGroup, LoweredRule, NormalForm, Use
from scheduler.units import format_counted

_KEPT_AS = "_lowered"


def lower(network: Network) -> NormalForm:
    """Return a network's rules in their four kinds; worked out once for each network."""
    known = vars(network).get(_KEPT_AS)
    if not isinstance(known, NormalForm):
        rules = [rule for lowered in LOWERED.values() for rule in lowered(network)]
        known = NormalForm(
            tuple(r for r in rules if isinstance(r, DateBound)),
            tuple(r for r in rules if isinstance(r, Link)),
            tuple(r for r in rules if isinstance(r, Capacity)),
            tuple(r for r in rules if isinstance(r, LookGroup)),
        )
        vars(network)[_KEPT_AS] = known
    return known


def among(network: Network, kept: AbstractSet[str]) -> Network:
    """Return what is left of a network without the other activities: each rule asks no more than it did.

    Only what `lower` gives, and its activities and openings, speak of those kept; its other fields are as they were.
    """
    openings = tuple(o for o in network.openings if {o.opens, o.closes} <= kept)
    part = replace(network, activities=tuple(a for a in network.activities if a.id in kept), openings=openings)
    vars(part)[_KEPT_AS] = lower(network).among(kept)
    return part


def without_target(network: Network, activities: tuple[Activity, ...]) -> Network:
    """Return the network without its target, its activities in other words: the other rules are not lowered anew.

    `activities` may differ from the network's in what no rule looks at, such as being kept in one window.
    """
    job, normal = replace(network, target=None, activities=activities), lower(network)
    bounds = tuple(b for b in normal.bounds if b.family != "target")
    vars(job)[_KEPT_AS] = normal if network.target is None else replace(normal, bounds=bounds)
    return job


def _links(network: Network) -> Iterator[Link]:
    yield from network.links


def _holds(network: Network) -> Iterator[Link]:
    """What a hold point gates waits for the look that releases it."""
    for hold in network.holds:
        for gate in hold.gates:
            yield Link(
                f"{hold.id}/{gate}",
                hold.look,
                gate,
                because=hold.because,
                source=hold.source,
                family="holds",
                record=hold.id,
            )


def _dates(network: Network) -> Iterator[DateBound]:
    for rule in network.dates:
        said = "dates", rule.id, rule.because, rule.source
        yield DateBound(rule.activity, rule.at, rule.edge, rule.sense, *said, role=rule.role)


def _tickets(network: Network) -> Iterator[DateBound]:
    """Digs start when the ticket is clear and finish by its expiry, put off by renewals that can be called in time."""
    for ticket in network.tickets:
        in_time = takewhile(lambda renewal: renewal.call_by >= network.data_date, ticket.renewals)
        later = tuple(LaterLimit(r.id, r.expiry, ticket.renewal_cost) for r in in_time)
        said = "tickets", ticket.id, ticket.because, ticket.source
        for dig in ticket.digs:
            yield DateBound(dig, ticket.clear, "start", "min", *said)
            yield DateBound(dig, ticket.expiry, "finish", "max", *said, later)


def _bookings(network: Network) -> Iterator[DateBound]:
    """What is booked starts inside its appointment; out of a soft one it may be moved at its cost."""
    for booking in network.bookings:
        price = None if booking.firm else booking.move_cost or 0.0
        said = "bookings", booking.id, booking.because, booking.source
        for activity in booking.activities:
            yield DateBound(activity, booking.at, "start", "min", *said, price=price)
            yield DateBound(activity, booking.until - 1, "start", "max", *said, price=price)


def _target(network: Network) -> Iterator[DateBound]:
    """Everything finishes by the target."""
    if (target := network.target) is not None:
        for a in network.activities:
            yield DateBound(a.id, target.at, "finish", "max", "target", target.id, target.because, target.source)


def _resources(network: Network) -> Iterator[Capacity]:
    """Work holds what it needs from its start to its finish."""
    held: dict[str, dict[str, int]] = {r.id: {} for r in network.resources}
    for activity in network.activities:
        for resource, units in activity.needs:
            if units > 0 and activity.work > 0:
                held[resource][activity.id] = held[resource].get(activity.id, 0) + units
    for r in network.resources:
        uses = tuple(Use(a, a, units) for a, units in held[r.id].items())
        because = r.because or f"{r.name}: {r.capacity} at once"
        yield Capacity("resources", r.id, r.capacity, uses, f"all the work of {r.name}", because, r.source)


def _spaces(network: Network) -> Iterator[Capacity]:
    """A space has one unit, which all work of one group shares."""
    for s in network.spaces:
        uses = tuple(Use(a, a, shared=group) for a, group in s.occupants if network.by_id[a].work > 0)
        if uses:
            words = f"one trade at a time in {f'reach {s.reach}' if s.reach else s.where or s.id}"
            yield Capacity("spaces", s.id, 1, uses, words, s.because, s.source)


def _open_limits(network: Network) -> Iterator[Capacity]:
    """A stretch takes its feet (or counts as one) from the start of what opens it to the finish of what closes it."""
    for limit in network.open_limits:
        amounts = dict(limit.amounts)
        uses = tuple(
            Use(o.opens, o.closes, amounts[o.id], name=o.id) for o in network.openings if amounts.get(o.id, 0) > 0
        )
        if uses:
            words = limit.because or f"no more than {format_counted(limit.capacity, limit.unit)} open at once"
            yield Capacity("open_limits", limit.id, limit.capacity, uses, words, limit.because, limit.source)


def _kept_shut(network: Network) -> Iterator[Link]:
    """What opens a stretch starts, and what closes it finishes, with no tick between in which it may not stand open.

    What closes it cannot itself be at work at such a time, so one tick of lag is never taken.
    """
    for shut in network.kept_shut:
        since = shut.covers if network.by_id[shut.opens].happened else shut.opens
        if since and not network.by_id[since].happened:
            yield Link(
                shut.id,
                since,
                shut.closes,
                LinkType.SF,
                lag=1,
                lag_calendar=shut.times,
                at_most=True,
                because=shut.because,
                source=shut.source,
                family="kept_shut",
                record=shut.id,
            )


def _kept_behind(network: Network) -> Iterator[Link]:
    """What follows along a stretch starts, and finishes, so much after what goes before, by the pace of each.

    Where its hours are not within those of what goes before it starts when that has finished: in hours in which the
    other does not get on, it could come too near.
    """
    for rule in network.kept_behind:
        before, after = network.by_id[rule.before], network.by_id[rule.after]
        said = rule.because, rule.source, "kept_behind", rule.id
        if not network.calendars[after.calendar].within(network.calendars[before.calendar]):
            yield Link(rule.id, before.id, after.id, LinkType.FS, 0, None, False, *said)
            continue
        starts, finishes = rule.lags(before.work, after.work)
        yield Link(f"{rule.id}/start", before.id, after.id, LinkType.SS, starts, before.calendar, False, *said)
        yield Link(f"{rule.id}/finish", before.id, after.id, LinkType.FF, finishes, after.calendar, False, *said)


def _visit_rules(network: Network) -> Iterator[LookGroup]:
    for v in network.visit_rules:
        yield LookGroup(
            "visit_rules",
            v.id,
            v.name,
            v.authority,
            v.calendar,
            v.looks,
            v.look_ft,
            v.max_looks,
            v.max_ft,
            v.fee,
            v.because,
            v.source,
            v.wait_cost_per_hour,
            v.person,
        )


LOWERED: Mapping[str, Callable[[Network], Iterator[LoweredRule]]] = {
    "links": _links,
    "holds": _holds,
    "dates": _dates,
    "tickets": _tickets,
    "bookings": _bookings,
    "target": _target,
    "resources": _resources,
    "spaces": _spaces,
    "open_limits": _open_limits,
    "kept_shut": _kept_shut,
    "kept_behind": _kept_behind,
    "visit_rules": _visit_rules,
}
"""By field of the network, what yields its rules."""

NO_RULE: Mapping[str, str] = {
    "name": "What people call the job.",
    "clock": "What a tick is.",
    "data_date": "Bounds every start: where the axis begins.",
    "horizon": "Bounds every finish: where the axis ends.",
    "calendars": "The hours in which each activity may stand, whatever the rules.",
    "activities": "What the rules speak of. What work needs is a use of its resources.",
    "openings": "What the exposure counts, and what limits on open trench limit.",
    "mobilisations": "A price for the goals.",
    "rentals": "A price for the goals.",
    "unpaved": "A price for the goals.",
    "ways": "A price for the goals, and what is told of the nights.",
    "rates": "A price for the goals.",
    "lying": "What lies where, of which design: what a look or a release is compared with. It binds no date.",
    "notes": "What no rule can hold, told with every plan.",
    "margin_percent": "What the work of its activities holds already.",
}
"""The other fields of a network, and what they are."""
