"""A few activities taken off a plan and put back elsewhere, with all that must move for them.

Source: ruin and recreate as in Schrimpf, Schneider, Stamm-Wilbrandt and Dueck, "Record
breaking optimization results using the ruin and recreate principle" (2000).
"""

from __future__ import annotations

import heapq
from collections.abc import Mapping

from scheduler.schedule import Span
from scheduler.solve.first_plan.partial_schedule import PartialSchedule

MOST_LIFTED = 200
"""A move that takes more activities off the plan than this is given up."""
UNBOUNDED = 1 << 40


class Reinsertion:
    """One move: activities lifted off a partial, and those they push, until all stand again."""

    def __init__(
        self, partial: PartialSchedule, low: Mapping[str, int], high: Mapping[str, int], *, forward: bool, near: int
    ) -> None:
        self._partial, self._low, self._high = partial, low, high
        self._forward, self._near = forward, near
        self._waiting: list[tuple[int, int, str]] = []
        self._turn: Mapping[str, int] = {}
        self.old: dict[str, Span] = {}
        self.placed = 0

    def lift_all(self, turn: Mapping[str, int]) -> None:
        """Remove activities; those of a lower turn are inserted again first."""
        self._turn = turn
        for activity in turn:
            self._lift(activity)

    def settle(self) -> bool:
        """Insert everything again where it fits, pushing what is in the way of a link; False if it can't be done."""
        while self._waiting and len(self.old) <= MOST_LIFTED:
            activity = heapq.heappop(self._waiting)[2]
            start = self._earliest(activity) if self._forward else self._latest(activity)
            if start is None:
                return False
            self._partial.insert(activity, start)
            self.placed += 1
            for pushed in self._pushed_by(activity):
                self._lift(pushed)
        return not self._waiting

    def undo(self) -> None:
        """Put everything back where it was."""
        for activity in self.old:
            if activity in self._partial.spans:
                self._partial.remove(activity)
        self._partial.insert_all(self.old)
        self.placed += len(self.old)

    def _lift(self, activity: str) -> None:
        span = self._partial.remove(activity)
        self.old.setdefault(activity, span)
        rank = self._partial.propagation.rank[activity]
        heapq.heappush(
            self._waiting, (self._turn.get(activity, len(self._turn)), rank if self._forward else -rank, activity)
        )

    def _earliest(self, activity: str) -> int | None:
        partial = self._partial
        floor = max(partial.floor(activity), self._near if activity in self._turn else self._low[activity])
        allowed = partial.propagation.allowed_from(activity, floor)
        start = None if allowed is None else partial.earliest(activity, allowed)
        return start if start is not None and start <= self._high[activity] else None

    def _latest(self, activity: str) -> int | None:
        partial = self._partial
        near = self._near if activity in self._turn else UNBOUNDED
        start = partial.latest(activity, min(self._high[activity], partial.ceiling(activity), near))
        return start if start is not None and start >= self._low[activity] else None

    def _pushed_by(self, activity: str) -> list[str]:
        """Return what stands too early after this activity, or too late before it."""
        partial, span = self._partial, self._partial.spans[activity]
        pushed = []
        if self._forward:
            for precedence in partial.propagation.out_of[activity]:
                if precedence.successor in partial.spans:
                    floor = partial.propagation.floor(precedence, span)
                    if floor is None or floor > partial.spans[precedence.successor][0]:
                        pushed.append(precedence.successor)
        else:
            for precedence in partial.propagation.into[activity]:
                if precedence.predecessor in partial.spans:
                    ceiling = partial.propagation.ceiling(precedence, span)
                    if ceiling is not None and ceiling < partial.spans[precedence.predecessor][0]:
                        pushed.append(precedence.predecessor)
        return list(dict.fromkeys(pushed))
