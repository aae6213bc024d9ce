"""Who and what is taken when, while a plan is built piece by piece.

Each class here answers one question about a span [start, finish) of clock ticks: which
stretch of time already taken does it run into? The answer is a span to step past, forward
or backward, or None when there is room.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass, field

from scheduler.network.model import VisitRule
from scheduler.schedule import Span
from scheduler.worktime.calendar import Calendar, Window

FAR = 1 << 40
"""A tick after everything: the finish of a stretch of trench whose cover is not planned yet."""


class Pool:
    """Units in use over time, of something of which there are `capacity` units."""

    def __init__(self, capacity: int) -> None:
        self.capacity = capacity
        self._times = [-FAR]
        self._used = [0]

    def clash(self, start: int, finish: int, units: int) -> Span | None:
        """Return the first run of time inside the span in which `units` more are not free."""
        times, used, room = self._times, self._used, self.capacity - units
        i = bisect_right(times, start) - 1
        last = len(times)
        while i < last and times[i] < finish:
            if used[i] > room:
                j = i + 1
                while j < last and used[j] > room:
                    j += 1
                while i > 0 and used[i - 1] > room:
                    i -= 1
                return times[i], times[j] if j < last else FAR
            i += 1
        return None

    def last_clash(self, start: int, units: int) -> int | None:
        """Return the end of the last time after `start` at which `units` more are not free."""
        times, used, room = self._times, self._used, self.capacity - units
        for i in range(len(times) - 1, -1, -1):
            if used[i] > room:
                end = times[i + 1] if i + 1 < len(times) else FAR
                return end if end > start else None
            if times[i] <= start:
                break
        return None

    def add(self, start: int, finish: int, units: int) -> None:
        """Take units over a span; negative units give them back."""
        if start >= finish or units == 0:
            return
        i, j = self._cut(start), self._cut(finish)
        for k in range(i, j):
            self._used[k] += units
        self._join(j)
        self._join(i)

    def _cut(self, tick: int) -> int:
        i = bisect_left(self._times, tick)
        if i == len(self._times) or self._times[i] != tick:
            self._times.insert(i, tick)
            self._used.insert(i, self._used[i - 1])
        return i

    def _join(self, i: int) -> None:
        if 0 < i < len(self._times) and self._used[i] == self._used[i - 1]:
            del self._times[i], self._used[i]


@dataclass
class Room:
    """The spans in one space, each with the group that is in it."""

    spans: dict[str, tuple[int, int, str]] = field(default_factory=dict)

    def clash(self, start: int, finish: int, group: str) -> Span | None:
        """Return a span of another group that overlaps this one."""
        for s, f, g in self.spans.values():
            if s < finish and start < f and g != group:
                return s, f
        return None


@dataclass
class Calls:
    """The looks made in each window of one authority's calendar."""

    rule: VisitRule
    calendar: Calendar
    made: dict[Window, list[str]] = field(default_factory=dict)

    def clash(self, look: str, start: int) -> Span | None:
        """Return the window that `start` lies in, when that visit can take no such look more."""
        rule = self.rule
        window = self.calendar.window_at(start)
        looks = self.made.get(window) if window is not None else None
        if not looks:
            return None
        if rule.max_looks is not None and len(looks) >= rule.max_looks:
            return window
        if rule.max_ft is not None:
            feet = sum(rule.look_ft.get(x, 0.0) for x in looks) + rule.look_ft.get(look, 0.0)
            if feet > rule.max_ft + 1e-6:
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
