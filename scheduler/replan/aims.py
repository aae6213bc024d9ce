"""The five alternatives: each solved for its aim, then brought near the plan in force."""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

from scheduler.audit import audit
from scheduler.network.dates import Propagation
from scheduler.network.model import Network
from scheduler.replan.fewest import fewest_moved
from scheduler.replan.least_moved import Movers, least_moved, moving_goals, rank
from scheduler.replan.near import Near, Nearest, nearest, pushed
from scheduler.replan.replan_records import Aim
from scheduler.schedule import Schedule
from scheduler.situation.appointments import Appointment
from scheduler.situation.job import StandingJob
from scheduler.solve.formulation.constraint_model import starts_of
from scheduler.solve.formulation.engine import Engine
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.goals import EVERY_GOAL, Cost, Exposure, Goal, Money
from scheduler.solve.improvement.neighbourhoods import is_small
from scheduler.solve.outcome import Options, Outcome, Progress, StageReport, Status, stopped
from scheduler.solve.run import DAYS_FOR_COST, allowing, solve
from scheduler.solve.stages import Incumbent, as_it_is, goals_of, in_money, pursue_all

QUICK = Options(start_effort=0.3, finish_effort=1.0, exposure_effort=1.5, money_effort=0.15)
"""Efforts at which five alternatives come in seconds; keeping near the plan before takes that for money."""

SMALL_MORE = 2, 3
"""In a small job, so many times the effort for open trench is given to the fewest people and pieces, and so many times
that for money to the least far; it ends early where less is proved impossible. With the electrician away for three days
on the small site that proves 8 people and 49 pieces; once the effort left 51 pieces, and at least 28 for a bound."""


@dataclass(frozen=True)
class Choice:
    """What one aim came to: a schedule that audits clean on `network`, or why there is none."""

    aim: Aim
    network: Network
    outcome: Outcome
    schedule: Schedule | None
    firm: tuple[Appointment, ...]
    """The appointments that were fixed for it."""
    released: tuple[Appointment, ...] = ()
    """Appointments that could not all be kept, beside those that fell away by the delay itself."""
    released_proved: bool = True
    pushed: Schedule | None = None
    """The plan before with everything pushed that must move, where that order leads to a plan."""


