"""Orders of taking activities in hand, for passes of the serial generator."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

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

    def __init__(self, network: Network, reckoning: Reckoning, latest: Mapping[str, float]) -> None:
        """`latest` is the last start of each activity that links and calendars allow."""
        self.latest = latest
        self.openers = frozenset(o.opens for o in network.openings)
        self._place = {a.id: i for i, a in enumerate(network.activities)}
        self._into = {a: [p.by for p in pulls if not p.link.at_most] for a, pulls in reckoning.into.items()}
        self._sequence = sorted(reckoning.rank, key=reckoning.rank.__getitem__)
        self._inside = self._below_openers()

    def fixed(self) -> list[Order]:
        """Return the orders tried on every network, the most useful first."""
        if not self.openers:
            return [self.by_need()]
        found = [self.by_need(), self.reach_by_reach(self.latest), self.reach_by_reach(self._place)]
        for standing in (4, 2, 6, 3, 8, 12):
            found += [self.rolling(self.latest, standing), self.by_need(standing), self.rolling(self._place, standing)]
        return found

    def by_need(self, standing: int | None = None) -> Order:
        """Take first what must start first for the finish's sake."""
        return Order({a: (0, self.latest[a], i) for a, i in self._place.items()}, standing)

    def reach_by_reach(self, position: Mapping[str, float]) -> Order:
        """Plan each stretch to its cover before the next is opened; the next digs fill the gaps."""
        return self._opening(position, standing=1, open_first=False)

    def rolling(self, position: Mapping[str, float], standing: int) -> Order:
        """Keep so many stretches open, opening another whenever one has its cover planned."""
        return self._opening(position, standing=standing, open_first=True)

    def following(self, starts: Mapping[str, float]) -> Order:
        """Take things in hand in the order of given starts."""
        return Order({a: (0, starts[a], i) for a, i in self._place.items()})

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

    def _opening(self, position: Mapping[str, float], *, standing: int, open_first: bool) -> Order:
        """Return an order of openers by position; what leads to them goes with the first it leads to."""
        lead = {o: float(position[o]) for o in self.openers}
        for a in reversed(self._sequence):
            if a not in self._inside and a in lead:
                for by in self._into[a]:
                    lead[by] = min(lead.get(by, lead[a]), lead[a])
        keys: dict[str, Key] = {}
        for a, i in self._place.items():
            inside = a in self._inside and a not in self.openers
            rank = 0 if inside is not open_first else 1
            keys[a] = (rank, float(self.latest[a]) if inside else lead.get(a, float(self.latest[a])), i)
        return Order(keys, standing)

    def _below_openers(self) -> frozenset[str]:
        """Return everything that some opener comes before."""
        below: set[str] = set()
        for a in self._sequence:
            if any(by in below or by in self.openers for by in self._into[a]):
                below.add(a)
        return frozenset(below)
