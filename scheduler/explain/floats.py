"""Floats: how far each activity may slip while everybody keeps their place in the sequence."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from scheduler.explain.driving import Driver, SequencedPlan, drivers_in
from scheduler.network.dates import Propagation, reached
from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.schedule import Schedule


@dataclass(frozen=True, slots=True)
class Float:
    """Early and late dates of one activity [clock ticks], and its floats [working ticks of its calendar].

    `total` is how far its planned start may slip before the finish of the plan moves, `free`
    before any other planned date moves. When the plan puts the activity at its early start, as
    in a textbook, these are late less early start, and the least room to what follows.
    """

    early_start: int
    early_finish: int
    late_start: int
    late_finish: int
    total: int
    free: int
    critical: bool
    """No float, or on a longest chain to the finish: where closed hours follow, that may have some.

    GAO-16-89G asks for the longest path rather than for zero float where calendars differ (from memory).
    """


def floats(network: Network, schedule: Schedule) -> dict[str, Float]:
    """Return the float of every activity, the sequence and the finish of `schedule` kept.

    Total float is exact for the kept sequence: an activity started that much later moves
    nothing but what has room, and one step more moves the finish or breaks a rule.
    Raises ValueError when the schedule does not keep the network's rules; `audit` says which.

    Source: total and free float as in US Navy training manual NAVEDTRA 14045 (free float less
    the lag of the link).
    """
    plan = SequencedPlan.of(network, schedule)
    return floats_in(plan, drivers_in(plan))


def floats_in(plan: SequencedPlan, reasons: Mapping[str, Iterable[Driver]]) -> dict[str, Float]:
    """Return the floats in a plan, given what holds each start where it is; see `floats`."""
    network, schedule, propagation = plan.network, plan.schedule, plan.propagation
    last = [a for a, (_, finish) in schedule.dates.items() if finish == schedule.finish]
    longest = reached(last, lambda a: (d.other for d in reasons[a] if d.other))
    early = propagation.forward()
    late = propagation.backward(schedule.finish)
    if early is None or late is None or not all(early[a][0] <= schedule.dates[a][0] <= late[a][0] for a in late):
        raise ValueError("these dates break rules of the network; no float can be told from them")
    result = {}
    for a in network.activities:
        start, _ = schedule.dates[a.id]
        calendar = network.calendars[a.calendar]
        (early_start, early_finish), (late_start, late_finish) = early[a.id], late[a.id]
        total = calendar.open_ticks(start, late_start)
        result[a.id] = Float(
            early_start,
            early_finish,
            late_start,
            late_finish,
            total=total,
            free=calendar.open_ticks(start, latest_alone(propagation, schedule, a.id)),
            critical=total == 0 or a.id in longest,
        )
    return result


def moving_finish(plan: SequencedPlan) -> frozenset[str]:
    """Return the activities of which none can start later, by whatever little, without the finish moving.

    Everybody keeps their turn. Visits may be missed and dates broken here, which total float does not allow: so these
    are some of the activities without float, and whoever else has none misses a visit or a date when late.
    """
    network, schedule = plan.network, plan.schedule
    kept = tuple(b for b in plan.sequence.kept if b.sense == "min")
    turns = tuple(arc.link for arc in plan.sequence.arcs)
    late = Propagation(network, turns, kept, plan.sequence.renewals, lower(network).floors).backward(schedule.finish)
    if late is None:
        return frozenset()
    return frozenset(
        a.id
        for a in network.activities
        if network.calendars[a.calendar].open_ticks(schedule.dates[a.id][0], late[a.id][0]) <= 0
    )


def latest_alone(propagation: Propagation, schedule: Schedule, activity_id: str) -> int:
    """Return the last start of one activity that leaves every other planned date where it is [tick]."""
    bounds = [
        propagation.ceiling(precedence, schedule.dates[precedence.successor])
        for precedence in propagation.out_of[activity_id]
    ]
    last = propagation.last_start_by(activity_id, schedule.finish)
    for bound in bounds:
        if bound is not None and last is not None:
            last = propagation.allowed_to(activity_id, min(bound, last))
    return schedule.dates[activity_id][0] if last is None else last
