"""The plan nearest to given dates: the fewest activities moved, in any direction, then the least working time moved.

Sets of activities of which one must move are collected; a smallest choice that has one of each set is set free
and all else held where it is. Where a search finds places for those, fewer moves are not possible; where it does
not, that is one more set. This is the implicit hitting set method (Moreno-Centeno and Karp, 2013).
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from enum import Enum, auto

from ortools.sat.python import cp_model

from scheduler.audit import audit
from scheduler.network.model import Network
from scheduler.replan.date_conflicts import Core, GivenDates
from scheduler.replan.near import Near, pushed
from scheduler.schedule import Schedule, Span
from scheduler.solve.formulation.constraint_model import build, schedule_of
from scheduler.solve.formulation.dated import dated
from scheduler.solve.formulation.engine import Engine
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.formulation.variables import Search
from scheduler.solve.goals import express
from scheduler.solve.outcome import Options

ROUNDS = 120
"""Choices tried at most."""
SEARCHES = 16
"""Of those, so many by a search."""
EFFORT, WIDER_EFFORT = 0.5, 3.0
"""Of one search, about seconds of one core; and of one with more set free."""
WALL_SECONDS = 5.0
"""After so long no further search begins: somebody waits."""
RINGS = 3
"""How often more is set free around what must move."""
NEAR_TICKS = 120
"""How far what is set free beside may go, either way [work ticks]."""


class Found(Enum):
    """What a search came to."""

    PLAN = auto()
    NONE = auto()
    OPEN = auto()


@dataclass(frozen=True, slots=True)
class NearestDates:
    """A plan that keeps every rule, how many activities have other dates in it, and how many must have in any plan."""

    schedule: Schedule
    moved: int
    least: int

    @property
    def proved(self) -> bool:
        """Whether no plan moves fewer."""
        return self.moved <= self.least


def nearest_dates(network: Network, given: Mapping[str, Span], options: Options | None = None) -> NearestDates | None:
    """Return the plan nearest to some dates [ticks]; None where none was found. Activities may be without dates."""
    frame = TimeWindows(network)
    if not frame.narrow():
        return None
    known = {a.id: given[a.id] for a in network.activities if a.id in given}
    return _Nearest(GivenDates(frame, known), Engine(options or Options(wall_seconds=WALL_SECONDS))).find()


@dataclass
class _Nearest:
    dates: GivenDates
    engine: Engine
    cores: set[Core] = field(default_factory=set)
    passed: set[Core] = field(default_factory=set)
    """Choices that were searched, with a plan or without an answer."""
    undecided: bool = False
    """Whether a search ended without an answer: from then on a larger choice proves nothing."""
    best: tuple[int, int, Schedule] | None = None
    """Activities moved, working time moved, and the plan."""
    least: int = 0
    searches: int = 0

    def __post_init__(self) -> None:
        self.order = PrecedenceOrder(self.dates.network)
        self.cores |= self.dates.at_once | self.dates.staying(())

    def find(self) -> NearestDates | None:
        """Return the nearest plan that was found within the rounds."""
        for _ in range(ROUNDS):
            choice = self._choice()
            if choice is None or (self.best is not None and len(choice) > self.best[0]):
                break
            if self.searches >= SEARCHES or self.engine.stopped:
                break
            self.least = self.least if self.undecided else max(self.least, len(choice))
            self._try(choice)
        if self.best is None:
            self._push()
        if self.best is None:
            return None
        return NearestDates(self.best[2], self.best[0], min(self.best[0], self.least))

    def _choice(self) -> Core | None:
        """Return the fewest activities that include one of each conflict: a minimum hitting set.

        Of equal ones, that whose activities stand in the most conflicts; None when every one was tried.
        """
        model = cp_model.CpModel()
        names = sorted(set().union(*self.cores))
        chosen = {a: model.new_bool_var(a) for a in names}
        for core in self.cores:
            model.add_bool_or([chosen[a] for a in sorted(core)])
        for passed in self.passed:
            model.add(sum(x if a in passed else -x for a, x in chosen.items()) < len(passed))
        often = {a: min(sum(a in core for core in self.cores), 20) for a in names}
        model.minimize(sum((100 * len(names) - often[a]) * chosen[a] for a in names))
        solver = cp_model.CpSolver()
        solver.parameters.num_workers, solver.parameters.max_deterministic_time = 1, 1.0
        if solver.solve(model) != cp_model.OPTIMAL:
            return None
        return frozenset(a for a in names if solver.boolean_value(chosen[a]))

    def _try(self, choice: Core) -> None:
        """Search for places for a choice, all else held; or learn what else must move."""
        if fresh := self.dates.staying(choice) - self.cores:
            self.cores |= fresh
            return
        if alone := {c for a in choice if (c := self.dates.no_place(a, choice)) is not None} - self.cores:
            self.cores |= alone
            return
        found = self._searched(choice, EFFORT)
        if found is Found.NONE and (beside := frozenset(self.dates.beside(choice))):
            self.cores.add(beside)
        else:
            self.passed.add(choice)
            self.undecided = self.undecided or found is Found.OPEN
        if found is not Found.PLAN:
            self._wider(choice)

    def _wider(self, choice: Core) -> None:
        """Search with more set free around a choice, until there is a plan that moves as few as any can."""
        if self.best is None:
            self._push()
        free = set(choice)
        for _ in range(RINGS):
            free |= self._linked(free)
            if self.searches >= SEARCHES or self.engine.stopped or self._is_least():
                return
            if self._searched(free, WIDER_EFFORT, roaming=choice) is Found.PLAN:
                return

    def _is_least(self) -> bool:
        return self.best is not None and self.best[0] <= self.least

    def _push(self) -> None:
        """Keep the plan in which what must move is put later in the same order, where there is one."""
        plan = pushed(self.dates.network, {a: start for a, (start, _) in self.dates.given.items()})
        if plan is not None:
            self._keep(plan)

    def _linked(self, activities: Collection[str]) -> set[str]:
        into, out_of = self.dates.propagation.into, self.dates.propagation.out_of
        before = {p.predecessor for a in activities for p in into[a]}
        return before | {p.successor for a in activities for p in out_of[a]}

    def _searched(self, free: Collection[str], effort: float, *, roaming: Collection[str] | None = None) -> Found:
        """Search for the nearest plan with all but `free` held where it is; the best so far is kept.

        Where `roaming` is given, the others that are free stay near where they are.
        """
        self.searches += 1
        frame, places = self.dates.frame, self.dates.places
        held = {}
        for a, spans in frame.spans.items():
            if a not in free:
                spans = spans.cut(places[a], places[a] + 1)
            elif roaming is not None and a not in roaming:
                at = int(spans.starts[places[a]])
                spans = spans.between(at - NEAR_TICKS, at + NEAR_TICKS)
            held[a] = spans
        part = frame.part(held)
        if not part.narrow():
            return Found.NONE
        for a in free:  # what has one place left counts as sound beside all that is held, and need not be
            if len(part.spans[a].starts) == 1:
                part.spans[a] = held[a]
                part.is_part = part.is_part and len(held[a].starts) > 1
        search = build(part, self.order)
        search.model.minimize(self._aim(search, free))
        stay = set(free) & set(places) - set(roaming or free)
        hint = {a: int(frame.spans[a].starts[places[a]]) for a in stay}
        found = self.engine.run(search, effort=effort, hint=hint)
        if found.starts is not None:
            self._keep(schedule_of(frame, found.starts))
            return Found.PLAN
        return Found.NONE if found.impossible else Found.OPEN

    def _aim(self, search: Search, free: Collection[str]) -> cp_model.LinearExpr:
        """Return what is moved: each activity counts more than all working time moved, and earlier a hair more."""
        given = {a: s for a, (s, _) in self.dates.given.items() if a in free and a in self.dates.places}
        most = 3 * len(free) * len(self.dates.frame.axis)
        moved = express(search, Near(given, outside=1))
        return most * moved + cp_model.LinearExpr.sum([0, *(self._way(search, a) for a in sorted(free))])

    def _way(self, search: Search, activity: str) -> cp_model.LinearExpr | int:
        """Return twice the working time by which an activity starts elsewhere, and one more when earlier."""
        start = search.placed[activity].start
        if activity not in self.dates.given or isinstance(start, int):
            return 0
        was = self._work_tick(activity)
        way = search.model.new_int_var(0, len(self.dates.frame.axis), f"way of {activity}")
        earlier = search.model.new_bool_var(f"{activity} earlier")
        search.model.add_abs_equality(way, start - was)
        search.model.add(start >= was).only_enforce_if(earlier.negated())
        return 2 * way + earlier

    def _work_tick(self, activity: str) -> int:
        clock = self.dates.frame.edge_clock(activity, "start")
        return int(clock.searchsorted(self.dates.given[activity][0]))

    def _keep(self, plan: Schedule) -> None:
        """Keep a plan when it audits clean and is the nearest yet."""
        network, given = self.dates.network, self.dates.given
        if audit(network, plan):
            return
        moved = [a for a, span in plan.dates.items() if given.get(a) != span]
        way = 0
        for a in (a for a in moved if a in given):
            clock = self.dates.frame.edge_clock(a, "start")
            now, was = (int(clock.searchsorted(t)) for t in (plan.dates[a][0], given[a][0]))
            way += 2 * abs(now - was) + (now < was)
        if self.best is None or (len(moved), way) < self.best[:2]:
            self.best = len(moved), way, dated(network, plan.dates)
