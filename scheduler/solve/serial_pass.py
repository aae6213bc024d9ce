"""One pass of the serial generator: every activity put where it first fits, in one order."""

from __future__ import annotations

import heapq
from collections.abc import Mapping
from dataclasses import replace

from scheduler.network.model import Network
from scheduler.solve.serial_board import Board
from scheduler.solve.serial_order import Order, Orders
from scheduler.solve.serial_standing import Standing

Entry = tuple[int, float, int, str]


class Pass:
    """Puts every activity of a network on a board, in one order; the work is done when it is made."""

    def __init__(
        self, network: Network, board: Board, orders: Orders, order: Order, needed: Mapping[str, frozenset[str]]
    ) -> None:
        self.board = board
        self.stuck = False
        """No way on was found: no room before the calendars end, or a limit on open trench."""
        self._network, self._orders, self._order = network, orders, order
        self._standing = Standing(network, board, needed, order.standing)
        self._floors = dict(order.floors)
        self._late: set[str] = set()
        self._fixed = self._put_fixed()
        self._run()

    @property
    def complete(self) -> bool:
        """Whether every activity has its dates and no rule is broken."""
        return not self.stuck and not self._late and self._floors == self._order.floors

    def learnt(self) -> Order:
        """Return the order for a next pass: what proved too early waits, what proved late is taken first."""
        urgent = self._order.urgent | self._orders.before(self._late)
        return replace(self._order, floors=self._floors, urgent=urgent)

    def _put_fixed(self) -> frozenset[str]:
        """Set activities that have one possible start before all others, so that nothing takes their place."""
        fixed = []
        for activity, start in self._orders.first.items():
            if start == self._orders.last[activity] and self.board.earliest(activity, start) == start:
                self.board.put(activity, start)
                fixed.append(activity)
        return frozenset(fixed)

    def _run(self) -> None:
        out_of = self.board.reckoning.out_of
        waits = {a: sum(not p.link.at_most for p in pulls) for a, pulls in self.board.reckoning.into.items()}
        ready: list[Entry] = [(*self._order.key(a), a) for a, n in waits.items() if n == 0]
        held: list[Entry] = []
        heapq.heapify(ready)
        while ready or held:
            if not ready:
                if not self._let_more_stand(held):
                    self.stuck = True
                    return
                ready, held = held, []
            entry = heapq.heappop(ready)
            activity = entry[-1]
            if activity not in self._fixed:
                if activity in self._orders.openers and (self._standing.full() or not self._standing.safe(activity)):
                    heapq.heappush(held, entry)
                    continue
                if not self._place(activity):
                    self.stuck = True
                    return
            if self._standing.note(activity):
                ready, held = list(heapq.merge(ready, held)) if held else ready, []
                heapq.heapify(ready)
            for pull in out_of[activity]:
                if not pull.link.at_most:
                    waits[pull.of] -= 1
                    if waits[pull.of] == 0:
                        heapq.heappush(ready, (*self._order.key(pull.of), pull.of))

    def _let_more_stand(self, held: list[Entry]) -> bool:
        """Raise this pass's own count of open stretches, when that alone stops it."""
        if not self._standing.full() or not any(self._standing.safe(e[-1]) for e in held):
            return False
        self._standing.most = (self._standing.most or 0) + 1
        return True

    def _place(self, activity: str) -> bool:
        board = self.board
        floor = max(board.floor(activity), self._floors.get(activity, 0), self._orders.first[activity])
        start = board.earliest(activity, floor)
        if start is None:
            return False
        if start > self._orders.last[activity]:
            self._late.add(activity)
        board.put(activity, start)
        if self._fixed or activity in self._orders.limiting:
            self._make_way(activity)
        return True

    def _make_way(self, activity: str) -> None:
        """Move activities that were put too early for this one; note those that cannot be moved."""
        board = self.board
        for pull in board.reckoning.out_of[activity]:
            if pull.of not in board.spans:
                continue
            floor = board.reckoning.floor(pull, board.spans[activity])
            if floor is not None and floor <= board.spans[pull.of][0]:
                continue
            if pull.of in self._fixed or floor is None:
                self._late.add(activity)
            elif not self._delay(pull.of, floor):
                self._floors[pull.of] = max(floor, self._floors.get(pull.of, 0))

    def _delay(self, activity: str, floor: int) -> bool:
        board = self.board
        old, _ = board.lift(activity)
        start = board.earliest(activity, max(floor, board.floor(activity), self._orders.first[activity]))
        fits = start is not None and start <= min(board.ceiling(activity), self._orders.last[activity])
        board.put(activity, start if fits and start is not None else old)
        return fits
