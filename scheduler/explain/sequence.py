"""The decisions in a schedule that its floats keep: who follows whom, and which window a look is in."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import groupby, pairwise, product

from scheduler.network.dates import Reckoning
from scheduler.network.model import (
    Activity,
    Booking,
    DateRule,
    Link,
    LinkType,
    Network,
    OpenLimit,
    Resource,
    ResourceKind,
    Space,
)
from scheduler.schedule import Schedule


@dataclass(frozen=True, slots=True)
class Arc:
    """An order decided by a schedule: `link.after` follows `link.before`, and for what `ref` it does."""

    kind: str
    """'crew', 'machine', 'inspector', 'outside party', 'resource', 'space' or 'open limit'."""
    ref: str
    link: Link


@dataclass(frozen=True, slots=True)
class Fixed:
    """A range of dates decided by a schedule: the window of a visit, or a soft booking that is kept."""

    kind: str
    """'visit' or 'booking'."""
    ref: str
    rule: DateRule


@dataclass(frozen=True, slots=True)
class Sequence:
    """All decisions that are kept when dates are pushed earlier or later."""

    arcs: tuple[Arc, ...]
    fixed: tuple[Fixed, ...]
    renewals: frozenset[str]

    def reckoning(self, network: Network) -> Reckoning:
        """Return the network's rules together with these decisions, ready for passes both ways."""
        return Reckoning(network, tuple(a.link for a in self.arcs), tuple(f.rule for f in self.fixed), self.renewals)


@dataclass(frozen=True, slots=True)
class _Use:
    """One stretch of time for which an amount of something is held, by the activities at its two ends."""

    first: str
    last: str
    start: int
    finish: int
    amount: int


def sequence_of(network: Network, schedule: Schedule) -> Sequence:
    """Return the decisions that a schedule took beyond what its network's rules say.

    Where several crews or machines do the same work, each one's own order is kept, not the order
    among them: an activity follows only those whose crew it takes over. Feet of open trench are
    handed on in the same way, from a stretch that closes to one that opens.
    """
    known = {(k.before, k.after) for k in network.links if k.type is LinkType.FS and not k.at_most and k.lag >= 0} | {
        (h.look, gate) for h in network.holds for gate in h.gates
    }
    arcs = [
        *(arc for r in network.resources for arc in _resource_arcs(network, schedule, r, known)),
        *(arc for s in network.spaces for arc in _space_arcs(network, schedule, s, known)),
        *(arc for o in network.open_limits for arc in _opening_arcs(network, schedule, o, known)),
    ]
    fixed = [*_visit_windows(network, schedule), *_kept_bookings(network, schedule)]
    return Sequence(tuple(arcs), tuple(fixed), frozenset(schedule.renewals))


def _resource_arcs(
    network: Network, schedule: Schedule, resource: Resource, known: set[tuple[str, str]]
) -> Iterator[Arc]:
    uses = [
        _Use(a.id, a.id, *schedule.dates[a.id], amount)
        for a in network.activities
        for ref, amount in a.needs
        if ref == resource.id
    ]
    for before, after in _handed_on(resource.capacity, uses, known):
        because = _resource_reason(resource, network.by_id[before])
        yield _arc(resource.kind.value, resource.id, before, after, because, resource.source)


def _resource_reason(resource: Resource, before: Activity) -> str:
    does = "looking at" if resource.kind is ResourceKind.INSPECTOR else "busy with"
    return f'Waits for {resource.name}, {does} "{before.name}".'


def _space_arcs(network: Network, schedule: Schedule, space: Space, known: set[tuple[str, str]]) -> Iterator[Arc]:
    turns = sorted(
        (schedule.dates[a], group, a) for a, group in space.occupants if schedule.dates[a][0] < schedule.dates[a][1]
    )
    runs = [(group, [a for _, _, a in run]) for group, run in groupby(turns, key=lambda turn: turn[1])]
    for (group, run), (next_group, next_run) in pairwise(runs):
        for before, after in product(run, next_run):
            if (before, after) not in known:
                because = _space_reason(network.by_id[before], machine="machine" in (group, next_group))
                yield _arc("space", space.id, before, after, because, space.source)


def _space_reason(before: Activity, *, machine: bool) -> str:
    if machine:
        return f'Nobody works within reach of the machine; waits for "{before.name}".'
    return f'One trade at a time in the trench; waits for "{before.name}".'


def _opening_arcs(network: Network, schedule: Schedule, limit: OpenLimit, known: set[tuple[str, str]]) -> Iterator[Arc]:
    opening_of = {o.id: o for o in network.openings}
    uses = [
        _Use(o.opens, o.closes, schedule.dates[o.opens][0], schedule.dates[o.closes][1], amount)
        for o, amount in ((opening_of[ref], amount) for ref, amount in limit.amounts)
    ]
    for before, after in _handed_on(limit.capacity, uses, known):
        size = f"{limit.capacity} ft of trench" if limit.unit == "ft" else f"{limit.capacity} stretches"
        because = f'No more than {size} may stand open; waits for "{network.by_id[before].name}".'
        yield _arc("open limit", limit.id, before, after, because, limit.source)


def _handed_on(capacity: int, uses: Iterable[_Use], known: set[tuple[str, str]]) -> list[tuple[str, str]]:
    """Return who takes over from whom when `capacity` units go from hand to hand in order of time.

    Units whose last holder comes first anyway are taken first, then unused ones, then those
    free for longest, so that no order is kept that need not be. Where more is held at once
    than there is, whoever starts later takes over from whoever is free first.
    """
    pool: list[tuple[int, str, int]] = [(-1, "", capacity)]
    pairs: dict[tuple[str, str], None] = {}
    for use in sorted(uses, key=lambda u: (u.start, u.finish, u.first)):
        if use.start == use.finish:
            continue
        pool.sort(key=lambda unit: (unit[0] > use.start, (unit[1], use.first) not in known, unit[0], unit[1]))
        need, left = use.amount, []
        for freed, holder, amount in pool:
            taken = min(need, amount)
            need -= taken
            if taken and holder and holder != use.first and (holder, use.first) not in known:
                pairs[holder, use.first] = None
            if amount > taken:
                left.append((freed, holder, amount - taken))
        pool = [*left, (use.finish, use.last, use.amount)]
    return list(pairs)


def _arc(kind: str, ref: str, before: str, after: str, because: str, source: str) -> Arc:
    return Arc(kind, ref, Link(f"{ref}:{before}>{after}", before, after, because=because, source=source))


def _visit_windows(network: Network, schedule: Schedule) -> Iterator[Fixed]:
    for rule in network.visit_rules:
        calendar = network.calendars[rule.calendar]
        for look in rule.looks:
            window = calendar.window_at(schedule.dates[look][0])
            if window is None:
                continue
            because = f'{rule.authority} comes for "{rule.name}" in these hours.'
            for sense, at in (("min", window[0]), ("max", window[1] - network.by_id[look].work)):
                yield Fixed("visit", rule.id, DateRule(rule.id, look, at, "start", sense, because, rule.source))


def _kept_bookings(network: Network, schedule: Schedule) -> Iterator[Fixed]:
    for booking in network.bookings:
        if booking.firm or not _keeps(booking, schedule):
            continue
        for activity in booking.activities:
            for sense, at in (("min", booking.at), ("max", booking.until - 1)):
                rule = DateRule(booking.id, activity, at, "start", sense, booking.because, booking.source)
                yield Fixed("booking", booking.id, rule)


def _keeps(booking: Booking, schedule: Schedule) -> bool:
    return all(booking.at <= schedule.dates[a][0] < booking.until for a in booking.activities)
