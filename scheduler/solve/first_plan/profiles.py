"""Who and what is taken when, while a plan is built piece by piece.

Each class here answers one question about a span [start, finish) of clock ticks: which
stretch of time already taken does it run into? The answer is a span to step past, forward
or backward, or None when there is room.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right, insort
from dataclasses import dataclass, field

from scheduler.network.normal import LookGroup
from scheduler.schedule import Span
from scheduler.worktime.calendar import Calendar, Window

FAR = 1 << 40
"""A tick after everything: the finish of a stretch of trench whose cover is not planned yet."""


class ResourceProfile:
    """Units in use over time, of something of which there are `capacity` units.

    `hours` is open whenever any of its users may work: a free stretch with too few open ticks
    for the work in hand is stepped over together with the taken time beside it.
    """

    def __init__(self, capacity: int, hours: Calendar) -> None:
        self.capacity = capacity
        self.hours = hours
        self._times = [-FAR, FAR]
        self._used = [0, 0]

    def clash(self, start: int, finish: int, *, units: int, work: int = 0) -> Span | None:
        """Return the first run of time inside the span that has no room for `work` ticks of `units` more."""
        times, used, room = self._times, self._used, self.capacity - units
        i = bisect_right(times, start) - 1
        while times[i] < finish:
            if used[i] > room:
                return times[self._before_run(i, room, work)], times[self._after_run(i, room, work)]
            i += 1
        return None

    def last_clash(self, start: int, units: int) -> int | None:
        """Return the end of the last time after `start` at which `units` more are not free."""
        times, used, room = self._times, self._used, self.capacity - units
        for i in range(len(times) - 2, -1, -1):
            if times[i + 1] <= start:
                break
            if used[i] > room:
                return times[i + 1]
        return None

    def add(self, start: int, finish: int, units: int) -> None:
        """Take units over a span; negative units give them back."""
        if start >= finish or units == 0:
            return
        times, used = self._times, self._used
        i = bisect_left(times, start)
        if times[i] != start:
            times.insert(i, start)
            used.insert(i, used[i - 1])
        j = bisect_left(times, finish, i + 1)
        if times[j] != finish:
            times.insert(j, finish)
            used.insert(j, used[j - 1])
        for k in range(i, j):
            used[k] += units
        for k in (j, i):
            if 0 < k < len(times) - 1 and used[k] == used[k - 1]:
                del times[k], used[k]

    def _after_run(self, i: int, room: int, work: int) -> int:
        used = self._used
        last = len(used) - 1
        i += 1
        while i < last and (used[i] > room or self._too_short(i, work)):
            i += 1
        return i

    def _before_run(self, i: int, room: int, work: int) -> int:
        used = self._used
        while i > 0 and (used[i - 1] > room or self._too_short(i - 1, work)):
            i -= 1
        return i

    def _too_short(self, i: int, work: int) -> bool:
        """Say whether fewer than `work` ticks are open between two times of the list."""
        start, finish = self._times[i], self._times[i + 1]
        return finish - start < work or (finish < FAR and self.hours.open_ticks(start, finish) < work)


class SpaceProfile:
    """The spans in one space, each with the group that is in it."""

    def __init__(self) -> None:
        self._spans: list[tuple[int, int, int, str]] = []
        """Start, finish, the place in line, group; by start."""
        self._of: dict[str, tuple[int, int, int, str]] = {}
        self._placed = self._longest = 0

    def clash(self, start: int, finish: int, group: str) -> Span | None:
        """Return the span of another group that overlaps this one, of several that which was placed first."""
        found: tuple[int, int, int, str] | None = None
        spans, since = self._spans, start - self._longest
        i = bisect_left(spans, (finish,)) - 1
        while i >= 0 and (span := spans[i])[0] > since:
            if span[1] > start and span[3] != group and (found is None or span[2] < found[2]):
                found = span
            i -= 1
        return None if found is None else found[:2]

    def add(self, activity: str, span: Span, group: str) -> None:
        """Enter the span of an activity."""
        self._placed += 1
        self._longest = max(self._longest, span[1] - span[0])
        self._of[activity] = entry = *span, self._placed, group
        insort(self._spans, entry)

    def remove(self, activity: str) -> None:
        """Take an activity out."""
        del self._spans[bisect_left(self._spans, self._of.pop(activity))]


@dataclass
class VisitProfile:
    """The looks made in each window of one authority's calendar."""

    group: LookGroup
    calendar: Calendar
    made: dict[Window, list[str]] = field(default_factory=dict)

    def clash(self, look: str, start: int) -> Span | None:
        """Return the window that `start` lies in, when that visit can take no such look more."""
        group = self.group
        window = self.calendar.window_at(start)
        looks = self.made.get(window) if window is not None else None
        if not looks:
            return None
        if group.most_looks is not None and len(looks) >= group.most_looks:
            return window
        if group.most_ft is not None:
            feet = sum(group.ft.get(x, 0.0) for x in looks) + group.ft.get(look, 0.0)
            if feet > group.most_ft + 1e-6:
                return window
        return None

    def add(self, look: str, start: int) -> None:
        """Enter a look in the visit of the window it starts in."""
        window = self.calendar.window_at(start)
        if window is not None:
            self.made.setdefault(window, []).append(look)

    def remove(self, look: str, start: int) -> None:
        """Take a look out of its visit."""
        window = self.calendar.window_at(start)
        if window is not None:
            self.made[window].remove(look)
