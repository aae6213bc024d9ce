"""How people name each family of a network's rules, what they may agree on, and the network without some of them.

One entry a family in `FAMILIES`. What a rule says of dates is not decided here but in `network.lowering`.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any

from scheduler.network.kind import Kind
from scheduler.network.model import Activity, DateRole, DateRule, Link, Network, ResourceKind
from scheduler.network.normal import Capacity, DateBound, Use
from scheduler.units import format_counted, format_feet
from scheduler.worktime.calendar import Calendar

GIVEN: Mapping[str, str] = {
    "order": "The work can only be done in this order.",
    "hold": "What must be seen before it is covered must be seen.",
    "outside order": "Others can only come when what they need is there.",
    "junction": "A joint that is covered cannot be made, seen or tested.",
    "behind": "Nobody is in the swing of a machine that digs, nor lays on a bed that is not there.",
    "space": "Two trades in one trench, or people beside a machine at work, get hurt.",
}
"""Kinds of rules that say how the work must go, and why nobody can agree them away."""

NEVER_SHORTER: Mapping[str, str] = {"wait": "A test is held, and what cures cures, for as long as it takes."}
"""Kinds that may be part of a conflict and that nobody can agree away either."""

AGREED: Mapping[str, str] = {
    "notice": "Ask to be served at shorter notice",
    "keep open": "Agree to cover sooner or to keep less open",
    "closed weeks": "Agree to leave trench open then, fenced and watched (`limits.closed_days_open`)",
    "season": "Agree that trench stands open on those days, or other days (`seasons`)",
    "date": "Agree another date",
}
"""Kinds that may simply be left out when whoever asked for them agrees, and how that is said."""

KINDS = (
    *GIVEN,
    "wait",
    "whole test",
    "visit",
    "open limit",
    "closed weeks",
    "season",
    "way",
    "resource",
    "hours",
    "notice",
    "pass",
    "keep open",
    "ticket",
    "date",
    "booking",
    "target",
)
"""All kinds of rules, those last that are the easiest to talk about."""


@dataclass(frozen=True, slots=True)
class RecordRef:
    """One record of a network that can be left out; `part` where it says two things, such as a ticket."""

    family: str
    id: str
    part: str = ""


@dataclass(frozen=True, slots=True)
class Told:
    """What people call one record: its kind (one of KINDS), its sentence, and the reach where it stands for one."""

    kind: str
    because: str
    record: RecordRef
    ref: str
    reach: str = ""


@dataclass(frozen=True, slots=True)
class Waiting:
    """One use of a capacity that waits for another to be over."""

    network: Network
    capacity: Capacity
    before: Use
    after: Use

    @property
    def since(self) -> str:
        """The name of the activity that ends the use waited for, in quotes."""
        return f'"{self.network.by_id[self.before.last].name}"'


@dataclass(frozen=True, slots=True)
class Family:
    """How one family of rules is told, and what its field of the network is without some records."""

    kinds: tuple[str, ...]
    told: Callable[[Network], Iterator[Told]]
    without: Callable[[Network, Collection[RecordRef]], Any]
    waits: Callable[[Waiting], tuple[str, str]] | None = None
    """For a capacity: the kind of reason, and the sentence, for which one use waits for another."""
    not_before: Callable[[Network, DateBound], tuple[str, str]] | None = None
    """For a date bound: the kind of reason, and the sentence, for which an activity is no earlier."""


def waits_for(waiting: Waiting) -> tuple[str, str]:
    """Return why one use of a capacity waits for another: the kind of reason and its sentence."""
    capacity = waiting.capacity
    family = FAMILIES[capacity.family]
    if family.waits is not None:
        return family.waits(waiting)
    because = capacity.because.rstrip(".") or f"There is no more of it: {capacity.words}"
    return family.kinds[0], f"{because}; waits for {waiting.since}."


def not_before(network: Network, bound: DateBound) -> tuple[str, str] | None:
    """Return why an activity is no earlier than a bound, where its family has words of its own for that."""
    words = FAMILIES[bound.family].not_before
    return None if words is None else words(network, bound)


def _ids(gone: Collection[RecordRef], family: str, part: str = "") -> set[str]:
    return {record.id for record in gone if record.family == family and record.part == part}


def _without(field: str, freed: Callable[[Network, Any], Any] | None = None) -> Callable[..., Any]:
    """Return a function that gives a family's records without some of them.

    Where other records refer to these, `freed` gives what takes their place: the same record, asking for nothing.
    """

    def without(network: Network, gone: Collection[RecordRef]) -> Any:
        ids, records = _ids(gone, field), getattr(network, field)
        if freed is None:
            return tuple(r for r in records if r.id not in ids)
        return tuple(freed(network, r) if r.id in ids else r for r in records)

    return without


def _links(network: Network) -> Iterator[Told]:
    for link in network.links:
        kind, because, reach = _link(network, link)
        yield Told(kind, because, RecordRef("links", link.id), f"order/{reach}" if kind == "order" else link.id, reach)


def _link(network: Network, link: Link) -> tuple[str, str, str]:
    """Return the kind of rule a link is, its sentence, and the reach it belongs to."""
    before, after = network.by_id[link.before], network.by_id[link.after]
    if link.at_most:
        seen = next((f'"{v.name}": ' for v in network.visit_rules if link.before in v.looks), "")
        return "pass", seen + (link.because or f"{after.name} follows soon after {before.name}."), ""
    if before.kind.is_outside_work and after.kind.covers:
        return "keep open", link.because or f"{after.name} waits for {before.name}.", ""
    if after.kind.is_outside_work:
        return "outside order", f'What "{after.name}" waits for.', ""
    if before.kind is Kind.TEST and not before.reach and after.kind.buries:
        return "whole test", link.because or f"{after.name} waits for {before.name}.", ""
    if _joins(before, after):
        return "junction", link.because or f"{after.name} waits for {before.name}.", ""
    if link.lag > 0:
        return "wait", link.because or f"{after.name} waits after {before.name}.", ""
    return "order", "The order of work in the trench.", after.reach or before.reach


def _joins(before: Activity, after: Activity) -> bool:
    """Tell whether a link holds a joint between two stretches of trench open until it is made, tested and seen."""
    apart = bool(before.reach and after.reach) and before.reach != after.reach
    return (after.kind is Kind.JOIN and before.kind is Kind.LAY and apart) or (after.kind.buries and apart)


def _holds(network: Network) -> Iterator[Told]:
    for hold in network.holds:
        rule = next((v for v in network.visit_rules if hold.look in v.looks), None)
        opened = network.by_id[hold.look].kind.is_outside_work
        because = f'Work waits until "{rule.name}" has passed.' if rule else hold.because or hold.name
        kind, ref = "keep open" if opened else "hold", rule.id if rule else hold.id
        yield Told(kind, because, RecordRef("holds", hold.id), ref)


def _dates(network: Network) -> Iterator[Told]:
    for date in network.dates:
        if date.role is not DateRole.AS_OF:
            yield Told(*_date(network, date), RecordRef("dates", date.id), date.id)


def _date(network: Network, date: DateRule) -> tuple[str, str]:
    if date.sense == "min" and date.role.is_notice:
        return "notice", date.because
    sense = {"min": "not before", "max": "not after", "fixed": "exactly"}[date.sense]
    words = f"{network.by_id[date.activity].name} {date.edge}s {sense} {network.clock.spoken(date.at)}."
    return "date", date.because or words


def _hours(network: Network) -> Iterator[Told]:
    worked = {a.calendar for a in network.activities if a.work > 0 and not a.happened}
    for c in network.calendars.values():
        if c.id in worked:
            yield Told("hours", f"Working hours: {c.name}.", RecordRef("calendars", c.id), c.id)


def _any_hours(network: Network, gone: Collection[RecordRef]) -> dict[str, Calendar]:
    ids, always = _ids(gone, "calendars"), ((0, network.horizon),)
    return {
        c.id: Calendar(c.id, f"{c.name} (any hour)", always) if c.id in ids else c for c in network.calendars.values()
    }


def _resources(network: Network) -> Iterator[Told]:
    for r in network.resources:
        because = f"{r.name}: {r.because or f'{r.capacity} at once.'}"
        yield Told("resource", because, RecordRef("resources", r.id), r.id)


def _all_at_once(network: Network, resource: str) -> int:
    return max(1, sum(units for a in network.activities for r, units in a.needs if r == resource))


def _resource_waits(waiting: Waiting) -> tuple[str, str]:
    resource = waiting.network.resource_by_id[waiting.capacity.record]
    does = "looking at" if resource.kind is ResourceKind.INSPECTOR else "busy with"
    return resource.kind.value, f"Waits for {resource.name}, {does} {waiting.since}."


def _spaces(network: Network) -> Iterator[Told]:
    for s in network.spaces:
        yield Told("space", s.because or "One trade at a time.", RecordRef("spaces", s.id), s.id, s.reach)


def _space_waits(waiting: Waiting) -> tuple[str, str]:
    machine = "machine" in (waiting.before.shared, waiting.after.shared)
    rule = "Nobody works within reach of the machine" if machine else "One trade at a time in the trench"
    return "space", f"{rule}; waits for {waiting.since}."


def _open_limits(network: Network) -> Iterator[Told]:
    for o in network.open_limits:
        because = o.because or f"At most {format_counted(o.capacity, o.unit)} open."
        yield Told("open limit", because, RecordRef("open_limits", o.id), o.id)


def _open_waits(waiting: Waiting) -> tuple[str, str]:
    limit = next(o for o in waiting.network.open_limits if o.id == waiting.capacity.record)
    size = (
        f"{limit.capacity} stretches"
        if limit.unit == "reaches"
        else f"{format_counted(limit.capacity, limit.unit)} of trench"
    )
    return "open limit", f"No more than {size} may stand open; waits for {waiting.since}."


def _kept_shut(network: Network) -> Iterator[Told]:
    for shut in network.kept_shut:
        because = shut.because or "Trench may not stand open then."
        reach = network.by_id[shut.closes].reach
        yield Told(shut.kind, because, RecordRef("kept_shut", shut.id), shut.id, reach)


def _kept_behind(network: Network) -> Iterator[Told]:
    for rule in network.kept_behind:
        because, reach = rule.because or "It keeps its distance.", network.by_id[rule.after].reach
        yield Told("behind", because, RecordRef("kept_behind", rule.id), f"behind/{reach}", reach)


def _tickets(network: Network) -> Iterator[Told]:
    spoken = network.clock.spoken
    for t in network.tickets:
        clear = f"{t.name} is clear for digging from {spoken(t.clear)}."
        yield Told("ticket", clear, RecordRef("tickets", t.id, "clear"), f"{t.id}/clear")
        usable = [r for r in t.renewals if r.call_by >= network.data_date]
        last = max([t.expiry, *(r.expiry for r in usable)])
        expiry = f"{t.name} is good until {spoken(last)}{' with its renewals' if usable else ''}."
        yield Told("ticket", expiry, RecordRef("tickets", t.id, "expiry"), f"{t.id}/expiry")


def _ticket_clear(network: Network, bound: DateBound) -> tuple[str, str]:
    return "ticket", f"Digging waits until the locate ticket is clear, {network.clock.spoken(bound.at)}."


def _without_tickets(network: Network, gone: Collection[RecordRef]) -> Any:
    clear, expiry = (_ids(gone, "tickets", part) for part in ("clear", "expiry"))
    return tuple(
        replace(t, clear=0 if t.id in clear else t.clear, expiry=network.horizon if t.id in expiry else t.expiry)
        for t in network.tickets
    )


def _visits(network: Network) -> Iterator[Told]:
    for v in network.visit_rules:
        looks = f"{v.max_looks} looks" if v.max_looks is not None else ""
        feet = format_feet(v.max_ft) if v.max_ft is not None else ""
        if caps := " and ".join(p for p in (looks, feet) if p):
            because = f'{v.authority} sees at most {caps} in one visit "{v.name}".'
            yield Told("visit", because, RecordRef("visit_rules", v.id), v.id)


def _without_visits(network: Network, gone: Collection[RecordRef]) -> Any:
    """An inspector without hours makes no visits that could be full."""
    ids, calendars = _ids(gone, "visit_rules"), _ids(gone, "calendars")
    return tuple(
        replace(v, max_looks=None, max_ft=None) if v.id in ids or v.calendar in calendars else v
        for v in network.visit_rules
    )


def _bookings(network: Network) -> Iterator[Told]:
    for b in network.bookings:
        if b.firm:
            yield Told("booking", b.because or f"{b.name} is booked.", RecordRef("bookings", b.id), b.id)


def _booked_for(network: Network, bound: DateBound) -> tuple[str, str]:
    name = next(b.name for b in network.bookings if b.id == bound.record)
    return "booking", f'The appointment "{name}" is for {network.clock.spoken(bound.at)}.'


def _target(network: Network) -> Iterator[Told]:
    if (target := network.target) is not None:
        because = target.because or f"Everything is to be finished by {network.clock.spoken(target.at)}."
        yield Told("target", because, RecordRef("target", target.id), target.id)


def _without_target(network: Network, gone: Iterable[RecordRef]) -> Any:
    return None if any(r.family == "target" for r in gone) else network.target


FAMILIES: Mapping[str, Family] = {
    "links": Family(
        ("order", "junction", "outside order", "wait", "whole test", "pass", "keep open"), _links, _without("links")
    ),
    "holds": Family(("hold", "keep open"), _holds, _without("holds")),
    "dates": Family(("notice", "date"), _dates, _without("dates")),
    "calendars": Family(("hours",), _hours, _any_hours),
    "resources": Family(
        ("resource",),
        _resources,
        _without("resources", lambda network, r: replace(r, capacity=_all_at_once(network, r.id))),
        _resource_waits,
    ),
    "spaces": Family(("space",), _spaces, _without("spaces"), _space_waits),
    "open_limits": Family(("open limit",), _open_limits, _without("open_limits"), _open_waits),
    "kept_shut": Family(("closed weeks", "season", "way"), _kept_shut, _without("kept_shut")),
    "kept_behind": Family(("behind",), _kept_behind, _without("kept_behind")),
    "tickets": Family(("ticket",), _tickets, _without_tickets, not_before=_ticket_clear),
    "visit_rules": Family(("visit",), _visits, _without_visits),
    "bookings": Family(
        ("booking",), _bookings, _without("bookings", lambda _, b: replace(b, firm=False)), not_before=_booked_for
    ),
    "target": Family(("target",), _target, _without_target),
}
"""By field of the network; the records of one are told before those of the next."""
