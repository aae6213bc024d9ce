"""A plan built a few days at a time: each piece is put in several orders, and the best is kept.

What matters is that the busiest party is done with its share of a piece early, so that it never
waits: every tick it loses is a tick of the finish. A piece in which it loses none is not tried again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from random import Random

from scheduler.network.model import Network
from scheduler.solve.serial_better import finish_of
from scheduler.solve.serial_board import Board
from scheduler.solve.serial_fits import Fits
from scheduler.solve.serial_order import Key, Order
from scheduler.solve.serial_pass import Pass

SIZES = (60, 45, 90)
"""Activities in a piece, one plan after the other, so that pieces meet at other places."""
TRIES, TRIES_AT_END = 11, 30
"""Other orders in which a piece is put at most (measured: more cost more than they gain)."""
FAR_DAYS = 2.0
"""By how much an activity may be taken in hand sooner or later than in the order tried before."""
FOR_WINDOWS = 0.4
"""How often a trial also puts an activity, or all it can, inside one window, or no longer does."""
SLIGHT = 1e-3
"""What the finish of all other work counts beside that of the busiest party."""


@dataclass(frozen=True, slots=True)
class Trial:
    """One way to put a piece: in what order, and which of it inside one window."""

    keys: Mapping[str, Key]
    whole: frozenset[str]


class Pieces:
    """Completes passes over one network piece by piece."""

    def __init__(self, network: Network, busiest: str, fits: Fits, rng: Random) -> None:
        """`busiest` is the party that must not wait."""
        self._rng, self._hours, self._may_waste = rng, fits.hours[busiest], frozenset(fits.whole)
        self._capacity = network.resource_by_id[busiest].capacity
        self._work = {a.id: a.work * n for a in network.activities for r, n in a.needs if r == busiest and a.work}
        self._reach = {a.id: a.reach for a in network.activities if a.reach}
        self._far = network.clock.ticks(days=FAR_DAYS)
        self._first, self._count = network.data_date, len(network.activities)
        self.puts = 0
        """Activities put so far."""

    def complete(self, made: Pass, base: Order, size: int) -> None:
        """Take all that is left of a pass in hand, about `size` activities at a time; fewer when it is stuck."""
        lost, left = 0, self._count - len(made.taken)
        size = -(-left // max(1, round(left / size)))  # so that the last piece is no smaller than the others
        while len(made.taken) < self._count:
            mark = made.mark()
            made.run(size)
            part = made.taken[mark.taken :]
            self.puts += len(part)
            if made.stuck:
                return
            at_end = len(made.taken) == self._count
            best = last = Trial({a: base.keys[a] for a in part}, base.whole)
            worth, least = self._worth(made, part), self._lost(made.board)
            for _ in range(TRIES_AT_END if at_end else TRIES):
                if least <= lost and not at_end:
                    break
                made.back(mark)
                last = self._near(best, part)
                self._put(made, base, last)
                if (other := self._worth(made, part)) < worth:
                    best, worth, least = last, other, self._lost(made.board)
            if last is not best:
                made.back(mark)
                self._put(made, base, best)
            made.go_on(base)
            made.board.whole = base.whole
            lost = least

    def _put(self, made: Pass, base: Order, trial: Trial) -> None:
        made.board.whole = trial.whole
        made.go_on(replace(base, keys=trial.keys), frozenset(trial.keys))
        made.run(len(trial.keys))
        self.puts += len(trial.keys)

    def _worth(self, made: Pass, part: Sequence[str]) -> tuple[bool, int, float]:
        """Return what a piece is judged by, the less the better.

        Whether it went wrong; at the end, when everything is finished; when the busiest party is.
        """
        spans = made.board.spans
        if made.stuck:
            return True, 0, 0.0
        finish = finish_of(made.board) if len(made.taken) == self._count else 0
        return not made.sound, finish, sum((self._work.get(a, 0) + SLIGHT) * spans[a][1] for a in part)

    def _lost(self, board: Board) -> int:
        """Return the units of the busiest party's hours that passed without work, up to its last work."""
        done = [a for a in self._work if a in board.spans]
        last = max((board.spans[a][1] for a in done), default=self._first)
        return self._capacity * self._hours.open_ticks(self._first, last) - sum(self._work[a] for a in done)

    def _near(self, trial: Trial, part: Sequence[str]) -> Trial:
        """Return a trial a small change away."""
        keys, whole = dict(trial.keys), trial.whole
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
                rank, need, place = keys[a]
                keys[a] = (rank, need + by, place)
        return Trial(keys, whole)
