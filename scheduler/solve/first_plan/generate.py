"""A first plan without any search tree: activities placed one by one where they first fit.

The first passes take things in hand by priority rules: what must start soonest for the finish's
sake, then what has least slack, and so on; or one stretch of trench after another.
The best plan by finish, then by open trench, is
bettered by moving everything as late, then as early, as it will go, and by putting it anew a
few days at a time, again and again. How often follows from
`budget_seconds` and the size of the network alone, so the same network gives the same plan.

Source: serial schedule generation and forward-backward improvement as in Kolisch and
Hartmann, "Heuristic algorithms for the resource-constrained project scheduling problem" (1999).
"""

from __future__ import annotations

import threading
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from random import Random

from scheduler.measures import exposure
from scheduler.network.dates import Propagation
from scheduler.network.lowering import lower
from scheduler.network.model import Link, Network
from scheduler.schedule import Schedule, Span
from scheduler.solve.first_plan.calendar_fit import CalendarFit
from scheduler.solve.first_plan.justification import finish_of, justify
from scheduler.solve.first_plan.partial_schedule import PartialSchedule, plannable
from scheduler.solve.first_plan.priority import PriorityOrder, PriorityRules
from scheduler.solve.first_plan.rolling_horizon import SIZES, RollingHorizon
from scheduler.solve.first_plan.serial_generation import SerialGeneration
from scheduler.solve.formulation.dated import dated
from scheduler.solve.outcome import stopped

PLACED_PER_SECOND = 20_000
"""Activities placed per second of one core; sets how many passes a budget buys.

Measured over the 36 sites of `python -m tests.benchmarks.scaling --reaches 20 40 60 --seeds 3`: budgets of
944 000 in all took 37 processor seconds, some sites ending before theirs was spent.
"""
JUSTIFYING = ((1, 1.3), (3, 1.003))
"""Rounds of justification, and how far a plan's finish may be from the best for them to be worth while.

Over the sites named above the mean gap of the first plan is 1.74 % with justification, 2.52 % without.
"""
LEAST_PASSES = 25
"""However small the budget, long jobs get moves for about so many passes."""
FOR_RULES = 0.6
"""Share of the moves that passes in further orders may take once there is a plan.

Orders stretch by stretch are what pays on long jobs. Finish [days] of single sites of `tests.benchmarks.site_generator`
without and with them: 36 reaches, inspector, seed 111: 72.42 and 70.39; 40, excavator, 112: 73.33 and 72.56; 200,
labour, 2: 344.54 and 340.34; 200, excavator, 2: 325.35 and 319.45. Johnson's order among them: 20, inspector, 107:
44.38 and 42.42; 36, inspector, 343: 81.41 and 79.43. Over 35 sites of 16 to 60 reaches the first plan is 4.37 % above
the bound without Johnson's order, 3.63 % with it; 4.17 % when only 12 stretches may stand open in some of the orders.
"""
REPAIRS = 6
"""Passes over with one order, each having learnt from the last what must wait or hurry."""


@dataclass(frozen=True, slots=True)
class Candidate:
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
    propagation: Propagation | None = None,
) -> Schedule | None:
    """Return a schedule that keeps every rule of the network but its target, or None if none was found.

    `budget_seconds` is a guide for an ordinary machine, turned into a count of activities
    placed; no clock is read. The search for an earlier finish ends at `enough` [tick]; a plan
    that early is returned as it comes, with trench open for longer, unless it is to be `bettered`.
    Setting `stop` ends the search after the pass in hand, with the best plan so far. `propagation` is of the network
    as it is `plannable`, where it is at hand.
    """
    propagation = propagation or Propagation(plannable(network))
    job = propagation.network
    if not job.activities:
        return dated(network, {})
    limits = _shut_times(job)
    if limits:
        loose = generate(
            replace(job, kept_shut=()),
            budget_seconds=budget_seconds,
            seed=seed,
            enough=enough,
            bettered=bettered,
            stop=stop,
        )
        if loose is not None and _keeps(job, limits, loose.dates):
            return dated(network, loose.dates)
    forward, latest = propagation.earliest, propagation.backward(job.horizon)
    if forward is None or latest is None:
        return None
    fits = CalendarFit(job)
    search = _Search(job, propagation, fits, PriorityRules(job, propagation, fits, forward, latest), Random(seed))
    search.left_from, search.stop = None if bettered else enough, stop
    moves = max(
        int(budget_seconds * PLACED_PER_SECOND), min(LEAST_PASSES, int(25 * budget_seconds)) * len(job.activities)
    )
    best = search.run(moves=moves, enough=-1 if enough is None else enough)
    return None if best is None else dated(network, best.spans)


