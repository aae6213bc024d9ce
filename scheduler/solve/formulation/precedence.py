"""Which activities links already put one after another, and which rooms keep apart."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cached_property, reduce
from graphlib import CycleError, TopologicalSorter
from itertools import combinations
from operator import or_

from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.network.normal import Capacity


class PrecedenceOrder:
    """Reachability along links that keep one activity wholly before another."""

    def __init__(self, network: Network) -> None:
        self._network = network
        self._apart: dict[str, tuple[list[str], list[tuple[str, str]]]] = {}
        self._bit = {a.id: 1 << i for i, a in enumerate(network.activities)}
        after: dict[str, set[str]] = {a.id: set() for a in network.activities}
        for a, b in lower(network).finished_first:
            after[a].add(b)
        self._later = dict.fromkeys(after, 0)
        self._earlier = dict.fromkeys(after, 0)
        try:
            # Fed with successors, the sorter yields every activity after all that follow it.
            sequence = list(TopologicalSorter(after).static_order())
        except CycleError:
            sequence = []
        for a in sequence:
            for b in after[a]:
                self._later[a] |= self._later[b] | self._bit[b]
        for a in reversed(sequence):
            for b in after[a]:
                self._earlier[b] |= self._earlier[a] | self._bit[a]

    def before(self, a: str, b: str) -> bool:
        """Say whether a finishes before b starts in every plan."""
        return bool(self._later[a] & self._bit[b])

    def known(self, a: str, b: str) -> bool:
        """Say whether links keep a and b apart, in one order or the other."""
        return self.before(a, b) or self.before(b, a)

    def apart_in(self, room: Capacity) -> tuple[list[str], list[tuple[str, str]]]:
        """Return users of a shared unit of which no two can overlap, and the remaining pairs that may not.

        Whole groups join the first set while their own members can't overlap anyway, because
        they share a single crew or links order them; one member of each other group joins
        too. Pairs that links order are left out.
        """
        if room.id not in self._apart:
            self._apart[room.id] = self._split(room)
        return self._apart[room.id]

    def _split(self, room: Capacity) -> tuple[list[str], list[tuple[str, str]]]:
        groups: dict[str, list[str]] = {}
        for use in room.uses:
            groups.setdefault(use.shared, []).append(use.first)
        if len(groups) < 2:
            return [], []
        held: dict[str, None] = {}
        for members in groups.values():
            held.update(dict.fromkeys(members if self.one_at_a_time(members) else members[:1]))
        pairs = [
            (a, b)
            for one, other in combinations(groups.values(), 2)
            for a in one
            for b in other
            if a != b and not (a in held and b in held) and not self.known(a, b)
        ]
        return list(held), list(dict.fromkeys(pairs))

    def one_at_a_time(self, activities: Sequence[str]) -> bool:
        """Say whether links, or something both need, keep any two of some activities from work at once."""
        held_by, among = lower(self._network).held_by, reduce(or_, (self._bit[a] for a in activities), 0)
        for a in activities:
            together = among & ~(self._later[a] | self._earlier[a] | self._bit[a])
            for capacity, units in held_by.get(a, ()) if together else ():
                for other, users in self._users[capacity.id].items():
                    if units + other > capacity.units:
                        together &= ~users
            if together:
                return False
        return True

    @cached_property
    def _users(self) -> dict[str, dict[int, int]]:
        """The activities that hold a capacity alone, as bits, by its id and how many units they hold."""
        users: dict[str, dict[int, int]] = {}
        for a, held in lower(self._network).held_by.items():
            for capacity, units in held:
                of = users.setdefault(capacity.id, {})
                of[units] = of.get(units, 0) | self._bit[a]
        return users