@dataclass
class Chooser:
    """Makes the alternatives of one job; what the same network gives is worked out once."""

    job: StandingJob
    options: Options = QUICK
    progress: Callable[[Progress], None] | None = None
    stop: threading.Event | None = None
    pushed: Schedule | None = None
    """The plan before with everything that must move put later, with as many appointments kept as that allows."""
    _known: dict[tuple[str, tuple[str, ...]], Choice] = field(default_factory=dict)
    _finished: dict[tuple[str, ...], Outcome] = field(default_factory=dict)
    _by_calls: list[Schedule] = field(default_factory=list)
    """Plans met while looking for the fewest appointments to move."""
    _movers: Movers = field(init=False)

    def __post_init__(self) -> None:
        bound = {a.id for a in self.job.bound}
        known = [a for a in self.job.standing if a.called or a.id in bound]
        self._movers = Movers.of_job(self.job)
        for firm in (self.job.standing, known, self.job.bound):
            self.pushed = self.pushed or pushed(self.job.with_firm(firm), self.job.starts_before())

    def keeps_what_cannot_move(self) -> bool:
        """Whether a plan is found that leaves every appointment that cannot move where it is."""
        firm = list(self.job.bound)
        return self._soonest(self.job.with_firm(firm), firm).schedule is not None

    def choices(self) -> list[Choice]:
        """Return what each aim comes to, in the order of the aims."""
        keep = self._kept(Aim.KEEP, self.job.standing)
        calls = self._kept(Aim.CALLS, [a for a in self.job.standing if a.weight])
        found = [keep, self._freely(Aim.SOONEST), calls, self._freely(Aim.COST), self._freely(Aim.LEAST_MOVED)]
        chosen: dict[Aim, Choice] = {}
        for c in sorted(found, key=lambda c: c.aim is not Aim.LEAST_MOVED):
            others = [*chosen.values(), c, *found]
            chosen[c.aim] = replace(self._best_of_all(c, others), pushed=self.pushed)
        return [chosen[c.aim] for c in found]

    def _best_of_all(self, choice: Choice, every: Sequence[Choice]) -> Choice:
        """Return a choice with the plan that serves its aim best of those made for all aims: of equal ones the first.

        Whatever is handed out has been audited here, its own plan too; where none is clean the aim has no plan.
        """
        own = choice.schedule
        if own is None:
            return choice
        plans = [c.schedule for c in every if c.schedule is not None]
        allowed = [p for p in plans if not audit(choice.network, p)]
        if not allowed:
            return replace(choice, schedule=None, outcome=replace(choice.outcome, schedule=None, status=Status.UNKNOWN))
        best = min(allowed, key=lambda p: self._rank(choice.aim, choice.network, p))
        stages = tuple(self._as_it_is(choice.outcome.stages, choice.network, best))
        status = choice.outcome.status
        if status in (Status.OPTIMAL, Status.FEASIBLE):
            status = Status.OPTIMAL if stages[0].proved else Status.FEASIBLE
        outcome = replace(choice.outcome, schedule=best, stages=stages, status=status)
        return replace(choice, schedule=best, outcome=outcome)

    def _freely(self, aim: Aim) -> Choice:
        """Return the best for an aim with only what cannot move fixed; firm ones give way where they must."""
        return self._kept(aim, self.job.bound)

    def _kept(self, aim: Aim, wanted: Sequence[Appointment]) -> Choice:
        """Return the best for an aim with appointments kept; where all cannot be, the least weight of them moves."""
        firm = list({a.id: a for a in [*self.job.bound, *wanted]}.values())
        choice = self._solved(aim, firm)
        if choice.schedule is not None or not firm or stopped(self.stop):
            return choice
        weights = self._weights(aim, firm)
        effort = 2 * self.options.finish_effort
        least = fewest_moved(self._engine(), self.job.with_firm(()), firm, weights, effort=effort, hint=self.pushed)
        if least is None or not least.moved:
            return choice
        self._by_calls.append(least.schedule)
        again = self._solved(aim, list(least.kept))
        return replace(again, released=least.moved, released_proved=least.proved)

    def _weights(self, aim: Aim, firm: Sequence[Appointment]) -> list[int]:
        """Return what moving each of some appointments weighs.

        What cannot move gives way last, what nobody was called for first: each weighs more than all of the
        lesser sort together.
        """
        known = [1 + len(firm) if aim is Aim.KEEP else max(1, a.weight) for a in firm]
        weights = [n if a.called else 1 for a, n in zip(firm, known, strict=True)]
        heavy, bound = 1 + sum(weights), {a.id for a in self.job.bound}
        return [heavy if a.id in bound else w for a, w in zip(firm, weights, strict=True)]

    def _solved(self, aim: Aim, firm: list[Appointment]) -> Choice:
        style = "finish" if aim in (Aim.KEEP, Aim.CALLS) else aim.name
        key = style, tuple(sorted(a.id for a in firm))
        if key not in self._known:
            self._known[key] = self._solve(aim, firm)
        return replace(self._known[key], aim=aim)

    def _solve(self, aim: Aim, firm: list[Appointment]) -> Choice:
        network = self.job.with_firm(firm)
        outcome = self._soonest(network, firm)
        if outcome.schedule is None:
            return Choice(aim, network, outcome, None, tuple(firm))
        if aim is Aim.LEAST_MOVED:
            return self._least_moved(network, outcome, firm)
        engine, frame, order = self._engine(), TimeWindows(network), PrecedenceOrder(network)
        frame.narrow()
        days = DAYS_FOR_COST if aim is Aim.COST else 0.0
        room = allowing(frame, frame.axis.last_end(outcome.schedule.finish), days)
        warm = self._warm(aim, network, outcome.schedule)
        plan, stages = Incumbent(room, order, starts_of(room, warm)), list(outcome.stages)
        if aim in (Aim.COST, Aim.SOONEST):
            goals = in_money(self.options) if aim is Aim.COST else goals_of(network, self.options)
            stages += pursue_all(engine, plan, goals)
        best = min([plan.schedule, warm, outcome.schedule], key=lambda p: self._rank(aim, network, p))
        found = self._near(aim, network, best)
        stages = self._as_it_is(stages, network, found.schedule)
        unit, near = Near({}).unit, found.moves <= found.least
        stages.append(StageReport("moves", found.moves, min(found.least, found.moves), "search", unit, near, 0.0))
        outcome = replace(outcome, schedule=found.schedule, stages=tuple(stages), seconds=0.0)
        return Choice(aim, network, outcome, found.schedule, tuple(firm))

    def _least_moved(self, network: Network, outcome: Outcome, firm: list[Appointment]) -> Choice:
        """Return the plan that moves least, whenever it finishes."""
        assert outcome.schedule is not None
        plans = [outcome.schedule, *self._serving(network, network.horizon, ())]
        more, last = SMALL_MORE if is_small(network) else (1, 1)
        each = more * self.options.exposure_effort
        efforts = each, each, last * self.options.money_effort
        plan, moved = least_moved(self._engine(), network, self._movers, plans, efforts)
        stages = tuple(self._as_it_is([*outcome.stages, *moved], network, plan))
        status = Status.OPTIMAL if stages[0].proved else Status.FEASIBLE
        outcome = replace(outcome, schedule=plan, stages=stages, status=status, seconds=0.0)
        return Choice(Aim.LEAST_MOVED, network, outcome, plan, tuple(firm))

    def _soonest(self, network: Network, firm: list[Appointment]) -> Outcome:
        """Return the earliest finish of a network: of a plan at hand where none can be earlier, else searched for."""
        key = tuple(sorted(a.id for a in firm))
        if key not in self._finished:
            at_hand = min(self._serving(network, network.horizon, ()), key=lambda p: p.finish, default=None)
            least = 0 if at_hand is None else _least_finish(network)
            if at_hand is None or at_hand.finish > least:
                asked = replace(self.options, only_finish=True, conflict_effort=0.0)
                outcome = solve(network, asked, self.progress, self.stop)
                found = outcome.schedule
                if (
                    found is not None
                    and (at_hand is None or found.finish <= at_hand.finish)
                    and not audit(network, found)
                ):
                    self._finished[key] = outcome
                    return outcome
                least = max(least, outcome.finish_bound or 0)
                if at_hand is None:
                    status = outcome.status if found is None else Status.UNKNOWN
                    self._finished[key] = replace(outcome, schedule=None, status=status)
                    return self._finished[key]
            self._finished[key] = _finished(network, at_hand, min(least, at_hand.finish))
        return self._finished[key]

    def _warm(self, aim: Aim, network: Network, best: Schedule) -> Schedule:
        """Return the plan to better: the one before with everything pushed that must move, where that serves."""
        others = self._serving(network, network.horizon if aim is Aim.COST else best.finish, ())
        if aim is Aim.SOONEST and others:
            return others[0]
        return min([*others, best], key=lambda p: self._rank(aim, network, p))

    def _rank(self, aim: Aim, network: Network, plan: Schedule) -> tuple[int, ...]:
        """Return what a plan is judged by for an aim, smaller being better; then by how little moves."""
        near = Near.of(network, self.job.starts_before()).amount(network, plan)
        if aim is Aim.LEAST_MOVED:
            return *rank(self._movers, network, plan), plan.finish, near
        if aim is Aim.COST:
            return Cost().amount(network, plan), near
        if aim is Aim.SOONEST:
            return plan.finish, Exposure().amount(network, plan), Money().amount(network, plan), near
        return plan.finish, near

    def _serving(self, network: Network, finish: int, limits: tuple[tuple[Goal, int], ...]) -> list[Schedule]:
        """Return the plans already at hand that keep the rules of a network and some limits."""
        return [
            p
            for p in (self.pushed, *self._by_calls, *(c.schedule for c in self._known.values()))
            if p is not None
            and p.finish <= finish
            and all(g.amount(network, p) <= limit for g, limit in limits)
            and not audit(network, p)
        ]

    def _near(self, aim: Aim, network: Network, best: Schedule) -> Nearest:
        """Return the plan with as much as possible left where it was, its aim kept to."""
        kept: dict[Aim, tuple[Goal, ...]] = {Aim.SOONEST: (Exposure(), Money()), Aim.COST: (Cost(),)}
        goals = tuple((g, g.amount(network, best)) for g in kept.get(aim, ()))
        return nearest(
            self._engine(),
            network,
            [best, *self._serving(network, best.finish, goals)],
            self.job.starts_before(),
            finish=best.finish,
            kept=goals,
            effort=self.options.money_effort,
        )

    def _as_it_is(self, stages: Sequence[StageReport], network: Network, schedule: Schedule) -> list[StageReport]:
        """Return the reports of stages for the plan in hand, without the seconds, which differ from run to run."""
        near = Near.of(network, self.job.starts_before())
        goals = (*EVERY_GOAL, near, *moving_goals(self._movers))
        return [replace(stage, seconds=0.0) for stage in as_it_is(stages, goals, network, schedule)]

    def _engine(self) -> Engine:
        return Engine(self.options, self.progress, self.stop)


def _least_finish(network: Network) -> int:
    """Return a tick before which links, hours, dates and firm appointments let nothing be finished."""
    dates = Propagation(replace(network, target=None)).forward()
    return 0 if dates is None else max((f for _, f in dates.values()), default=0)


def _finished(network: Network, plan: Schedule, least: int) -> Outcome:
    """Return the outcome that a plan at hand and a bound on its finish [ticks] amount to."""
    days = network.clock.tick_minutes / 1440
    value, bound = (round((t - network.data_date) * days, 4) for t in (plan.finish, least))
    proved = plan.finish <= least
    stage = StageReport("finish", value, bound, "links and hours", "days", proved, 0.0)
    return Outcome(Status.OPTIMAL if proved else Status.FEASIBLE, plan, (stage,), finish_bound=least)