def _shut_times(job: Network) -> list[Link]:
    """Return the links that keep stretches from standing open at certain times.

    Passes learn from them only that something was opened too early, and then open it after all such times. So a plan
    is made without them first: it often keeps them, and is then the better one.
    """
    return [link for link in lower(job).links if link.family == "kept_shut"]


def _keeps(job: Network, limits: Iterable[Link], dates: Mapping[str, Span]) -> bool:
    return not any(
        job.calendars[limit.lag_calendar].open_ticks(dates[limit.before][0], dates[limit.after][1])
        for limit in limits
        if limit.lag_calendar is not None
    )


class _Search:
    """Passes over one network, and the best plan they have found."""

    def __init__(
        self, job: Network, propagation: Propagation, fits: CalendarFit, orders: PriorityRules, rng: Random
    ) -> None:
        self._job, self._propagation, self._fits = job, propagation, fits
        self._orders, self._needed = orders, orders.needed()
        self._rng = rng
        busiest = orders.busiest()
        self._pieces = RollingHorizon(job, busiest, fits, rng) if busiest else None
        self._best: Candidate | None = None
        self._moves = 0
        self.left_from: int | None = None
        """Plans that finish by then are left as they come."""
        self.stop: threading.Event | None = None

    def run(self, *, moves: int, enough: int) -> Candidate | None:
        """Make passes by rules and by stretches, then place the best plan anew in pieces, for about so many moves."""
        rules, whole = self._orders.by_rules(), frozenset(self._fits.whole)
        for order, kept in [*((r, frozenset()) for r in rules), *((r, whole) for r in rules)]:
            if self._best is None:
                self._attempt(order, kept)
        orders = () if self._best is None or self._is_over(enough) else (*self._orders.by_stretches(), *rules)
        for kept in (whole, frozenset()):
            for order in orders:
                if self._moves < moves * FOR_RULES and not self._is_over(enough):
                    self._attempt(order, kept)
        while self._best is None and self._moves < moves and not stopped(self.stop):
            # A pass that finds no way on at once has placed little or nothing, yet costs about a whole one.
            spent = self._moves + len(self._job.activities)
            self._attempt(self._orders.by_chance(self._rng), frozenset(self._fits.whole))
            self._moves = max(self._moves, spent)
        while self._best is not None and self._moves < moves and not self._is_over(enough):
            if self._pieces is None or not self._by_pieces(self._pieces, self._best, moves - self._moves):
                break
        return self._best

    def _is_over(self, enough: int) -> bool:
        """Return whether nothing earlier is wanted, or somebody asked to stop."""
        return stopped(self.stop) or (self._best is not None and self._best.finish <= enough)

    def _attempt(self, order: PriorityOrder, whole: frozenset[str]) -> None:
        """Make passes in one order, some activities kept in one window, until one keeps every rule; better that one."""
        for _ in range(REPAIRS):
            partial = PartialSchedule(self._job, self._propagation, self._fits, whole)
            made = SerialGeneration(self._job, partial, self._orders, order, self._needed)
            made.run()
            self._moves += len(made.partial.spans)
            if made.complete:
                self._justified(made.partial)
            if made.complete or made.stuck:
                return
            order = made.learnt()

    def _by_pieces(self, pieces: RollingHorizon, found: Candidate, moves: int) -> int:
        """Place a plan anew, piece by piece, near its own order, in about so many moves; return the moves made."""
        starts = {a: start for a, (start, _) in found.spans.items()}
        order = self._orders.following(starts)
        partial = PartialSchedule(self._job, self._propagation, self._fits)
        made = SerialGeneration(self._job, partial, self._orders, order, self._needed)
        partial.thrifty = True
        spent = pieces.complete(made, order, self._rng.choice(SIZES), starts, moves)
        self._moves += spent
        if made.complete:
            self._justified(partial)
        return spent

    def _justified(self, partial: PartialSchedule) -> None:
        """Better a whole plan that breaks no rule, where it is near the best, and keep it if it is better than that."""
        found = self._keep(partial)
        if self.left_from is not None and found.finish <= self.left_from:
            return
        for rounds, worth in JUSTIFYING:
            if self._best is not None and found.finish <= self._best.finish * worth:
                self._moves += justify(partial, rounds)
                found = self._keep(partial)

    def _keep(self, partial: PartialSchedule) -> Candidate:
        spans = dict(partial.spans)
        foot_ticks = sum(o.length_ft * (spans[o.closes][1] - spans[o.opens][0]) for o in self._job.openings)
        found = Candidate(finish_of(partial), exposure(self._job, spans), foot_ticks, spans)
        if self._best is None or found.rank < self._best.rank:
            self._best = found
        return found
