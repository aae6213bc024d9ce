"""A plan built a few days at a time: each piece is placed in several orders, and the best is kept.

What matters is that the busiest party is done with its share of a piece early, so that it never
waits: every tick it loses is a tick of the finish. A piece in which it loses none is not tried again.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import accumulate
from random import Random

from scheduler.network.dates import reached
from scheduler.network.model import Network
from scheduler.network.normal import Capacity
from scheduler.schedule import Span
from scheduler.solve.first_plan.calendar_fit import CalendarFit
from scheduler.solve.first_plan.justification import finish_of
from scheduler.solve.first_plan.partial_schedule import PartialSchedule
from scheduler.solve.first_plan.priority import Key, PriorityOrder
from scheduler.solve.first_plan.serial_generation import SerialGeneration

SIZES = (60, 45, 90)
"""Activities in a piece, one plan after the other, so that pieces meet at other places."""
TRIES, TRIES_AT_END = 11, 30
"""Other orders in which a piece is placed at most. A choice: no measurement of it is kept."""
FAR_DAYS = 2.0
"""By how much an activity may be taken in hand sooner or later than in the order tried before."""
FOR_WINDOWS = 0.4
"""How often a trial also places an activity, or all it can, inside one window, or no longer does."""
FOR_SOONER = 0.5
"""How often a trial brings something forward, with all it waits for, to a time at which the busiest party waits."""
NEXT = 8
"""From how many of the busiest party's next activities that one is chosen."""
SLIGHT = 1e-3
"""What the finish of all other work counts beside that of the busiest party."""


@dataclass(frozen=True, slots=True)
class PieceTrial:
    """One way to place a piece: in what order, which of it inside one window, and what no sooner than it stood."""

    keys: Mapping[str, Key]
    whole: frozenset[str] = frozenset()
    floors: Mapping[str, int] = field(default_factory=dict)
    """Starts before which activities are not placed: where they stood in the plan to be bettered."""


@dataclass(frozen=True, slots=True)
class PieceResult:
    """A trial as it came out: what it is worth, what the busiest party has lost by then, and its dates."""

    trial: PieceTrial
    worth: tuple[bool, int, float]
    """The less the better: whether it went wrong; at the end, the finish; when the busiest party is done."""
    lost: int
    spans: Mapping[str, Span]


