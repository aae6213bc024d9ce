"""How late one activity may finish when everything else is free to move and the finish is kept."""

from __future__ import annotations

import threading
from dataclasses import dataclass, replace

from scheduler.audit import audit
from scheduler.explain.floats import floats
from scheduler.explain.possible import Care, possible
from scheduler.explain.sequence import sequence_of
from scheduler.network.dates import Propagation
from scheduler.network.model import DateRule, Network, Target
from scheduler.schedule import Schedule
from scheduler.solve.formulation.dated import dated
from scheduler.solve.outcome import stopped


@dataclass(frozen=True, slots=True)
class Latest:
    """The latest finish found for an activity [tick], a plan that has it, and a bound on any later one.

    `proved` when the bound is reached: no plan that keeps the finish has it later.
    """

    finish: int
    bound: int
    schedule: Schedule

    @property
    def proved(self) -> bool:
        """Whether no later finish is possible."""
        return self.finish >= self.bound


def latest_finish(
    network: Network,
    schedule: Schedule,
    activity_id: str,
    care: Care = Care.SEARCH,
    stop: threading.Event | None = None,
) -> Latest:
    """Return how late an activity may finish with the finish of the plan kept and all else free to move.

    Never less than the float that keeps the sequence (see `floats`) allows: the search starts
    there, and halves what lies between it and the latest date that links and hours allow. Setting
    `stop` ends it soon, with the latest found by then.
    """
    kept = replace(network, target=Target("finish of the plan", schedule.finish))
    best = _pushed(network, schedule, activity_id)
    free = Propagation(kept)
    latest = free.backward(schedule.finish)
    bound = try_to = best.dates[activity_id][0] if latest is None else latest[activity_id][0]
    while (low := best.dates[activity_id][0]) < try_to and not stopped(stop):
        start = free.allowed_from(activity_id, (low + try_to + 1) // 2)
        if start is None or start > try_to:
            start = try_to
        answer = possible(_no_sooner(kept, activity_id, start), care, stop=stop)
        if answer.schedule is not None:
            best = answer.schedule
            continue
        before = free.allowed_to(activity_id, start - 1)
        try_to = low if before is None else before
        if answer.impossible:
            bound = try_to
    last = free.span(activity_id, max(bound, best.dates[activity_id][0]))
    finish = best.dates[activity_id][1]
    return Latest(finish, finish if last is None else last[1], best)


def _pushed(network: Network, schedule: Schedule, activity_id: str) -> Schedule:
    """Return the schedule with one activity as late as the sequence allows."""
    late_start = floats(network, schedule)[activity_id].late_start
    pushed = sequence_of(network, schedule).propagation(network).forward({activity_id: late_start})
    if pushed is None:
        return schedule
    moved = dated(network, pushed)
    return schedule if audit(network, moved) else moved


def _no_sooner(network: Network, activity_id: str, start: int) -> Network:
    return replace(network, dates=(*network.dates, DateRule("no sooner", activity_id, start)))
