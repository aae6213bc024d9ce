"""Floats: how far each activity may slip while everybody keeps their place in the sequence."""

from __future__ import annotations

from dataclasses import dataclass

from scheduler.explain.sequence import sequence_of
from scheduler.network.dates import Reckoning
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

    @property
    def critical(self) -> bool:
        """Whether any slip of its planned dates moves the finish."""
        return self.total == 0


def floats(network: Network, schedule: Schedule) -> dict[str, Float]:
    """Return the float of every activity, the sequence and the finish of `schedule` kept.

    Total float is exact for the kept sequence: an activity started that much later moves
    nothing but what has room, and one step more moves the finish or breaks a rule.
    Raises ValueError when the schedule does not keep the network's rules; `audit` says which.

    Source: total and free float as in US Navy training manual NAVEDTRA 14045 (free float less
    the lag of the link).
    """
    return floats_of(sequence_of(network, schedule).reckoning(network), schedule)


def floats_of(reckoning: Reckoning, schedule: Schedule) -> dict[str, Float]:
    """Return the floats that a network's rules and kept decisions leave; see `floats`."""
    network = reckoning.network
    early = reckoning.forward()
    late = reckoning.backward(schedule.finish)
    if early is None or late is None:
        raise ValueError("these dates break rules of the network; no float can be told from them")
    result = {}
    for a in network.activities:
        start, _ = schedule.dates[a.id]
        calendar = network.calendars[a.calendar]
        (early_start, early_finish), (late_start, late_finish) = early[0][a.id], late[a.id]
        result[a.id] = Float(
            early_start,
            early_finish,
            late_start,
            late_finish,
            total=calendar.open_ticks(start, late_start),
            free=calendar.open_ticks(start, latest_alone(reckoning, schedule, a.id)),
        )
    return result


def latest_alone(reckoning: Reckoning, schedule: Schedule, activity_id: str) -> int:
    """Return the last start of one activity that leaves every other planned date where it is [tick]."""
    bounds = [reckoning.ceiling(pull, schedule.dates[pull.of]) for pull in reckoning.out_of[activity_id]]
    last = reckoning.last_start_by(activity_id, schedule.finish)
    for bound in bounds:
        if bound is not None and last is not None:
            last = reckoning.allowed_to(activity_id, min(bound, last))
    return schedule.dates[activity_id][0] if last is None else last