class RollingHorizon:
    """Completes passes over one network piece by piece."""

    def __init__(self, network: Network, busiest: Capacity, fits: CalendarFit, rng: Random) -> None:
        """`busiest` is the party that must not wait."""
        self._rng, self._hours, self._may_waste = rng, fits.hours[busiest.id], frozenset(fits.whole)
        self._capacity = busiest.units
        self._work = {use.first: network.by_id[use.first].work * use.units for use in busiest.uses}
        self._reach = {a.id: a.reach for a in network.activities if a.reach}
        self._far = network.clock.ticks(days=FAR_DAYS)
        self._first, self._count = network.data_date, len(network.activities)
        self.placed = 0
        """Activities placed by the latest pass."""

    def complete(
        self, made: SerialGeneration, base: PriorityOrder, size: int, starts: Mapping[str, int], most: int
    ) -> int:
        """Take all that is left of a pass in hand, about `size` activities at a time; fewer when it is stuck.

        `starts` is the plan to be bettered: a piece in which the busiest party waits is also
        placed as it stands there. Returns the activities placed; no more trials are made after `most`.
        """
        self.placed = 0
        lost, left = 0, self._count - len(made.taken)
        size = -(-left // max(1, round(left / size)))  # so that the last piece is no smaller than the others
        while len(made.taken) < self._count:
            mark = made.mark()
            made.run(size)
            part = made.taken[mark.taken :]
            self.placed += len(part)
            if made.stuck:
                break
            at_end = len(made.taken) == self._count
            best = last = self._done(made, PieceTrial({a: base.keys[a] for a in part}))
            for n in range(TRIES_AT_END if at_end else TRIES):
                if (best.lost <= lost and not at_end) or self.placed >= most:
                    break
                as_it_stood = replace(best.trial, floors={a: starts[a] for a in part})
                other = as_it_stood if n == 0 else self._other(best, made.partial)
                made.back(mark)
                last = self._put(made, base, other)
                if last.worth < best.worth or (n == 0 and last.worth == best.worth):
                    best = last
            if last is not best:
                made.back(mark)
                self._put(made, base, best.trial)
            made.go_on(base)
            made.partial.whole, made.partial.thrifty, made.not_before = frozenset(), True, {}
            lost = best.lost
        return self.placed

    def _put(self, made: SerialGeneration, base: PriorityOrder, trial: PieceTrial) -> PieceResult:
        made.partial.whole, made.partial.thrifty, made.not_before = trial.whole, not trial.floors, trial.floors
        made.go_on(replace(base, keys=trial.keys), frozenset(trial.keys))
        made.run(len(trial.keys))
        self.placed += len(trial.keys)
        return self._done(made, trial)

    def _done(self, made: SerialGeneration, trial: PieceTrial) -> PieceResult:
        spans = made.partial.spans
        if made.stuck:
            return PieceResult(trial, (True, 0, 0.0), self._lost(made.partial), {})
        finish = finish_of(made.partial) if len(made.taken) == self._count else 0
        put = {a: spans[a] for a in trial.keys}
        late = sum((self._work.get(a, 0) + SLIGHT) * end for a, (_, end) in put.items())
        return PieceResult(trial, (not made.sound, finish, late), self._lost(made.partial), put)

    def _lost(self, partial: PartialSchedule) -> int:
        """Return the units of the busiest party's hours that passed without work, up to its last work."""
        done = [a for a in self._work if a in partial.spans]
        last = max((partial.spans[a][1] for a in done), default=self._first)
        return self._capacity * self._hours.open_ticks(self._first, last) - sum(self._work[a] for a in done)

    def _other(self, best: PieceResult, partial: PartialSchedule) -> PieceTrial:
        """Return a trial a change away from the best so far."""
        gaps = self._gaps(best.spans)
        if gaps and self._rng.random() < FOR_SOONER:
            return self._sooner(best, self._rng.choice(gaps), partial)
        return self._near(best.trial)

    def _gaps(self, spans: Mapping[str, Span]) -> list[Span]:
        """Return when the busiest party waits between its first and its last work among these dates."""
        mine = sorted(span for a, span in spans.items() if a in self._work)
        ends = accumulate((finish for _, finish in mine), max)
        between = ((end, start) for end, (start, _) in zip(ends, mine[1:], strict=False))
        return [gap for gap in between if self._hours.open_ticks(*gap) > 0]

    def _sooner(self, best: PieceResult, gap: Span, partial: PartialSchedule) -> PieceTrial:
        """Return a trial in which something comes to a gap, with all it waits for; what stands before stays."""
        begins, ends = gap
        later = sorted((s, a) for a, (s, _) in best.spans.items() if a in self._work and s >= ends)
        start, one = self._rng.choice(later[:NEXT])
        into = partial.propagation.into
        chain = reached(
            [one], lambda a: (p.predecessor for p in into[a] if not p.link.at_most and p.predecessor in best.spans)
        )
        keys, floors = dict(best.trial.keys), best.trial.floors
        for a in chain:
            need, place = keys[a]
            keys[a] = (need + begins - start, place)
        stays = {a: s for a, s in floors.items() if a not in chain and best.spans[a][0] < begins}
        return PieceTrial(keys, best.trial.whole, stays)

    def _near(self, trial: PieceTrial) -> PieceTrial:
        """Return a trial a small change away."""
        keys, whole, part = dict(trial.keys), trial.whole, tuple(trial.keys)
        if (may := self._may_waste.intersection(part)) and self._rng.random() < FOR_WINDOWS:
            if self._rng.random() < 0.5:
                whole = whole ^ {self._rng.choice(sorted(may))}
            else:
                whole = whole - may if whole & may else whole | may
        for _ in range(self._rng.choice((1, 1, 2, 4))):
            one = self._rng.choice(part)
            reach = self._reach.get(one)
            together = reach is not None and self._rng.random() < 0.5
            by = self._rng.uniform(-self._far, self._far)
            for a in (b for b in part if self._reach.get(b) == reach) if together else (one,):
                need, place = keys[a]
                keys[a] = (need + by, place)
        return PieceTrial(keys, whole)
