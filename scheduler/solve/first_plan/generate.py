"""A first plan without any search tree: activities put one by one where they first fit.

Many passes are made, each with another order of taking things in hand and another count of
reaches that may stand open at once; the best plan by finish, then by open trench, is bettered
by moving everything as late, then as early, as it will go, and by putting it anew piece by
piece. The number of passes follows from `budget_seconds` and the size of the network alone, so
the same network gives the same plan.

Source: serial schedule generation and forward-backward improvement as in Kolisch and
Hartmann, "Heuristic algorithms for the resource-constrained project scheduling problem" (1999).
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from dataclasses import dataclass
from random import Random

from scheduler.measures import exposure
from scheduler.network.dates import Propagation
from scheduler.network.model import Network
from scheduler.schedule import Schedule, Span
from scheduler.solve.first_plan.calendar_fit import Fits
from scheduler.solve.first_plan.justification import finish_of, pack
from scheduler.solve.first_plan.partial_schedule import Board, plannable
from scheduler.solve.first_plan.priority import Order, Orders
from scheduler.solve.first_plan.rolling_horizon import SIZES, Pieces
from scheduler.solve.first_plan.serial_generation import Pass
from scheduler.solve.first_plan.turns import Style, Turns
from scheduler.solve.formulation.dated import dated
from scheduler.solve.outcome import stopped

PUTS_PER_SECOND = 20_000
"""Activities put on a board per second on an ordinary machine (measured); sets how many passes a budget buys."""
SHAKES = ((0.1, 0.1), (0.3, 0.05), (0.05, 0.3), (1.0, 0.02))
"""How a good plan is shaken for another: the share of activities moved, and how far, as a share of the job."""
PACKING = ((1, 1.3), (3, 1.003))
"""Rounds of packing, and how far a plan's finish may be from the best for them to be worth while."""
LEAST_PASSES = 25
"""However small the budget, long jobs get moves for about so many passes."""
BEGINNINGS = (
    (12, Style.BY_TURN),
    (None, Style.BY_NEED),
    (4, Style.BY_TURN),
    (6, Style.BY_NEED),
    (12, Style.ONE_BY_ONE),
)
"""How many stretches may stand, and the style, of the turns tried first."""
FOR_BEGINNING = 0.6
"""Share of the moves spent at most on the turns to begin with."""
FOR_PIECES = 0.8
"""How often, after the beginning, the best plan is put anew piece by piece rather than changed by chance."""
REPAIRS = 6
"""Passes over with one order, each having learnt from the last what must wait or hurry."""


@dataclass(frozen=True, slots=True)
class Found:
    """A plan that breaks no rule, and what it is judged by."""

    finish: int
    exposure: float
    """Feet of trench times nights left open."""
    foot_ticks: float
    spans: dict[str, Span]

    @property
    def rank(self) -> tuple[int, float, float]:
        """Earlier finish first, then less trench left open."""
        return self.finish, self.exposure, self.foot_ticks


def generate(
    network: Network,
    *,
    budget_seconds: float = 1.0,
    seed: int = 0,
    enough: int | None = None,
    bettered: bool = True,
    stop: threading.Event | None = None,
) -> Schedule | None:
    """Return a schedule that keeps every rule of the network but its target, or None if none was found.

    `budget_seconds` is a guide for an ordinary machine, turned into a count of activities
    put; no clock is read. The search for an earlier finish ends at `enough` [tick]; a plan
    that early is returned as it comes, with trench open for longer, unless it is to be `bettered`.
    Setting `stop` ends the search after the pass in hand, with the best plan so far.
    """
    job = plannable(network)
    if not job.activities:
        return dated(network, {})
    propagation = Propagation(job)
    forward, latest = propagation.forward(), propagation.backward(job.horizon)
    if forward is None or latest is None:
        return None
    fits = Fits(job)
    search = _Search(job, propagation, fits, Orders(job, propagation, fits, forward, latest), Random(seed))
    search.left_from, search.stop = None if bettered else enough, stop
    moves = max(
        int(budget_seconds * PUTS_PER_SECOND), min(LEAST_PASSES, int(25 * budget_seconds)) * len(job.activities)
    )
    best = search.run(moves=moves, enough=-1 if enough is None else enough)
    return None if best is None else dated(network, best.spans)


