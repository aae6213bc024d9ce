"""The decisions in a schedule that its floats keep: who follows whom, and which window a look is in."""

from __future__ import annotations

from collections.abc import Iterator, Set
from dataclasses import dataclass
from itertools import groupby, pairwise, product

from scheduler.explain.families import Waiting, waits_for
from scheduler.network.dates import Propagation
from scheduler.network.lowering import lower
from scheduler.network.model import Link, Network
from scheduler.network.normal import Capacity, DateBound, Use
from scheduler.schedule import Schedule


@dataclass(frozen=True, slots=True)
class Arc:
    """An order decided by a schedule: `link.after` follows `link.before`, and for what `ref` it does."""

    kind: str
    """'crew', 'member', 'machine', 'inspector', 'outside party', 'resource', 'space' or 'open limit'."""
    ref: str
    link: Link


@dataclass(frozen=True, slots=True)
class Sequence:
    """All decisions that are kept when dates are pushed earlier or later."""

    arcs: tuple[Arc, ...]
    kept: tuple[DateBound, ...]
    """The window of each look's visit, and what could be broken at a price and is not."""
    renewals: frozenset[str]

    def propagation(self, network: Network) -> Propagation:
        """Return the network's rules together with these decisions, ready for passes both ways."""
        return Propagation(network, tuple(a.link for a in self.arcs), self.kept, self.renewals)


def sequence_of(network: Network, schedule: Schedule) -> Sequence:
    """Return the decisions that a schedule took beyond what its network's rules say.

    Where several crews or machines do the same work, each one's own order is kept, not the order
    among them: an activity follows only those whose crew it takes over. Feet of open trench are
    handed on in the same way, from a stretch that closes to one that opens.
    """
    normal = lower(network)
    arcs = [arc for capacity in normal.capacities for arc in _arcs(network, schedule, capacity, normal.finished_first)]
    broken = normal.broken(schedule.dates)
    soft = [b for record, bounds in normal.priced.items() if record not in broken for b in bounds]
    return Sequence(tuple(arcs), (*_visit_windows(network, schedule), *soft), frozenset(schedule.renewals))


def _arcs(network: Network, schedule: Schedule, capacity: Capacity, known: Set[tuple[str, str]]) -> Iterator[Arc]:
    """Yield who waits for whom to have done with a capacity, save where links say so anyway."""
    pairs = _in_turn(capacity, schedule) if capacity.is_room else _handed_on(capacity, schedule, known)
    for one, other in pairs:
        before, after = one.last, other.first
        if (before, after) not in known:
            kind, because = waits_for(Waiting(network, capacity, one, other))
            link = Link(f"{capacity.record}:{before}>{after}", before, after, because=because, source=capacity.source)
            yield Arc(kind, capacity.record, link)


def _in_turn(capacity: Capacity, schedule: Schedule) -> Iterator[tuple[Use, Use]]:
    """Yield each use of a unit that some share, with each of those who share it next."""
    turns = sorted(capacity.uses, key=lambda use: (schedule.dates[use.first], use.shared, use.first))
    runs = [list(run) for _, run in groupby(turns, key=lambda use: use.shared)]
    for run, next_run in pairwise(runs):
        yield from product(run, next_run)


def _handed_on(capacity: Capacity, schedule: Schedule, known: Set[tuple[str, str]]) -> list[tuple[Use, Use]]:
    """Return who takes over from whom when units go from hand to hand in order of time.

    Units whose last holder comes first anyway are taken first, then unused ones, then those
    free for longest, so that no order is kept that need not be. Where more is held at once
    than there is, whoever starts later takes over from whoever is free first.
    """
    dates = schedule.dates
    pool: list[tuple[int, str, int, Use | None]] = [(-1, "", capacity.units, None)]
    pairs: dict[tuple[str, str], tuple[Use, Use]] = {}
    for use in sorted(capacity.uses, key=lambda u: (dates[u.first][0], dates[u.last][1], u.first)):
        start, finish = dates[use.first][0], dates[use.last][1]
        if start == finish:
            continue
        pool.sort(key=lambda unit: (unit[0] > start, (unit[1], use.first) not in known, unit[0], unit[1]))
        need, left = use.units, []
        for freed, holder, amount, held in pool:
            taken = min(need, amount)
            need -= taken
            if taken and held is not None and holder != use.first:
                pairs[holder, use.first] = held, use
            if amount > taken:
                left.append((freed, holder, amount - taken, held))
        pool = [*left, (finish, use.last, use.units, use)]
    return list(pairs.values())


def _visit_windows(network: Network, schedule: Schedule) -> Iterator[DateBound]:
    for group in lower(network).look_groups:
        calendar = network.calendars[group.calendar]
        because = f'{group.authority} comes for "{group.name}" in these hours.'
        for look in group.looks:
            window = calendar.window_at(schedule.dates[look][0])
            if window is not None:
                last = window[1] - network.by_id[look].work
                said = group.family, group.record, because, group.source
                yield DateBound(look, window[0], "start", "min", *said)
                yield DateBound(look, last, "start", "max", *said)
