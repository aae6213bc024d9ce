"""What stands open while a plan is built, and whether one more stretch may be opened.

Opening more than can be covered again is a trap: no cover may fit any more, because each
waits for a stretch that the limit forbids to open. So a stretch is opened only when an order
is in sight in which everything then standing can be covered.
"""

from __future__ import annotations

from collections.abc import Mapping

from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.solve.first_plan.partial_schedule import PartialSchedule


class OpenStretches:
    """The stretches that stand open with no cover planned yet."""

    def __init__(self, network: Network, partial: PartialSchedule, needed: Mapping[str, frozenset[str]]) -> None:
        self._partial = partial
        normal, ends = lower(network), {o.id: (o.opens, o.closes) for o in network.openings}
        limits = [c for c in normal.capacities if c.has_stretches]
        self._amounts: dict[str, list[tuple[int, int]]] = {}
        for i, limit in enumerate(limits):
            for use in limit.uses:
                if not use.is_work:
                    id_ = use.name or f"{use.first}>{use.last}"
                    ends[id_] = use.first, use.last
                    self._amounts.setdefault(id_, []).append((i, use.units))
        self._needed = {id_: needed[last] for id_, (_, last) in ends.items()}
        self._opened: dict[str, list[str]] = {}
        self._covers: dict[str, list[str]] = {}
        for id_, (first, last) in ends.items():
            self._opened.setdefault(first, []).append(id_)
            self._covers.setdefault(last, []).append(id_)
        self._closes = {id_: last for id_, (_, last) in ends.items()}
        self._amount = {
            x: sum(n for id_ in opened for _, n in self._amounts.get(id_, ())) for x, opened in self._opened.items()
        }
        """What each opener opens, under all limits together."""
        self._capacity = [limit.units for limit in limits]
        self.stretches: dict[str, None] = {}
        """What stands, in the order in which it was opened."""
        self._simple = not limits or all(len(n) <= 1 for n in needed.values())

    def note(self, activity: str) -> bool:
        """Take account of an activity just placed; say whether something more may now be opened or not."""
        opened, covered = self._opened.get(activity, ()), self._covers.get(activity, ())
        for id_ in opened:
            if self._closes[id_] not in self._partial.spans:
                self.stretches[id_] = None
        for id_ in covered:
            self.stretches.pop(id_, None)
        return bool(covered)

    def safe(self, opener: str) -> bool:
        """Say whether all that then stands open could still be covered within the limits."""
        return not self._partial.stands_too_long(opener) and (self._simple or self._all_can_close(opener))

    def _all_can_close(self, opener: str) -> bool:
        """Cover what can be covered, then open what the cheapest cover still wants, until all is covered or stuck."""
        free = list(self._capacity)
        opened = {opener}
        wanted: dict[str, set[str]] = {}
        for id_ in (*self.stretches, *self._opened[opener]):
            self._use(free, id_, 1)
            wanted[id_] = self._still_to_open(id_, opened)
        while wanted:
            if min(free) < 0:
                return False
            ready = [id_ for id_, openers in wanted.items() if not openers]
            for id_ in ready:
                del wanted[id_]
                self._use(free, id_, -1)
            if wanted and not ready:
                cheapest = min(wanted, key=lambda x: (sum(map(self._amount.__getitem__, wanted[x])), x))
                more = set(wanted[cheapest])
                opened |= more
                for openers in wanted.values():
                    openers -= more
                for id_ in (id_ for x in sorted(more) for id_ in self._opened[x]):
                    self._use(free, id_, 1)
                    wanted[id_] = self._still_to_open(id_, opened)
        return True

    def _still_to_open(self, opening: str, opened: set[str]) -> set[str]:
        """Return the openers that must have been at work before this one can be covered, and have not."""
        return {x for x in self._needed[opening] if x not in opened and x not in self._partial.spans}

    def _use(self, free: list[int], opening: str, sign: int) -> None:
        for i, amount in self._amounts.get(opening, ()):
            free[i] -= sign * amount
