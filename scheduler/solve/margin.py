"""The most margin under a finish: the largest contingency in all own work with which the job still ends by then."""

from __future__ import annotations

import threading
from bisect import bisect_left
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property

from scheduler.network.contingency import takes_contingency, with_contingency
from scheduler.network.lowering import lower
from scheduler.network.model import Network, Target
from scheduler.network.open_at_once import open_together
from scheduler.solve.bounds.destructive import finish_lower_bound
from scheduler.solve.finish import SEARCHED, effort_times, in_days
from scheduler.solve.first_plan.generate import generate
from scheduler.solve.formulation.constraint_model import build, schedule_of, starts_of
from scheduler.solve.formulation.engine import Engine
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.time_windows import AFTER_EDGE, BEFORE_EDGE, TimeWindows
from scheduler.solve.improvement.neighbourhoods import is_small
from scheduler.solve.outcome import FINISH, Options, Outcome, Progress, StageReport, Status

STEP, LIMIT = 5, 50
"""Percentages are tried in such steps, up to such a limit."""
STRIDE = 2
"""After as many single steps so many are taken at once, until one is too many: what can be kept is found soon.

The least comes first because where it cannot be kept that alone is to be proved.
"""
MARGIN = "margin"


@dataclass(frozen=True, slots=True)
class MostMargin:
    """The largest contingency found under a finish, and the job with it."""

    percent: int
    network: Network
    """The job with this contingency in its work, to be finished by the finish asked for."""
    outcome: Outcome
    """A plan of it, looked at for its finish alone: for a further solve to take over."""
    beyond: int | None
    """The next step, which no plan was found for; None where the limit was reached."""
    proved: bool
    """Whether no plan has as much as `beyond`."""


def most_margin(
    network: Network,
    begun: Outcome,
    by: int,
    options: Options,
    progress: Callable[[Progress], None] | None = None,
    stop: threading.Event | None = None,
) -> MostMargin:
    """Return the most margin that a job bears when it must end by a tick.

    `begun` is a plan of the network that ends by then. Steps that dates or counting rule out are not tried (a
    destructive bound); the others are tried from the least on.
    """
    engine = Engine(options, progress, stop)
    steps = [p for p in range(STEP, LIMIT + 1, STEP) if p > network.margin_percent]
    trials = {p: _Trial(engine, with_contingency(network, p), by) for p in steps}
    ruled_out = bisect_left(steps, True, key=lambda p: trials[p].ruled_out)
    found = MostMargin(network.margin_percent, network, begun, None, proved=True)
    low, high = 0, ruled_out
    while low < high and not engine.stopped:
        at = min(low + (STRIDE if low >= STRIDE and high == ruled_out else 1), high) - 1
        percent = steps[at]
        outcome = trials[percent].outcome()
        if outcome is None:
            high = at
        else:
            low = at + 1
            found = MostMargin(percent, trials[percent].network, outcome, None, proved=True)
        engine.tell(MARGIN, None, None, f"{percent} %: {'not kept' if outcome is None else 'kept'}")
    beyond = steps[low] if low < len(steps) else None
    proved = beyond is None or (trials[beyond].impossible and never_longer(network))
    return replace(found, beyond=beyond, proved=proved)


