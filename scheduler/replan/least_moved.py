"""As little as possible moved: the fewest people whose day changes, then the fewest pieces of work, then the least far.

Three goals in this order, each with what the ones before it reached kept to (lexicographic). Counting moved starts:
Barták 2004; the moment from which on all is as before is the match-up point of Bean et al. 1991.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import ClassVar

import numpy as np
from ortools.sat.python import cp_model

from scheduler.audit import audit
from scheduler.network.model import DateRule, Network
from scheduler.replan.near import moved_in, places
from scheduler.replan.tell import doer
from scheduler.schedule import Schedule
from scheduler.site.calendars import build_calendars
from scheduler.situation.job import StandingJob
from scheduler.solve.formulation.constraint_model import schedule_of, starts_of
from scheduler.solve.formulation.dated import dated
from scheduler.solve.formulation.engine import Engine
from scheduler.solve.formulation.nights import Nights
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.formulation.variables import Expr, Search
from scheduler.solve.goals import Goal
from scheduler.solve.improvement.left_shift import move_early
from scheduler.solve.outcome import StageReport
from scheduler.solve.stages import Incumbent, pursue
from scheduler.worktime.axis import Ticks, open_before
from scheduler.worktime.calendar import Calendar

TICKS_PER_HOUR = 4


@dataclass(frozen=True)
class Movers:
    """Who does each open piece of work of the plan before, in which hours of their own, and when it was to start."""

    before: Mapping[str, int]
    """Starts in the plan before [tick], of what has work and has not begun."""
    of: Mapping[str, str]
    """The trade or outside party, by name."""
    hours: Mapping[str, Calendar]
    """The mover's own working hours, by activity."""

    @classmethod
    def of_job(cls, job: StandingJob) -> Movers:
        """Return who does what is left of a job."""
        calendars = build_calendars(job.site, job.network.clock)
        trades = {t.id: t for t in job.site.trades}
        of, hours = {}, {}
        starts = job.starts_before()
        for a in job.network.activities:
            if a.id not in starts or not a.work or a.happened or a.id in job.facts.begun:
                continue
            party = next((p for p in job.parties if a.id in p.activities), None)
            if party is not None:
                of[a.id], hours[a.id] = party.who, party.calendar
            elif a.trade in trades:
                of[a.id], hours[a.id] = doer(job, a.id, a.trade), calendars[trades[a.trade].calendar]
            else:
                of[a.id], hours[a.id] = "", job.facts.network.calendar_of(a.id)
        return cls({a: starts[a] for a in of}, of, hours)

    def moved(self, schedule: Schedule) -> list[str]:
        """Return the pieces of work that start at another time than before."""
        return [a for a, at in self.before.items() if schedule.dates[a][0] != at]

    def far(self, activity: str, start: int) -> int:
        """Return how far a start [tick] is from the one before, in open ticks of the mover's own hours."""
        return int(self.each_far(activity, np.array([start], dtype=np.int64))[0])

    def each_far(self, activity: str, starts: Ticks) -> Ticks:
        """Return the same for many starts."""
        far: Ticks = np.abs(open_before(self.hours[activity], starts) - self._open_before[activity])
        return far

    @cached_property
    def _open_before(self) -> dict[str, Ticks]:
        return {a: open_before(self.hours[a], np.array([at], dtype=np.int64)) for a, at in self.before.items()}


@dataclass(frozen=True)
class People:
    """How many people, trades or outside parties have any work at another time than before."""

    movers: Movers
    name: ClassVar = "people"
    unit: ClassVar = "people or firms whose day changes"
    per_unit: ClassVar = 1
    bound_kind: ClassVar = "what cannot stay"
    in_steps: ClassVar = True

    def amount(self, network: Network, schedule: Schedule) -> int:  # noqa: ARG002 - as the protocol of goals asks
        """Return how many."""
        return len({self.movers.of[a] for a in self.movers.moved(schedule)})

    def least(self, frame: TimeWindows) -> int:
        """Return how many have something that cannot stay."""
        return len({self.movers.of[a] for a, there in places(frame, self.movers.before).items() if not len(there)})

    def express(self, search: Search, nights: Nights) -> Expr:  # noqa: ARG002 - as the protocol of goals asks
        """Return the same as an expression."""
        by_mover: dict[str, list[Expr]] = {}
        for activity, moved in moved_in(search, self.movers.before).items():
            by_mover.setdefault(self.movers.of[activity], []).append(moved)
        terms: list[Expr] = []
        for mover, moves in by_mover.items():
            if 1 in [m for m in moves if isinstance(m, int)]:
                terms.append(1)
                continue
            told = search.model.new_bool_var(f"{mover} is told")
            for moved in moves:
                search.model.add(told >= moved)
            terms.append(told)
        return cp_model.LinearExpr.sum(terms)


@dataclass(frozen=True)
class Pieces:
    """How many pieces of work start at another time than before."""

    movers: Movers
    name: ClassVar = "pieces"
    unit: ClassVar = "tasks moved"
    per_unit: ClassVar = 1
    bound_kind: ClassVar = "what cannot stay"
    in_steps: ClassVar = True

    def amount(self, network: Network, schedule: Schedule) -> int:  # noqa: ARG002 - as the protocol of goals asks
        """Return how many."""
        return len(self.movers.moved(schedule))

    def least(self, frame: TimeWindows) -> int:
        """Return how many cannot stay."""
        return sum(not len(there) for there in places(frame, self.movers.before).values())

    def express(self, search: Search, nights: Nights) -> Expr:  # noqa: ARG002 - as the protocol of goals asks
        """Return the same as an expression."""
        return cp_model.LinearExpr.sum(list(moved_in(search, self.movers.before).values()))


