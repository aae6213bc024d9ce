"""A first plan without any search tree: activities put one by one where they first fit.

The first passes take things in hand by priority rules: what must start soonest for the finish's
sake, then what has least slack, and so on. The best plan by finish, then by open trench, is
bettered by moving everything as late, then as early, as it will go, and by putting it anew a
few days at a time, again and again. How often follows from
`budget_seconds` and the size of the network alone, so the same network gives the same plan.

Source: serial schedule generation and forward-backward improvement as in Kolisch and
Hartmann, "Heuristic algorithms for the resource-constrained project scheduling problem" (1999).
"""

from __future__ import annotations

import threading
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
from scheduler.solve.formulation.dated import dated
from scheduler.solve.outcome import stopped

PUTS_PER_SECOND = 20_000
"""Activities put on a board per second on an ordinary machine (measured); sets how many passes a budget buys."""
PACKING = ((1, 1.3), (3, 1.003))
"""Rounds of packing, and how far a plan's finish may be from the best for them to be worth while."""
LEAST_PASSES = 25
"""However small the budget, long jobs get moves for about so many passes."""
FOR_RULES = 0.2
"""Share of the moves that passes by further priority rules may take once there is a plan."""
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
        """Make passes by priority rules, then put the best plan anew in pieces, for about so many moves."""
        for whole in (frozenset(), frozenset(self._fits.whole)):
            for order in self._orders.by_rules():
                if self._best is None or (self._moves < moves * FOR_RULES and not self._is_over(enough)):
                    self._attempt(order, whole)
        while self._best is None and self._moves < moves and not stopped(self.stop):
            self._attempt(self._orders.by_chance(self._rng), frozenset(self._fits.whole))
        while self._best is not None and self._moves < moves and not self._is_over(enough):
            if self._pieces is None or not self._by_pieces(self._pieces, self._best, moves - self._moves):
                break
        return self._best

    def _is_over(self, enough: int) -> bool:
        """Return whether nothing earlier is wanted, or somebody asked to stop."""
        return stopped(self.stop) or (self._best is not None and self._best.finish <= enough)

    def _attempt(self, order: Order, whole: frozenset[str]) -> None:
        """Make passes in one order, some activities kept in one window, until one keeps every rule; better that one."""
        for _ in range(REPAIRS):
            board = Board(self._job, self._propagation, self._fits, whole)
            made = Pass(self._job, board, self._orders, order, self._needed)
            made.run()
            self._moves += len(made.board.spans)
            if made.complete:
                self._packed(made.board)
            if made.complete or made.stuck:
                return
            order = made.learnt()

    def _by_pieces(self, pieces: Pieces, found: Found, moves: int) -> int:
        """Put a plan anew, piece by piece, near the order it has, within about so many moves; return the moves made."""
        starts = {a: start for a, (start, _) in found.spans.items()}
        order = self._orders.following(starts)
        board = Board(self._job, self._propagation, self._fits)
        made = Pass(self._job, board, self._orders, order, self._needed)
        board.thrifty = True
        spent = pieces.complete(made, order, self._rng.choice(SIZES), starts, moves)
        self._moves += spent
        if made.complete:
            self._packed(board)
        return spent

    def _packed(self, board: Board) -> None:
        """Better a whole plan that breaks no rule, where it is near the best, and keep it if it is better than that."""
        found = self._keep(board)
        if self.left_from is not None and found.finish <= self.left_from:
            return
        for rounds, worth in PACKING:
            if self._best is not None and found.finish <= self._best.finish * worth:
                self._moves += pack(board, rounds)
                found = self._keep(board)

    def _keep(self, board: Board) -> Found:
        spans = dict(board.spans)
        foot_ticks = sum(o.length_ft * (spans[o.closes][1] - spans[o.opens][0]) for o in self._job.openings)
        found = Found(finish_of(board), exposure(self._job, spans), foot_ticks, spans)
        if self._best is None or found.rank < self._best.rank:
            self._best = found
        return found
