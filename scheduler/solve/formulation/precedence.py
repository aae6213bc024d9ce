"""Which activities links already put one after another, and which rooms keep apart."""

from __future__ import annotations

from graphlib import CycleError, TopologicalSorter
from itertools import combinations

from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.network.normal import Capacity


class PrecedenceOrder:
    """Reachability along links that keep one activity wholly before another."""

    def __init__(self, network: Network) -> None:
        self._network = network
        self._apart: dict[str, tuple[list[str], list[tuple[str, str]]]] = {}
        self._place = {a.id: i for i, a in enumerate(network.activities)}
        after: dict[str, set[str]] = {a.id: set() for a in network.activities}
        for a, b in lower(network).finished_first:
            after[a].add(b)
        self._later = dict.fromkeys(after, 0)
        try:
            # Fed with successors, the sorter yields every activity after all that follow it.
            sequence = list(TopologicalSorter(after).static_order())
        except CycleError:
            sequence = []
        for a in sequence:
            bits = 0
            for b in after[a]:
                bits |= self._later[b] | 1 << self._place[b]
            self._later[a] = bits

    def before(self, a: str, b: str) -> bool:
        """Say whether a finishes before b starts in every plan."""
        return bool(self._later[a] >> self._place[b] & 1)

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
            single = all(self.never_together(a, b) for a, b in combinations(members, 2))
            held.update(dict.fromkeys(members if single else members[:1]))
        pairs = [
            (a, b)
            for one, other in combinations(groups.values(), 2)
            for a in one
            for b in other
            if a != b and not (a in held and b in held) and not self.known(a, b)
        ]
        return list(held), list(dict.fromkeys(pairs))

    def never_together(self, a: str, b: str) -> bool:
        """Say whether links, or something both need, keep two activities from being at work at once."""
        held_by = lower(self._network).held_by
        held = {c.id: units for c, units in held_by.get(a, ())}
        both = [(c, units + held[c.id]) for c, units in held_by.get(b, ()) if c.id in held]
        return self.known(a, b) or any(total > c.units for c, total in both)
