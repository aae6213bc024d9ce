"""The rules of a network as people name them, and the network without some of them.

Records that say the same thing are one rule: all waits of one crew's notice, all passes of one
validity, the order of work in one reach.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from scheduler.network.model import (
    DateRole,
    DateRule,
    Link,
    Network,
    VisitRule,
)
from scheduler.worktime.calendar import Calendar


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule that a person can name: `records` are the (field of the network, id) it stands for.

    `kind` is one of KINDS. `reach` is set where the same rule stands for each reach.
    """

    ref: str
    kind: str
    because: str
    records: frozenset[tuple[str, str]]
    reach: str = ""

    @property
    def record(self) -> str:
        """The id of the record it stands for, the first when there are several."""
        return min(id_ for _, id_ in self.records)


GIVEN = ("order", "hold", "outside order", "space")
"""Kinds of rules that say how the work must go; nobody can agree them away."""

KINDS = (
    *GIVEN,
    "wait",
    "visit",
    "open limit",
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


def rules_of(network: Network) -> list[Rule]:
    """Return every rule of a network that can be left out of it, in the order of KINDS."""
    found: dict[tuple[str, str, str], tuple[str, set[tuple[str, str]]]] = {}
    for kind, because, reach, record, ref in _records(network):
        found.setdefault((kind, because, reach), (ref, set()))[1].add(record)
    rules = [
        Rule(ref, kind, because, frozenset(records), reach) for (kind, because, reach), (ref, records) in found.items()
    ]
    return sorted(rules, key=lambda r: (KINDS.index(r.kind), r.ref))


def without(network: Network, rules: Iterable[Rule]) -> Network:
    """Return a network without some of its rules.

    Work keeps its length. Hours left out become all hours; an inspector without hours makes no
    visits that could be full.
    """
    gone = {record for rule in rules for record in rule.records}
    if not gone:
        return network

    def kept(field: str, id_: str) -> bool:
        return (field, id_) not in gone

    tickets = [
        replace(
            t,
            clear=t.clear if kept("ticket clear", t.id) else 0,
            expiry=t.expiry if kept("ticket expiry", t.id) else network.horizon,
        )
        for t in network.tickets
    ]
    return replace(
        network,
        calendars={c.id: c if kept("calendars", c.id) else _always(network, c) for c in network.calendars.values()},
        links=tuple(k for k in network.links if kept("links", k.id)),
        dates=tuple(d for d in network.dates if kept("dates", d.id)),
        resources=tuple(
            r if kept("resources", r.id) else replace(r, capacity=_all_at_once(network, r.id))
            for r in network.resources
        ),
        spaces=tuple(s for s in network.spaces if kept("spaces", s.id)),
        open_limits=tuple(o for o in network.open_limits if kept("open_limits", o.id)),
        tickets=tuple(tickets),
        visit_rules=tuple(
            v if kept("visit_rules", v.id) and kept("calendars", v.calendar) else _uncapped(v)
            for v in network.visit_rules
        ),
        holds=tuple(h for h in network.holds if kept("holds", h.id)),
        bookings=tuple(b if kept("bookings", b.id) else replace(b, firm=False) for b in network.bookings),
        target=network.target if network.target and kept("target", network.target.id) else None,
    )


def told_together(rules: Iterable[Rule]) -> tuple[Rule, ...]:
    """Return rules as one tells them: the easiest to talk about first, what stands for several reaches as one."""
    alike: dict[tuple[str, str], list[Rule]] = {}
    for rule in sorted(rules, key=lambda r: -KINDS.index(r.kind)):
        alike.setdefault((rule.kind, "" if rule.reach else rule.ref), []).append(rule)
    return tuple(group[0] if len(group) == 1 else _joined(group) for group in alike.values())


def _joined(group: Sequence[Rule]) -> Rule:
    reaches = ", ".join(sorted(r.reach for r in group))
    records = frozenset().union(*(r.records for r in group))
    return Rule(group[0].ref, group[0].kind, f"{group[0].because} The same in: {reaches}.", records, reaches)


def _records(network: Network) -> Iterator[tuple[str, str, str, tuple[str, str], str]]:
    """Yield (kind, because, reach, record, ref) for each record that binds dates, the past aside."""
    for link in network.links:
        kind, because, reach = _link(network, link)
        yield kind, because, reach, ("links", link.id), f"order/{reach}" if kind == "order" else link.id
    for hold in network.holds:
        rule = next((v for v in network.visit_rules if hold.look in v.looks), None)
        opened = network.by_id[hold.look].kind.is_outside_work
        because = f'Work waits until "{rule.name}" has passed.' if rule else hold.because or hold.name
        yield "keep open" if opened else "hold", because, "", ("holds", hold.id), rule.id if rule else hold.id
    yield from _times(network)
    for r in network.resources:
        because = f"{r.name}: {r.because or f'{r.capacity} at once.'}"
        yield "resource", because, "", ("resources", r.id), r.id
    for s in network.spaces:
        yield "space", s.because or "One trade at a time.", s.reach, ("spaces", s.id), s.id
    for o in network.open_limits:
        yield "open limit", o.because or f"At most {o.capacity} {o.unit} open.", "", ("open_limits", o.id), o.id
    yield from _tickets(network)
    for v in network.visit_rules:
        if v.max_looks is not None or v.max_ft is not None:
            yield "visit", _caps(v), "", ("visit_rules", v.id), v.id
    for b in network.bookings:
        if b.firm:
            yield "booking", b.because or f"{b.name} is booked.", "", ("bookings", b.id), b.id
    if (target := network.target) is not None:
        because = target.because or f"Everything is to be finished by {network.clock.spoken(target.at)}."
        yield "target", because, "", ("target", target.id), target.id


def _times(network: Network) -> Iterator[tuple[str, str, str, tuple[str, str], str]]:
    for date in network.dates:
        if date.role is not DateRole.AS_OF:
            yield (*_date(network, date), ("dates", date.id), date.id)
    for c in network.calendars.values():
        if any(a.calendar == c.id and a.work > 0 and not a.happened for a in network.activities):
            yield "hours", f"Working hours: {c.name}.", "", ("calendars", c.id), c.id


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
    if link.lag > 0:
        return "wait", link.because or f"{after.name} waits after {before.name}.", ""
    return "order", "The order of work in the trench.", after.reach or before.reach


def _date(network: Network, date: DateRule) -> tuple[str, str, str]:
    if date.sense == "min" and date.role.is_notice:
        return "notice", date.because, ""
    sense = {"min": "not before", "max": "not after", "fixed": "exactly"}[date.sense]
    words = f"{network.by_id[date.activity].name} {date.edge}s {sense} {network.clock.spoken(date.at)}."
    return "date", date.because or words, ""


def _tickets(network: Network) -> Iterator[tuple[str, str, str, tuple[str, str], str]]:
    spoken = network.clock.spoken
    for t in network.tickets:
        clear = f"{t.name} is clear for digging from {spoken(t.clear)}."
        yield "ticket", clear, "", ("ticket clear", t.id), f"{t.id}/clear"
        usable = [r for r in t.renewals if r.call_by >= network.data_date]
        last = max([t.expiry, *(r.expiry for r in usable)])
        expiry = f"{t.name} is good until {spoken(last)}{' with its renewals' if usable else ''}."
        yield "ticket", expiry, "", ("ticket expiry", t.id), f"{t.id}/expiry"


def _caps(rule: VisitRule) -> str:
    looks = f"{rule.max_looks} looks" if rule.max_looks is not None else ""
    feet = f"{rule.max_ft:g} ft" if rule.max_ft is not None else ""
    return f'{rule.authority} sees at most {" and ".join(p for p in (looks, feet) if p)} in one visit "{rule.name}".'


def _uncapped(rule: VisitRule) -> VisitRule:
    return replace(rule, max_looks=None, max_ft=None)


def _always(network: Network, calendar: Calendar) -> Calendar:
    return Calendar(calendar.id, f"{calendar.name} (any hour)", ((0, network.horizon),))


def _all_at_once(network: Network, resource: str) -> int:
    return max(1, sum(units for a in network.activities for r, units in a.needs if r == resource))