@dataclass(frozen=True)
class Far:
    """How far all that moves moves together, in the own working hours of those who do it."""

    movers: Movers
    name: ClassVar = "far"
    unit: ClassVar = "working hours of those who move"
    per_unit: ClassVar = TICKS_PER_HOUR
    bound_kind: ClassVar = "what cannot stay"
    in_steps: ClassVar = False

    def amount(self, network: Network, schedule: Schedule) -> int:  # noqa: ARG002 - as the protocol of goals asks
        """Return how far [ticks]."""
        return sum(self.movers.far(a, schedule.dates[a][0]) for a in self.movers.moved(schedule))

    def least(self, frame: TimeWindows) -> int:
        """Return how far everything must move at least, each piece by itself [ticks]."""
        return sum(int(far.min()) for _, far in self._far(frame).values() if len(far))

    def express(self, search: Search, nights: Nights) -> Expr:  # noqa: ARG002 - as the protocol of goals asks
        """Return the same as an expression."""
        terms: list[Expr] = []
        for activity, (starts, far) in self._far(search.frame).items():
            start = search.placed[activity].start
            terms.append(int(far[0]) if isinstance(start, int) else _along(search, activity, start, starts, far))
        return cp_model.LinearExpr.sum(terms)

    def _far(self, frame: TimeWindows) -> dict[str, tuple[Ticks, Ticks]]:
        """Return the starts [work ticks] that each piece of work may have, and how far each is [ticks]."""
        found = {}
        for activity in self.movers.before:
            starts = frame.edge_ticks(activity, "start")
            clock = frame.edge_clock(activity, "start")[starts]
            found[activity] = starts, self.movers.each_far(activity, clock)
        return found


def _along(search: Search, activity: str, start: Expr, starts: Ticks, far: Ticks) -> Expr:
    """Return how far a start is as an expression: by stretches of starts over which it grows, falls or stays."""
    model, most = search.model, int(far.max())
    if not most:
        return 0
    out = model.new_int_var(int(far.min()), most, f"{activity} far")
    slopes = np.diff(far) / np.diff(starts)
    first, here = 0, []
    while first < len(starts):
        last = first
        while last < len(slopes) and slopes[last] == slopes[first] and slopes[first] in (-1, 0, 1):
            last += 1
        inside = model.new_bool_var(f"{activity} from {starts[first]}")
        model.add(start >= int(starts[first])).only_enforce_if(inside)
        model.add(start <= int(starts[last])).only_enforce_if(inside)
        slope = int(slopes[first]) if last > first else 0
        model.add(out == int(far[first]) + slope * (start - int(starts[first]))).only_enforce_if(inside)
        here.append(inside)
        first = last + 1
    model.add_exactly_one(here)
    return out


def moving_goals(movers: Movers) -> tuple[Goal, Goal, Goal]:
    """Return the three goals in their order."""
    return People(movers), Pieces(movers), Far(movers)


def rank(movers: Movers, network: Network, schedule: Schedule) -> tuple[int, ...]:
    """Return what a plan is judged by, smaller being better."""
    return tuple(goal.amount(network, schedule) for goal in moving_goals(movers))


def least_moved(
    engine: Engine, network: Network, movers: Movers, plans: Sequence[Schedule], efforts: Sequence[float]
) -> tuple[Schedule, list[StageReport]]:
    """Return the plan that moves least, and what is reached and proved of each of the three goals.

    `plans` are plans of the network to begin with, at least one; `efforts` one for each goal.
    """
    start = min(plans, key=lambda p: (*rank(movers, network, p), p.finish))
    frame, stages = TimeWindows(network), []
    if not frame.narrow():
        return start, []
    plan = Incumbent(frame, PrecedenceOrder(network), starts_of(frame, start))
    for goal, effort in zip(moving_goals(movers), efforts, strict=True):
        stages.append(pursue(engine, plan, goal, effort))
    return _settled(network, schedule_of(frame, plan.starts), movers), stages


def _settled(network: Network, plan: Schedule, movers: Movers) -> Schedule:
    """Return the plan with what is new, or has begun, as early as it can be; all else stays where it is."""
    fixed = tuple(DateRule(f"stays/{a}", a, plan.dates[a][0], sense="fixed") for a in movers.before)
    early = dated(network, move_early(replace(network, dates=(*network.dates, *fixed)), plan))
    worse = rank(movers, network, early) > rank(movers, network, plan)
    return plan if worse or early.finish > plan.finish or audit(network, early) else early


def as_before_from(network: Network, movers: Movers, schedule: Schedule) -> int:
    """Return the tick from which on everything is as in the plan before: where the two plans match up again.

    By then all that is new, moved or going on is done, in either plan. The work that has no length does not count.
    """
    ends = [network.data_date]
    for a in network.activities:
        if a.happened or not a.work or schedule.dates[a.id][0] == movers.before.get(a.id):
            continue
        ends.append(schedule.dates[a.id][1])
        if a.id in movers.before:
            ends.append(network.calendar_of(a.id).advance(movers.before[a.id], a.work) or network.horizon)
    return max(ends)
