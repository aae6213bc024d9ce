"""Which activities links already put one after another, and which rooms keep apart."""

from __future__ import annotations

from graphlib import CycleError, TopologicalSorter
from itertools import combinations

from scheduler.network.model import LinkType, Network, Space


class Order:
    """Reachability along links that keep one activity wholly before another."""

    def __init__(self, network: Network) -> None:
        self._network = network
        self._apart: dict[str, tuple[list[str], list[tuple[str, str]]]] = {}
        self._place = {a.id: i for i, a in enumerate(network.activities)}
        after: dict[str, set[str]] = {a.id: set() for a in network.activities}
        for link in network.links:
            if link.type is LinkType.FS and link.lag >= 0 and not link.at_most:
                after[link.before].add(link.after)
        for hold in network.holds:
            after[hold.look].update(hold.gates)
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

    def apart_in(self, space: Space) -> tuple[list[str], list[tuple[str, str]]]:
        """Return occupants of which no two can overlap, and the remaining pairs that may not.

        Whole groups join the first set while their own members can't overlap anyway, because
        they share a single crew or links order them; one member of each other group joins
        too. Pairs that links order are left out.
        """
        if space.id not in self._apart:
            self._apart[space.id] = self._split(space)
        return self._apart[space.id]

    def _split(self, space: Space) -> tuple[list[str], list[tuple[str, str]]]:
        groups: dict[str, list[str]] = {}
        for a, g in space.occupants:
            if self._network.by_id[a].work > 0:
                groups.setdefault(g, []).append(a)
        if len(groups) < 2:
            return [], []
        held: dict[str, None] = {}
        for members in groups.values():
            single = all(self._never_together(a, b) for a, b in combinations(members, 2))
            held.update(dict.fromkeys(members if single else members[:1]))
        pairs = [
            (a, b)
            for one, other in combinations(groups.values(), 2)
            for a in one
            for b in other
            if a != b and not (a in held and b in held) and not self.known(a, b)
        ]
        return list(held), list(dict.fromkeys(pairs))

    def _never_together(self, a: str, b: str) -> bool:
        by_id, resources = self._network.by_id, self._network.resource_by_id
        held = dict(by_id[a].needs)
        shared = [(r, units + held[r]) for r, units in by_id[b].needs if units and held.get(r)]
        return self.known(a, b) or any(total > resources[r].capacity for r, total in shared)
