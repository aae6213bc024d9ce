"""Making crews and machines change their stretch less often, and closing hours cut less work into minutes.

Some work is taken off a plan and put back in another order: that of one stretch beside other work there. What then
no longer follows what it must follow is put back anew too. A change is kept where the plan finishes no later, has no
more of what the aims before made small, and is as steady as before or, early on, hardly less so.

Source: ruin and recreate as in Schrimpf, Schneider, Stamm-Wilbrandt and Dueck, "Record
breaking optimization results using the ruin and recreate principle" (2000).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from itertools import groupby
from random import Random

from scheduler.network.dates import Propagation
from scheduler.network.model import Network
from scheduler.schedule import Schedule, Span
from scheduler.solve.first_plan.calendar_fit import CalendarFit
from scheduler.solve.first_plan.partial_schedule import PartialSchedule, plannable
from scheduler.solve.improvement.reinsertion import Reinsertion
from scheduler.steadiness import Steadiness, moves_in

WARMTH = 0.3
"""How many moves more a change may bring at first."""
TRIED, OF_ALL = 5, 100
"""What a change counts for beside what it inserts: activities inserted, and one for each so many of the job."""
DAYS = (0.25, 0.5, 1.0, 1.5)
"""How long the time is in which work is put back in another order [days]."""


@dataclass(frozen=True)
class _Change:
    """Work to take off a plan and put back: what has the lowest turn first, from a tick on or back from it."""

    turn: dict[str, int]
    forward: bool
    near: int


class SteadyWork:
    """A plan, and changes that make its parties move less between stretches."""

    def __init__(
        self, network: Network, schedule: Schedule, *, keeps: Callable[[Mapping[str, Span]], bool], seed: int
    ) -> None:
        """Take a plan that keeps every rule; `keeps` tells whether dates have all that must be kept but the finish."""
        job = plannable(network)
        propagation = Propagation(job)
        self._network, self._keeps, self._rng = network, keeps, Random(seed)
        self._partial = PartialSchedule(job, propagation, CalendarFit(job))
        earliest, latest = propagation.forward(), propagation.backward(schedule.finish)
        assert earliest is not None, "a network with a plan has earliest dates"
        assert latest is not None, "a network with a plan has latest dates"
        self._low = {a: start for a, (start, _) in earliest.items()}
        self._high = {a: start for a, (start, _) in latest.items()}
        self._steady = Steadiness(network, schedule.dates)
        self._digs = {o.opens for o in network.openings if o.length_ft > 0}
        movable = (a for a in network.activities if a.reach and not a.happened)
        self._work = [a.id for a in movable if a.id in self._steady.parties_of]
        self._partial.insert_all(schedule.dates)
        self.dates = dict(schedule.dates)
        """The best dates met."""

    def run(self, inserted: int, stopped: Callable[[], bool], tell: Callable[[int], None]) -> None:
        """Make changes until so many activities have been inserted, or nothing steadier is possible."""
        now = best = self._steady.total
        spent, each = 0, TRIED + len(self._network.activities) // OF_ALL
        while spent < inserted and best > self._steady.least and self._work and not stopped():
            worse, used = self._try(self._choose(), WARMTH * (1 - spent / inserted))
            spent += used + each
            now += worse
            if now < best:
                best, self.dates = now, dict(self._partial.spans)
                tell(best)

    def _try(self, change: _Change | None, warmth: float) -> tuple[int, int]:
        """Make one change if it is good enough; return how much less steady that is, and the activities inserted."""
        if change is None:
            return 0, 0
        spans = self._partial.spans
        attempt = Reinsertion(self._partial, self._low, self._high, forward=change.forward, near=change.near)
        attempt.lift_all(change.turn)
        if attempt.settle():
            if change.forward and self._rng.random() < 0.5:
                self._dig_late(attempt.old)
            moved = [a for a, span in attempt.old.items() if spans[a] != span]
            worse = self._steady.worse(spans, moved)
            if (worse <= 0 or self._rng.random() < math.exp(-worse / max(warmth, 1e-9))) and self._keeps(spans):
                self._steady.keep()
                return worse, attempt.placed
        attempt.undo()
        return 0, attempt.placed

    def _dig_late(self, activities: Iterable[str]) -> None:
        """Move what opens trench as late as it goes, so that none stands open for longer."""
        partial = self._partial
        for activity in sorted(self._digs.intersection(activities)):
            old, _ = partial.remove(activity)
            start = partial.latest(activity, min(self._high[activity], partial.ceiling(activity)))
            partial.insert(activity, old if start is None else max(start, old))

    def _choose(self) -> _Change | None:
        chance = self._rng.random()
        if chance < 0.15 and any(self._steady.cut.values()):
            return self._whole()
        if chance < 0.6:
            return self._together()
        return self._stretch_early_or_late() if chance < 0.8 else self._stretch_by_stretch()

    def _together(self) -> _Change | None:
        """Bring two turns of one party in one stretch together: what lies between comes after them, or before."""
        rng, spans = self._rng, self._partial.spans
        moves = [moves_in(self._steady.rows[p.id]) for p in self._steady.parties]
        if not any(moves):
            return None
        (party,) = rng.choices(self._steady.parties, moves)
        row = rng.choice([r for r in self._steady.rows[party.id] if moves_in([r])])
        turns = [(reach, [a.id for a in work]) for reach, work in groupby(row, key=lambda a: a.reach)]
        pairs, last = list[tuple[int, int]](), dict[str, int]()
        for k, (reach, _) in enumerate(turns):
            if reach in last:
                pairs.append((last[reach], k))
            last[reach] = k
        if not pairs:
            return None
        first, then = rng.choices(pairs, [1 / (j - i) for i, j in pairs])[0]
        between = [a for _, work in turns[first + 1 : then] for a in work]
        forward = rng.random() < 0.5
        stays, comes = (turns[first][1], turns[then][1]) if forward else (turns[then][1], turns[first][1])
        near = spans[stays[-1]][1] if forward else spans[stays[0]][0]
        return _Change({**dict.fromkeys(comes, 0), **dict.fromkeys(between, 1)}, forward, near)

    def _stretch_by_stretch(self) -> _Change:
        """Put back all work of some hours, one stretch after another."""
        rng, spans = self._rng, self._partial.spans
        first = spans[rng.choice(self._work)][0]
        inside = self._starting(first, first + self._some_days())
        order = list(dict.fromkeys(self._network.by_id[a].reach for a in inside))
        if rng.random() < 0.5:
            order.insert(rng.randrange(len(order)), order.pop(rng.randrange(len(order))))
        forward = rng.random() < 0.5
        if not forward:
            order.reverse()
        turn = {a: order.index(self._network.by_id[a].reach) for a in inside}
        return _Change(turn, forward, first if forward else spans[inside[-1]][0])

    def _stretch_early_or_late(self) -> _Change:
        """Put the work of one stretch in some hours earlier or later, before other work of its parties there."""
        rng, spans = self._rng, self._partial.spans
        anchor = rng.choice(self._work)
        reach, first, day = self._network.by_id[anchor].reach, spans[anchor][0], self._network.clock.ticks(days=1)
        last = first + self._some_days()
        mine = [a for a in self._starting(first, last) if self._network.by_id[a].reach == reach]
        forward = rng.random() < 0.5
        near = first - rng.randint(0, day) if forward else last + rng.randint(0, day)
        parties = {p.id for a in mine for p in self._steady.parties_of[a]}
        around = self._starting(min(near, first), max(near, last))
        others = [a for a in around if a not in mine and any(p.id in parties for p in self._steady.parties_of[a])]
        if not forward:
            others.reverse()
        in_turn = rng.random() < 0.5
        return _Change({**dict.fromkeys(mine, 0), **{a: 1 + k * in_turn for k, a in enumerate(others)}}, forward, near)

    def _whole(self) -> _Change | None:
        """Put work that is cut by closing hours before them, or after them, and other work of its parties around it."""
        rng, spans = self._rng, self._partial.spans
        cut = [a for a in self._work if self._steady.cut[a]]
        if not cut:
            return None
        activity = rng.choice(cut)
        (start, finish), day = spans[activity], self._network.clock.ticks(days=1)
        closes = self._network.calendar_of(activity).window_at(start)
        forward = rng.random() < 0.5 and closes is not None
        near = closes[1] if forward and closes is not None else start
        parties = {p.id for p in self._steady.parties_of[activity]}
        around = self._starting(start, finish + day) if forward else self._starting(start - day, finish)
        others = [a for a in around if a != activity and any(p.id in parties for p in self._steady.parties_of[a])]
        mine = int(rng.random() < 0.5)
        return _Change({activity: mine, **dict.fromkeys(others, 1 - mine)}, forward, near)

    def _some_days(self) -> int:
        return self._network.clock.ticks(days=self._rng.choice(DAYS))

    def _starting(self, first: int, after: int) -> list[str]:
        """Return the work that starts from one tick on and before another, in order of time."""
        spans = self._partial.spans
        return sorted((a for a in self._work if first <= spans[a][0] < after), key=lambda a: (spans[a], a))
