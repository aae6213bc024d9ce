"""Orders of taking activities in hand, for passes of the serial generator."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from random import Random

from scheduler.network.dates import Reckoning
from scheduler.network.model import Network

Key = tuple[int, float, int]


@dataclass(frozen=True, slots=True)
class Order:
    """What to take in hand first (lowest key), and how many stretches may stand open."""

    keys: Mapping[str, Key]
    standing: int | None = None
    floors: Mapping[str, int] = field(default_factory=dict)
    """Starts that earlier passes found to be too early for what follows."""
    urgent: frozenset[str] = frozenset()
    """Activities that came too late in earlier passes, with all they wait for."""

    def key(self, activity: str) -> Key:
        """Return an activity's place in the order."""
        rank, need, place = self.keys[activity]
        return (-1, need, place) if activity in self.urgent else (rank, need, place)


class Orders:
    """The orders that suit one network."""

    def __init__(self, network: Network, reckoning: Reckoning, latest: Mapping[str, int]) -> None:
        """`latest` is the last start of each activity that links and calendars allow."""
        self.latest = latest
        self.openers = frozenset(o.opens for o in network.openings)
        self._place = {a.id: i for i, a in enumerate(network.activities)}
        self._into = {a: [p.by for p in pulls if not p.link.at_most] for a, pulls in reckoning.into.items()}
        self._sequence = sorted(reckoning.rank, key=reckoning.rank.__getitem__)
        self._inside = self._below_openers()

    def by_need(self) -> Order:
        """Take first what must start first for the finish's sake."""
        return Order({a: (0, self.latest[a], i) for a, i in self._place.items()})

    def fill_first(self, standing: int) -> Order:
        """Bring what stands open to its cover before opening more; open first what must start first."""
        return self._opening({o: float(self.latest[o]) for o in self.openers}, standing)

    def along(self, standing: int) -> Order:
        """Bring what stands open to its cover before opening more; open in the order of the network."""
        return self._opening({o: float(self._place[o]) for o in self.openers}, standing)

    def shuffled(self, rng: Random) -> Order:
        """Take things in hand by need, with chance."""
        spread = 0.1 * (max(self.latest.values()) - min(self.latest.values()) + 1)
        noise = {a: self.latest[a] + rng.random() * spread for a in self._place}
        if self.openers and rng.random() < 0.7:
            return self._opening({o: noise[o] for o in self.openers}, rng.randint(1, 12))
        return Order({a: (0, noise[a], i) for a, i in self._place.items()})

    def before(self, activities: Iterable[str]) -> frozenset[str]:
        """Return the activities with everything they wait for."""
        found = set(activities)
        stack = list(found)
        while stack:
            for by in self._into[stack.pop()]:
                if by not in found:
                    found.add(by)
                    stack.append(by)
        return frozenset(found)

    def needed(self, network: Network) -> dict[str, frozenset[str]]:
        """Return, for each opening, the openers that must have been at work before its cover can be done."""
        bit = {o: 1 << i for i, o in enumerate(sorted(self.openers))}
        above: dict[str, int] = {}
        for a in self._sequence:
            above[a] = bit.get(a, 0)
            for by in self._into[a]:
                above[a] |= above.get(by, 0)
        return {o.id: frozenset(x for x, b in bit.items() if above[o.closes] & b) for o in network.openings}

    def _opening(self, position: dict[str, float], standing: int) -> Order:
        """Return an order of openers by position; what leads to them goes with the first it leads to."""
        for a in reversed(self._sequence):
            if a not in self._inside and a in position:
                for by in self._into[a]:
                    position[by] = min(position.get(by, position[a]), position[a])
        keys: dict[str, Key] = {}
        for a, i in self._place.items():
            inside = a in self._inside and a not in self.openers
            keys[a] = (0, self.latest[a], i) if inside else (1, position.get(a, float(self.latest[a])), i)
        return Order(keys, standing)

    def _below_openers(self) -> frozenset[str]:
        """Return everything that some opener comes before."""
        below: set[str] = set()
        for a in self._sequence:
            if any(by in below or by in self.openers for by in self._into[a]):
                below.add(a)
        return frozenset(below)