def free_margin(
    network: Network,
    begun: Outcome,
    options: Options,
    progress: Callable[[Progress], None] | None = None,
    stop: threading.Event | None = None,
) -> tuple[int, Outcome]:
    """Return what contingency [%] a job bears at its finish, `options.free_margin` or half of it, and a plan of that.

    `begun` is a plan of the network looked at for its finish. It comes back with the network's own percentage where
    the job bears neither; where its finish is not proved, as an earlier one might have to be given up for margin; and
    where a plan may break a rule when work takes less time than planned: elsewhere what is proved of the finish without
    contingency holds with it.
    """
    none = network.margin_percent, begun
    if begun.status is not Status.OPTIMAL or begun.schedule is None or options.objective == "cost":
        return none
    if not never_longer(network):
        return none
    engine = Engine(options, progress, stop)
    found = none
    for percent in (options.free_margin // 2, options.free_margin):  # where half is too much, so is all
        if percent <= network.margin_percent:
            continue
        outcome = _Trial(engine, with_contingency(network, percent), begun.schedule.finish).outcome()
        engine.tell(MARGIN, None, None, f"{percent} %: {'not kept' if outcome is None else 'kept'}")
        if outcome is None or engine.stopped:
            break
        found = percent, _as_proved(outcome, begun)
    return found


def _as_proved(outcome: Outcome, without: Outcome) -> Outcome:
    """Return an outcome with what is proved of the finish of the same job without contingency."""
    (made,), (proved,) = outcome.stages, without.stages
    if outcome.finish_bound is not None and (without.finish_bound or 0) <= outcome.finish_bound:
        return outcome
    bound = min(proved.bound, made.value)
    stage = replace(made, bound=bound, bound_kind=proved.bound_kind, proved=made.value <= bound)
    status = Status.OPTIMAL if stage.proved else Status.FEASIBLE
    return replace(outcome, status=status, stages=(stage,), finish_bound=without.finish_bound)


class _Trial:
    """One job with contingency, and whether it can end by a tick."""

    def __init__(self, engine: Engine, network: Network, by: int) -> None:
        self._engine, self._by = engine, by
        at = min(by, by if network.target is None else network.target.at)
        self.network = replace(network, target=Target("finish kept", at))
        self.impossible = False
        """Whether it is proved that nothing ends in time."""

    @cached_property
    def ruled_out(self) -> bool:
        """Whether dates or counting alone show that nothing ends in time."""
        self.impossible = not self._frame_fits or self._bound > self._by
        return self.impossible

    def outcome(self) -> Outcome | None:
        """Return a plan that ends in time; None when there is none or none was found."""
        if self.ruled_out:
            return None
        starts = self._made() or self._searched()
        return None if starts is None else self._as_outcome(starts)

    @cached_property
    def _frame(self) -> TimeWindows:
        return TimeWindows(self.network)

    @cached_property
    def _frame_fits(self) -> bool:
        return not open_together(self.network) and self._frame.narrow()

    @cached_property
    def _bound(self) -> int:
        return finish_lower_bound(self.network, self._by + 1)[0]

    def _made(self) -> dict[str, int] | None:
        budget = self._engine.options.start_effort * effort_times(self.network)
        plan = generate(self.network, budget_seconds=budget, enough=self._by, stop=self._engine.stop)
        return starts_of(self._frame, plan) if plan is not None and plan.finish <= self._by else None

    def _searched(self) -> dict[str, int] | None:
        if len(self.network.activities) > SEARCHED or self._engine.stopped:
            return None
        search = build(self._frame, PrecedenceOrder(self.network))
        effort = self._engine.options.finish_effort
        found = self._engine.run(search, effort=effort, presolve=is_small(self.network))
        self.impossible = found.impossible
        return found.starts

    def _as_outcome(self, starts: dict[str, int]) -> Outcome:
        frame = self._frame
        schedule = schedule_of(frame, starts)
        value = frame.axis.last_end(schedule.finish)
        bound = min(value, max(frame.axis.first_end(self._bound), *(int(s.ends[0]) for s in frame.spans.values())))
        days = in_days(frame, value), in_days(frame, bound)
        stage = StageReport(FINISH, *days, "links and hours", "days", value <= bound, self._engine.seconds)
        status = Status.OPTIMAL if stage.proved else Status.FEASIBLE
        return Outcome(status, schedule, (stage,), self._engine.seconds, frame.axis.end_clock(bound))


def never_longer(network: Network) -> bool:
    """Tell whether a plan stays one, or can be made one, when own work takes less time than planned.

    So it is unless something needs that work to end late: a rule that something follows soon after its finish, or
    one that it finishes no earlier than something.
    """
    own = {a.id for a in network.activities if takes_contingency(a)}
    rules = lower(network)
    soon = (k.before for k in rules.links if k.at_most and BEFORE_EDGE[k.type] == "finish")
    late = (k.after for k in rules.links if not k.at_most and AFTER_EDGE[k.type] == "finish")
    dated = (b.activity for b in rules.firm if b.edge == "finish" and b.sense != "max")
    return own.isdisjoint([*soon, *late, *dated])