class _Search:
    """Passes over one network, and the best plan they have found."""

    def __init__(self, job: Network, propagation: Propagation, fits: Fits, orders: Orders, rng: Random) -> None:
        self._job, self._propagation, self._fits = job, propagation, fits
        self._orders, self._needed = orders, orders.needed()
        self._rng = rng
        busiest = orders.busiest()
        self._pieces = Pieces(job, busiest, fits, rng) if busiest else None
        self._best: Found | None = None
        self._moves = 0
        self.left_from: int | None = None
        """Plans that finish by then are left as they come."""
        self.stop: threading.Event | None = None

    def run(self, *, moves: int, enough: int) -> Found | None:
        """Make passes worth so many moves and return the best plan found."""
        self._attempt(self._orders.by_need(), thrifty=False)
        began = self._begin(moves, enough)
        while self._moves < moves and self._best is not None and not self._is_over(enough):
            if self._pieces is not None and self._rng.random() < FOR_PIECES:
                self._by_pieces(self._pieces, self._best, moves - self._moves)
            elif began is not None and self._rng.random() < 0.7:
                began = self._turned(*began)
            else:
                whole = self._fits.whole if self._rng.random() < 0.5 else ()
                self._attempt(self._orders.following(self._shaken(self._best), whole=whole))
        return self._best

    def _is_over(self, enough: int) -> bool:
        """Return whether nothing earlier is wanted, or somebody asked to stop."""
        return stopped(self.stop) or (self._best is not None and self._best.finish <= enough)

    def _begin(self, moves: int, enough: int) -> tuple[Turns, Found] | None:
        """Try the turns to begin with while their share of the moves lasts; return the best of them."""
        best: tuple[Turns, Found] | None = None
        for turns in self._first_turns():
            if (found := self._attempt(self._orders.by_turns(turns))) is not None:
                best = (turns, found) if best is None or found.rank < best[1].rank else best
            if self._moves > moves * FOR_BEGINNING or self._is_over(enough):
                break
        return best

    def _first_turns(self) -> Iterator[Turns]:
        if not self._orders.openers:
            return
        sequences = self._orders.sequences()
        for whole in (True, False) if self._fits.whole else (False,):
            for standing, style in BEGINNINGS:
                for openers in sequences:
                    yield Turns(openers, style, standing, whole)

    def _turned(self, turns: Turns, found: Found) -> tuple[Turns, Found]:
        """Try other turns; return those to be changed next."""
        if self._rng.random() < 0.3:
            other = Turns.drawn(self._rng, turns.openers)
        else:
            last = sorted(self._job.openings, key=lambda o: -found.spans[o.closes][1])
            late = [o.opens for o in last[: max(1, len(last) // 4)]]
            other = turns.changed(self._rng, late, [a.id for a in self._job.activities])
        after = self._attempt(self._orders.by_turns(other))
        return (turns, found) if after is None or after.finish > found.finish else (other, after)

    def _shaken(self, found: Found) -> dict[str, float]:
        """Return the starts of a plan with some of them moved about by chance."""
        length = found.finish - self._job.data_date
        share, reach = self._rng.choice(SHAKES)
        return {
            a: start + (self._rng.uniform(-reach, reach) * length if self._rng.random() < share else 0.0)
            for a, (start, _) in found.spans.items()
        }

    def _attempt(self, order: Order, *, thrifty: bool = True) -> Found | None:
        """Make passes in one order until one keeps every rule, and better that one."""
        for repair in range(REPAIRS):
            board = Board(self._job, self._propagation, self._fits, order.whole)
            made = Pass(self._job, board, self._orders, order, self._needed)
            # What comes too late for thrift may not when it is taken as it comes.
            board.thrifty = thrifty and repair < REPAIRS // 2
            made.run()
            self._moves += len(made.board.spans)
            if made.complete:
                return self._packed(made.board)
            if made.stuck:
                return None
            order = made.learnt()
        return None

    def _by_pieces(self, pieces: Pieces, found: Found, moves: int) -> None:
        """Put a plan anew, piece by piece, near the order it has, within about so many moves."""
        starts = {a: start for a, (start, _) in found.spans.items()}
        order = self._orders.following(starts)
        board = Board(self._job, self._propagation, self._fits)
        made = Pass(self._job, board, self._orders, order, self._needed)
        board.thrifty = True
        self._moves += pieces.complete(made, order, self._rng.choice(SIZES), starts, moves)
        if made.complete:
            self._packed(board)

    def _packed(self, board: Board) -> Found:
        """Better a whole plan that breaks no rule, where it is near the best, and keep it if it is better than that."""
        found = self._keep(board)
        if self.left_from is not None and found.finish <= self.left_from:
            return found
        for rounds, worth in PACKING:
            if self._best is not None and found.finish <= self._best.finish * worth:
                self._moves += pack(board, rounds)
                found = self._keep(board)
        return found

    def _keep(self, board: Board) -> Found:
        spans = dict(board.spans)
        foot_ticks = sum(o.length_ft * (spans[o.closes][1] - spans[o.opens][0]) for o in self._job.openings)
        found = Found(finish_of(board), exposure(self._job, spans), foot_ticks, spans)
        if self._best is None or found.rank < self._best.rank:
            self._best = found
        return found
