"""Making a whole plan leave less trench open, without any search tree and without a later finish.

Reaches are removed from the plan and inserted elsewhere; whatever then no longer follows what it
must follow is removed and inserted anew too. After each such move the work of those reaches is
pushed towards its cover, so that nothing is dug sooner than it must be. A move is kept when
it leaves less open, or, early on, only a little more.

Source: ruin and recreate as in Schrimpf, Schneider, Stamm-Wilbrandt and Dueck, "Record
breaking optimization results using the ruin and recreate principle" (2000).
"""

from __future__ import annotations

import heapq
import math
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Mapping
from random import Random

from scheduler.measures import midnights
from scheduler.network.dates import Propagation
from scheduler.network.model import Network, Opening
from scheduler.schedule import Span
from scheduler.solve.first_plan.calendar_fit import CalendarFit
from scheduler.solve.first_plan.partial_schedule import PartialSchedule, plannable

MOST_LIFTED = 200
"""A move that takes more activities off the plan than this is given up."""
REACHES_MOVED = (1, 2, 3, 4)
WARMTH = 0.002
"""How much worse a move may be at first, as a share of the exposure at the start."""
PER_TICK = 1e-6
"""Weight of open ticks beside open nights, so that nights shrink before they vanish."""
UNBOUNDED = 1 << 40


class RuinAndRecreate:
    """A plan, and moves that make it leave less trench open."""

    def __init__(self, network: Network, dates: Mapping[str, Span], *, last_finish: int, seed: int) -> None:
        """Take a plan that keeps every rule; nothing will finish after `last_finish` [clock tick]."""
        self._job = plannable(network)
        self._propagation = Propagation(self._job)
        self._partial = PartialSchedule(self._job, self._propagation, CalendarFit(self._job))
        self._rng = Random(seed)
        earliest, latest = self._propagation.forward(), self._propagation.backward(last_finish)
        assert earliest is not None, "a network with a plan has earliest dates"
        assert latest is not None, "a network with a plan has latest dates"
        self._low = {a: start for a, (start, _) in earliest.items()}
        self._high = {a: start for a, (start, _) in latest.items()}
        self._nights = midnights(network.clock, network.data_date, network.horizon)
        self._openings = [o for o in network.openings if o.length_ft > 0]
        self._closers = {o.closes for o in self._openings}
        self._of_reach: dict[str, list[Opening]] = {}
        for opening in self._openings:
            self._of_reach.setdefault(opening.reach, []).append(opening)
        self._work_of: dict[str, list[str]] = {reach: [] for reach in self._of_reach}
        for reach, openings in self._of_reach.items():
            found = {a.id for a in network.activities if a.reach == reach}
            found |= {end for o in openings for end in (o.opens, o.closes)}
            self._work_of[reach] = sorted(found)
        self._partial.insert_all(dates)

    @property
    def dates(self) -> dict[str, Span]:
        """The plan as it stands."""
        return dict(self._partial.spans)

    @property
    def exposure(self) -> float:
        """Feet times nights left open, with a trace of feet times ticks."""
        return sum(self._cost(o, self._partial.spans) for o in self._openings)

    def run(self, inserted: int, stopped: Callable[[], bool], tell: Callable[[float], None]) -> None:
        """Make moves until so many activities have been inserted; the plan ends as the best one met."""
        for _ in range(2):
            self._push_late(self._partial.spans)
        best, best_dates = self.exposure, self.dates
        now, warm, spent = best, WARMTH * best, 0
        while spent < inserted and self._openings and not stopped():
            change, used = self._move(warm * (1 - spent / inserted))
            spent += used
            now += change
            if now < best - 0.5:
                best, best_dates = now, self.dates
                tell(best)
        self._restore(best_dates)

    def _cost(self, opening: Opening, spans: Mapping[str, Span]) -> float:
        start, finish = spans[opening.opens][0], spans[opening.closes][1]
        nights = max(0, bisect_left(self._nights, finish) - bisect_right(self._nights, start))
        return opening.length_ft * (nights + PER_TICK * (finish - start))

    def _move(self, warmth: float) -> tuple[float, int]:
        """Try one move; return by how much the exposure changed, and the activities inserted."""
        reaches = self._choose()
        spans = [
            (self._partial.spans[o.opens][0], self._partial.spans[o.closes][1])
            for r in reaches
            for o in self._of_reach[r]
        ]
        first, last = min(s for s, _ in spans), max(f for _, f in spans)
        wide = (last - first) // 2
        forward = self._rng.random() < 0.5
        near = self._rng.randint(first - wide, last) if forward else self._rng.randint(first, last + wide)
        attempt = Reinsertion(self._partial, self._low, self._high, forward=forward, near=near)
        turn = {a: i for i, r in enumerate(reaches) for a in self._work_of[r]}
        in_turn = self._rng.random() < 0.5
        attempt.lift_all({a: i if in_turn else 0 for a, i in turn.items()})
        if attempt.settle():
            if forward:
                self._push_late(attempt.old)
            touched = [o for o in self._openings if o.opens in attempt.old or o.closes in attempt.old]
            before = {**self._partial.spans, **attempt.old}
            change = sum(self._cost(o, self._partial.spans) - self._cost(o, before) for o in touched)
            if change <= 0 or (warmth > 0 and self._rng.random() < math.exp(-change / warmth)):
                return change, attempt.placed
        attempt.undo()
        return 0.0, attempt.placed

    def _choose(self) -> list[str]:
        """Return a few reaches: ones dug at about the same time, or any."""
        every = list(self._of_reach)
        costs = [sum(self._cost(o, self._partial.spans) for o in self._of_reach[r]) for r in every]
        first = self._rng.choices(every, costs)[0]
        count = min(self._rng.choice(REACHES_MOVED), len(every))
        opened = {r: self._partial.spans[self._of_reach[r][0].opens][0] for r in every}
        if self._rng.random() < 0.6:
            chosen = sorted(every, key=lambda r: (abs(opened[r] - opened[first]), r))[:count]
        else:
            chosen = [first, *self._rng.sample([r for r in every if r != first], count - 1)]
        self._rng.shuffle(chosen)
        return chosen

    def _push_late(self, activities: Iterable[str]) -> None:
        """Move activities as late as they go, save those that end an opening."""
        partial = self._partial
        for activity in sorted(activities, key=lambda a: (-partial.spans[a][1], -partial.spans[a][0], a)):
            if activity in self._closers:
                continue
            old, _ = partial.remove(activity)
            start = partial.latest(activity, min(self._high[activity], partial.ceiling(activity)))
            partial.insert(activity, old if start is None else max(start, old))

    def _restore(self, dates: Mapping[str, Span]) -> None:
        changed = {a: span for a, span in dates.items() if self._partial.spans[a] != span}
        for activity in changed:
            self._partial.remove(activity)
        self._partial.insert_all(changed)


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
