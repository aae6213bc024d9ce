"""In which order the serial generator places activities: priority rules."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from random import Random

from scheduler.network.dates import Propagation, reached
from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.network.normal import Capacity
from scheduler.schedule import Span
from scheduler.solve.first_plan.calendar_fit import CalendarFit

Key = tuple[float, int]
"""The lower goes first; ties go by the place in the network."""


@dataclass(frozen=True, slots=True)
class PriorityOrder:
    """What to take in hand first: the lowest key."""

    keys: Mapping[str, Key]
    floors: Mapping[str, int] = field(default_factory=dict)
    """Starts that earlier passes found to be too early for what follows."""
    urgent: frozenset[str] = frozenset()
    """Activities that came too late in earlier passes, with all they wait for."""

    def key(self, activity: str) -> tuple[bool, float, int]:
        """Return an activity's place in the order."""
        return activity not in self.urgent, *self.keys[activity]


class PriorityRules:
    """The orders that suit one network."""

    def __init__(
        self,
        network: Network,
        propagation: Propagation,
        fits: CalendarFit,
        earliest: Mapping[str, Span],
        latest: Mapping[str, Span],
    ) -> None:
        """`earliest` and `latest` are the dates that links and calendars leave."""
        self._fits = fits
        self.openers = frozenset(o.opens for o in network.openings)
        self._stretches = {(o.opens, o.closes) for o in network.openings} | lower(network).stretches
        self._network, self._earliest, self._latest = network, earliest, latest
        self._place = {a.id: i for i, a in enumerate(network.activities)}
        self._into = {
            a: [p.predecessor for p in precedences if not p.link.at_most] for a, precedences in propagation.into.items()
        }
        self._sequence = sorted(propagation.rank, key=propagation.rank.__getitem__)
        self._inside = self._after_openers()
        self.first, self.last = _windows(network, propagation)
        """The first and the last start that calendars and date rules alone allow."""
        self.limiting = frozenset(
            p.predecessor for precedences in propagation.into.values() for p in precedences if p.link.at_most
        )
        """Activities that others must not run too far ahead of."""

    def by_rules(self) -> list[PriorityOrder]:
        """Return the orders by latest start, least slack, latest finish and earliest start."""
        keys: list[dict[str, float]] = [{}, {}, {}, {}]
        for a, (start, finish) in self._latest.items():
            soonest = self._earliest[a][0]
            for key, value in zip(keys, (start, start - soonest, finish, soonest), strict=True):
                key[a] = value
        return [self.following(key) for key in keys]

    def by_stretches(self) -> list[PriorityOrder]:
        """Return orders that take one stretch of trench after another: by need, by Johnson's rule, along, and back.

        First those that open as far ahead as may stand, then those that plan a stretch wholly before the next.
        """
        if not self.openers:
            return []
        by_need = sorted(self.openers, key=lambda o: (self._latest[o][0], self._place[o]))
        along = sorted(self.openers, key=self._place.__getitem__)
        found = []
        for ahead in (len(self._place), 0):
            for openers in dict.fromkeys(tuple(s) for s in (by_need, self._by_bottleneck(by_need), along, along[::-1])):
                turn, last = self._turns(openers), float(len(openers))
                found.append(
                    self.following({a: turn.get(a, last) + (ahead if a in self._inside else 0) for a in self._place})
                )
        return found

    def _by_bottleneck(self, by_need: list[str]) -> list[str]:
        """Return the openers so that the busiest party is fed early and has little left to wait for at the end.

        Stretches that reach that party sooner than they leave it come first, the quickest to
        reach it foremost; then the others, those with the most to do after it foremost.
        Source: the rule for two machines in S. M. Johnson (1954).
        """
        busiest = self.busiest()
        users = {use.first for use in busiest.uses} - self.openers if busiest else set()
        turns = self._turns(by_need)
        reached_at, left_at = dict[int, int](), dict[int, int]()
        for a in self._network.activities:
            if a.id in users and a.id in turns:
                turn, finish = int(turns[a.id]), self._latest[a.id][1]
                head = self._earliest[a.id][0] - self._earliest[by_need[turn]][0]
                reached_at[turn] = min(reached_at.get(turn, head), head)
                left_at[turn] = min(left_at.get(turn, finish), finish)
        last = max(finish for _, finish in self._latest.values())

        def key(turn: int) -> tuple[bool, int, int]:
            head, left = reached_at.get(turn, 0), left_at.get(turn, last)
            return (False, head, turn) if head <= last - left else (True, left, turn)

        return [by_need[turn] for turn in sorted(range(len(by_need)), key=key)]

    def _turns(self, openers: Iterable[str]) -> dict[str, float]:
        """Return, by activity, the place in the order of digging that it is inserted with.

        Work in an open trench goes with the last dig that it waits for, other work with the first that waits for it.
        """
        turn = {o: float(i) for i, o in enumerate(openers)}
        for a in self._sequence:
            if a in self._inside:
                turn[a] = max((turn[by] for by in self._into[a] if by in turn), default=0.0)
        for a in reversed(self._sequence):
            if a not in self._inside and a in turn:
                for by in self._into[a]:
                    turn[by] = min(turn.get(by, turn[a]), turn[a])
        return turn

    def by_chance(self, rng: Random) -> PriorityOrder:
        """Return the order by latest start, each delayed by chance by up to a quarter of the shortest job."""
        most = max(finish for _, finish in self._earliest.values()) / 4
        return self.following({a: start + rng.random() * most for a, (start, _) in self._latest.items()})

    def following(self, starts: Mapping[str, float]) -> PriorityOrder:
        """Take things in hand in the order of given starts."""
        return PriorityOrder({a: (starts[a], i) for a, i in self._place.items()})

    def before(self, activities: Iterable[str]) -> frozenset[str]:
        """Return the activities with everything they wait for."""
        return frozenset(reached(activities, self._into.__getitem__))

    def _after_openers(self) -> frozenset[str]:
        """Return everything but the openers that some opener comes before."""
        after: set[str] = set()
        for a in self._sequence:
            if any(by in after or by in self.openers for by in self._into[a]):
                after.add(a)
        return frozenset(after - self.openers)

    def needed(self) -> dict[str, frozenset[str]]:
        """Return, for each activity that ends a stretch, what opens one and must have been at work before it."""
        bit = {o: 1 << i for i, o in enumerate(sorted({opens for opens, _ in self._stretches}))}
        above: dict[str, int] = {}
        for a in self._sequence:
            above[a] = bit.get(a, 0)
            for by in self._into[a]:
                above[a] |= above.get(by, 0)
        return {last: frozenset(x for x, b in bit.items() if above[last] & b) for _, last in self._stretches}

    def busiest(self) -> Capacity | None:
        """Return the party with the most work for its hours; None when there are no parties."""
        by_id = self._network.by_id
        end = max((finish for _, finish in self._earliest.values()), default=0)

        def share(party: Capacity) -> float:
            load = sum(by_id[use.first].work * use.units for use in party.uses)
            return load / max(party.units * self._fits.hours[party.id].open_ticks(0, end), 1)

        parties = sorted((c for c in lower(self._network).capacities if c.is_party), key=lambda c: c.id)
        return max(parties, key=share, default=None)


def _windows(network: Network, propagation: Propagation) -> tuple[dict[str, int], dict[str, int]]:
    first: dict[str, int] = {}
    last: dict[str, int] = {}
    for a in network.activities:
        soonest, latest = propagation.allowed_from(a.id, 0), propagation.allowed_to(a.id, network.horizon)
        if soonest is None or latest is None:
            raise ValueError(f"{a.id} fits nowhere")
        first[a.id], last[a.id] = soonest, latest
    return first, last
