"""The critical path test: a long delay put on a critical activity must move the finish by as much."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from scheduler.explain.chain import critical_chain
from scheduler.explain.sequence import sequence_of
from scheduler.network.dates import Propagation
from scheduler.network.lowering import lower
from scheduler.network.model import Network
from scheduler.schedule import Schedule
from scheduler.worktime.calendar import Calendar, Window

ADDED_DAYS = 600
"""Working days added; of five a week, so that they are whole weeks."""
WORKING_WEEK = 5
SETTLES_IN_WEEKS = 4
"""After the last known month, working hours are taken to go on as in that month."""
NEARLY_DAYS = 5
"""The finish may move by a working week less, where holidays fall otherwise."""


@dataclass(frozen=True, slots=True)
class PathTest:
    """By how many working days the finish moved when an activity was put off by `added_days`."""

    name: str
    added_days: int
    moved_days: float

    @property
    def passed(self) -> bool:
        """Whether the finish moved by as much, but for a week of holidays.

        It may move by more: who comes only on some days of a month may come later still.
        """
        return self.moved_days >= self.added_days - NEARLY_DAYS


def path_test(network: Network, schedule: Schedule, activity_id: str | None = None) -> PathTest:
    """Put off one activity (the first of the critical chain) by 600 working days and see where the finish goes.

    The sequence is kept; visits and appointments move along, and dates after which nothing may
    happen (target, ticket expiry, appointments) are lifted, as they would only stop the test.

    Source: check 12 of the 14-point assessment (DCMA-EA PAM 200.1, 2012; from memory).
    """
    if activity_id is None:
        chain = critical_chain(replace(network, target=None), schedule)
        activity_id = next((s.activity for s in chain if network.by_id[s.activity].work), chain[-1].activity)
    week = network.clock.ticks(days=7)
    added = ADDED_DAYS // WORKING_WEEK * week
    lasting = _going_on(network, network.horizon + added + 4 * SETTLES_IN_WEEKS * week)
    arcs = tuple(a.link for a in sequence_of(network, schedule).arcs)
    propagation = Propagation(lasting, arcs, bounds=lower(lasting).floors)
    before = propagation.forward()
    after = None if before is None else propagation.forward({activity_id: before[activity_id][0] + added})
    moved = 0 if before is None or after is None else _finish(after) - _finish(before)
    return PathTest(network.by_id[activity_id].name, ADDED_DAYS, moved * WORKING_WEEK / week)


def _finish(dates: dict[str, tuple[int, int]]) -> int:
    return max(f for _, f in dates.values())


def _going_on(network: Network, horizon: int) -> Network:
    """Return a network whose hours go on to a later horizon as they were in the last month."""
    month = SETTLES_IN_WEEKS * network.clock.ticks(days=7)
    calendars = {
        c.id: Calendar(c.id, c.name, tuple(_repeated(c, month, network.horizon, horizon)))
        for c in network.calendars.values()
    }
    return replace(network, horizon=horizon, calendars=calendars)


def _repeated(calendar: Calendar, month: int, known_to: int, horizon: int) -> Iterator[Window]:
    """Yield a calendar's windows, then those of its last month again and again; seldom ones all again."""
    yield from calendar.windows
    last = calendar.windows[-1][1] if calendar.windows else 0
    pattern = [w for w in calendar.windows if w[0] >= last - month]
    shift = month
    while pattern and pattern[0][0] + shift < horizon:
        for a, b in pattern:
            if a + shift >= min(last, known_to):
                yield a + shift, min(b + shift, horizon)
        shift += month
