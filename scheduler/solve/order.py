"""Which activities links already put one after another."""

from __future__ import annotations

from graphlib import CycleError, TopologicalSorter

from scheduler.network.model import LinkType, Network


class Order:
    """Reachability along links that keep one activity wholly before another."""

    def __init__(self, network: Network) -> None:
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
