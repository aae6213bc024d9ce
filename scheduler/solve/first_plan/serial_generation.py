"""Serial schedule generation: each activity in turn gets the first dates at which all it needs is free."""

from __future__ import annotations

import heapq
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from scheduler.network.model import Network
from scheduler.solve.first_plan.deadlock import OpenStretches
from scheduler.solve.first_plan.partial_schedule import PartialSchedule
from scheduler.solve.first_plan.priority import PriorityOrder, PriorityRules

Entry = tuple[bool, float, int, str]


@dataclass(frozen=True, slots=True)
class Checkpoint:
    """Where a pass stood: what it had taken in hand, could take next, and had learnt."""

    taken: int
    waits: dict[str, int]
    ready: tuple[str, ...]
    held: tuple[str, ...]
    floors: dict[str, int]
    late: frozenset[str]
    standing: tuple[str, ...]
    order: PriorityOrder


class SerialGeneration:
    """Inserts every activity of a network in one order, all at once or some at a time."""

    def __init__(
        self,
        network: Network,
        partial: PartialSchedule,
        orders: PriorityRules,
        order: PriorityOrder,
        needed: Mapping[str, frozenset[str]],
    ) -> None:
        self.partial = partial
        self.not_before: Mapping[str, int] = {}
        """Starts before which activities are not placed for now."""
        self.stuck = False
        """No way on was found: no room before the calendars end, or a limit on open trench."""
        self._network, self._orders, self._order = network, orders, order
        self._standing = OpenStretches(network, partial, needed)
        self._floors = dict(order.floors)
        self._late: set[str] = set()
        self._fixed = self._put_fixed()
        self._waits = {
            a: sum(not p.link.at_most for p in precedences) for a, precedences in partial.propagation.into.items()
        }
        self._within: frozenset[str] | None = None
        self._ready: list[Entry] = []
        self._held: list[Entry] = []
        self._later: list[str] = []
        self.taken: list[str] = []
        """Activities taken in hand, in turn."""
        self._offer(a for a, n in self._waits.items() if n == 0)

    @property
    def complete(self) -> bool:
        """Whether every activity has its dates and no rule is broken."""
        return len(self.taken) == len(self._waits) and self.sound

    @property
    def sound(self) -> bool:
        """Whether no rule is broken so far, and a way on was found."""
        return not self.stuck and not self._late and self._floors == self._order.floors

    def learnt(self) -> PriorityOrder:
        """Return the order for a next pass: what proved too early waits, what proved late is taken first."""
        urgent = self._order.urgent | self._orders.before(self._late)
        return replace(self._order, floors=self._floors, urgent=urgent)

    def _put_fixed(self) -> frozenset[str]:
        """Set activities that have one possible start before all others, so that nothing takes their place."""
        fixed = []
        for activity, start in self._orders.first.items():
            if start == self._orders.last[activity] and self.partial.earliest(activity, start) == start:
                self.partial.insert(activity, start)
                fixed.append(activity)
        return frozenset(fixed)

    def run(self, most: int | None = None) -> None:
        """Take so many more activities in hand, or all; fewer when the pass is stuck."""
        last = len(self._waits) if most is None else min(len(self.taken) + most, len(self._waits))
        while len(self.taken) < last and not self.stuck:
            if not self._ready:
                self.stuck = True
                return
            entry = heapq.heappop(self._ready)
            if self._must_wait(entry[-1]):
                heapq.heappush(self._held, entry)
            else:
                self._take(entry[-1])

    def mark(self) -> Checkpoint:
        """Return where the pass stands, for `back`; an earlier mark is of no use any more."""
        self.partial.begin_log()
        ready, held = (tuple(e[-1] for e in entries) for entries in (self._ready, self._held))
        standing = tuple(self._standing.stretches)
        waits, floors, late = dict(self._waits), dict(self._floors), frozenset(self._late)
        return Checkpoint(len(self.taken), waits, ready, held, floors, late, standing, self._order)

    def back(self, mark: Checkpoint) -> None:
        """Take back everything since the last mark."""
        self.partial.undo_log()
        del self.taken[mark.taken :]
        self._waits, self._floors, self._late = dict(mark.waits), dict(mark.floors), set(mark.late)
        self._standing.stretches = dict.fromkeys(mark.standing)
        self.stuck = False
        self._ready, self._held, self._later = [], [], []
        self._order, self._within = mark.order, None
        self._offer((*mark.ready, *mark.held))

    def go_on(self, order: PriorityOrder, within: frozenset[str] | None = None) -> None:
        """Take things in hand in another order from now on, and only these (None: all)."""
        waiting = (*(e[-1] for e in self._ready), *(e[-1] for e in self._held), *self._later)
        self._ready, self._held, self._later = [], [], []
        self._order, self._within = order, within
        self._offer(waiting)

    def _offer(self, activities: Iterable[str]) -> None:
        for activity in activities:
            if self._within is None or activity in self._within:
                heapq.heappush(self._ready, (*self._order.key(activity), activity))
            else:
                self._later.append(activity)

    def _must_wait(self, activity: str) -> bool:
        if activity in self._fixed or activity not in self._orders.openers:
            return False
        return not self._standing.safe(activity)

    def _take(self, activity: str) -> None:
        if activity not in self._fixed and not self._place(activity):
            self.stuck = True
            return
        self.taken.append(activity)
        if self._standing.note(activity):
            self._release()
        for precedence in self.partial.propagation.out_of[activity]:
            if not precedence.link.at_most:
                self._waits[precedence.successor] -= 1
                if self._waits[precedence.successor] == 0:
                    self._offer((precedence.successor,))

    def _release(self) -> None:
        held, self._held = self._held, []
        for entry in held:
            heapq.heappush(self._ready, entry)

    def _place(self, activity: str) -> bool:
        partial = self.partial
        floor = max(partial.floor(activity), self._floors.get(activity, 0), self._orders.first[activity])
        start = partial.earliest(activity, max(floor, self.not_before.get(activity, 0)))
        if start is None:
            return False
        if start > self._orders.last[activity]:
            self._late.add(activity)
        partial.insert(activity, start)
        if self._fixed or activity in self._orders.limiting:
            self._make_way(activity)
        return True

    def _make_way(self, activity: str) -> None:
        """Move activities that were placed too early for this one; note those that cannot be moved."""
        partial = self.partial
        for precedence in partial.propagation.out_of[activity]:
            if precedence.successor not in partial.spans:
                continue
            floor = partial.propagation.floor(precedence, partial.spans[activity])
            if floor is not None and floor <= partial.spans[precedence.successor][0]:
                continue
            if precedence.successor in self._fixed or floor is None:
                self._late.add(activity)
            elif not self._delay(precedence.successor, floor):
                self._floors[precedence.successor] = max(floor, self._floors.get(precedence.successor, 0))

    def _delay(self, activity: str, floor: int) -> bool:
        partial = self.partial
        old, _ = partial.remove(activity)
        start = partial.earliest(activity, max(floor, partial.floor(activity), self._orders.first[activity]))
        fits = start is not None and start <= min(partial.ceiling(activity), self._orders.last[activity])
        partial.insert(activity, start if fits and start is not None else old)
        return fits
