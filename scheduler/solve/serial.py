"""A first plan without any search tree: activities put one by one where they first fit.

Many passes are made, each with another order of taking things in hand and another count of
reaches that may stand open at once; the best plan by finish, then by open trench, is bettered
by moving everything as late, then as early, as it will go. The number of passes follows from
`budget_seconds` and the size of the network alone, so the same network gives the same plan.

Source: serial schedule generation and forward-backward improvement as in Kolisch and
Hartmann, "Heuristic algorithms for the resource-constrained project scheduling problem" (1999).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from random import Random

from scheduler.network.dates import Reckoning
from scheduler.network.model import Network
from scheduler.schedule import Schedule, Span
from scheduler.solve.serial_board import Board, plannable
from scheduler.solve.serial_order import Order, Orders
from scheduler.solve.serial_pass import Pass
from scheduler.solve.visits import dated

PUTS_PER_SECOND = 12_000
"""Activities put on a board per second on an ordinary machine (measured); sets how many passes a budget buys."""
REPAIRS = 6
"""Passes over with one order, each having learnt from the last what must wait or hurry."""


@dataclass(frozen=True, slots=True)
class Found:
    """A plan that breaks no rule, and what it is judged by."""

    finish: int
    foot_ticks: float
    spans: dict[str, Span]

    @property
    def rank(self) -> tuple[int, float]:
        """Earlier finish first, then less trench standing open for less time."""
        return self.finish, self.foot_ticks


def generate(
    network: Network, *, budget_seconds: float = 1.0, seed: int = 0, enough: int | None = None
) -> Schedule | None:
    """Return a schedule that keeps every rule of the network but its target, or None if none was found.

    `budget_seconds` is a guide for an ordinary machine, turned into a count of passes; no
    clock is read. A plan that finishes by `enough` [tick] is not searched beyond its passes
    for less open trench.
    """
    job = plannable(network)
    if not job.activities:
        return dated(network, {})
    reckoning = Reckoning(job)
    latest = reckoning.backward(job.horizon)
    if latest is None or reckoning.forward() is None:
        return None
    best = _Search(job, reckoning, {a: start for a, (start, _) in latest.items()}).run(
        budget=max(1, int(budget_seconds * PUTS_PER_SECOND / len(job.activities))), rng=Random(seed), enough=enough
    )
    return None if best is None else dated(network, best.spans)


class _Search:
    """Passes over one network, and the best plan they have found."""

    def __init__(self, job: Network, reckoning: Reckoning, latest: dict[str, int]) -> None:
        self._job, self._reckoning = job, reckoning
        self._orders = Orders(job, reckoning, latest)
        self._needed = self._orders.needed(job)
        self._best: Found | None = None

    def run(self, *, budget: int, rng: Random, enough: int | None) -> Found | None:
        """Make passes worth `budget` and return the best plan found."""
        for order in self._in_turn(rng, enough):
            if budget <= 0:
                break
            budget -= self._attempt(order)
        return self._best

    def _in_turn(self, rng: Random, enough: int | None) -> Iterator[Order]:
        yield self._orders.by_need()
        if self._orders.openers:
            for standing in (6, 3, 10, 2, 4, 16, 1, 8):
                yield self._orders.fill_first(standing)
                yield self._orders.along(standing)
        while self._best is None or enough is None or self._best.finish > enough:
            yield self._orders.shuffled(rng)

    def _attempt(self, order: Order) -> int:
        """Make passes in one order until one keeps every rule; return how many it took."""
        for n in range(1, REPAIRS + 1):
            made = Pass(self._job, Board(self._job, self._reckoning), self._orders, order, self._needed)
            if made.complete:
                self._keep(made.board)
                return n
            if made.stuck:
                return n
            order = made.learnt()
        return REPAIRS

    def _keep(self, board: Board) -> None:
        spans = dict(board.spans)
        foot_ticks = sum(o.length_ft * (spans[o.closes][1] - spans[o.opens][0]) for o in self._job.openings)
        found = Found(max(f for _, f in spans.values()), foot_ticks, spans)
        if self._best is None or found.rank < self._best.rank:
            self._best = found
