"""Calendars as sorted, disjoint open windows in clock ticks, half-open [start, end)."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable
from dataclasses import dataclass, field

Window = tuple[int, int]


def merged(windows: Iterable[Window]) -> tuple[Window, ...]:
    """Sort windows, drop empty ones and join those that touch or overlap."""
    out: list[Window] = []
    for start, end in sorted(w for w in windows if w[0] < w[1]):
        if out and start <= out[-1][1]:
            out[-1] = (out[-1][0], max(end, out[-1][1]))
        else:
            out.append((start, end))
    return tuple(out)


@dataclass(frozen=True, slots=True)
class Calendar:
    """When somebody or something can work; `name` is what a person calls these hours."""

    id: str
    name: str
    windows: tuple[Window, ...]
    _starts: tuple[int, ...] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "windows", merged(self.windows))
        object.__setattr__(self, "_starts", tuple(w[0] for w in self.windows))

    def window_at(self, tick: int) -> Window | None:
        """Return the window open during [tick, tick+1), or None when closed."""
        i = bisect_right(self._starts, tick) - 1
        return self.windows[i] if i >= 0 and tick < self.windows[i][1] else None

    def open_ticks(self, start: int, end: int) -> int:
        """Return how many open ticks lie in [start, end)."""
        i = max(bisect_right(self._starts, start) - 1, 0)
        total = 0
        for a, b in self.windows[i:]:
            if a >= end:
                break
            total += max(0, min(b, end) - max(a, start))
        return total

    def advance(self, tick: int, work: int) -> int | None:
        """Return the earliest tick by which `work` open ticks have passed since `tick`.

        With no work it returns `tick` itself. None when the calendar ends first.
        """
        if work <= 0:
            return tick
        i = max(bisect_right(self._starts, tick) - 1, 0)
        for a, b in self.windows[i:]:
            a = max(a, tick)
            if b - a >= work:
                return a + work
            work -= max(0, b - a)
        return None

    def retreat(self, tick: int, work: int) -> int | None:
        """Return the latest tick from which `work` open ticks pass by `tick`; `advance` looked at from its end.

        With no work it returns `tick` itself. None when the calendar begins too late.
        """
        if work <= 0:
            return tick
        for a, b in reversed(self.windows[: bisect_left(self._starts, tick)]):
            b = min(b, tick)
            if b - a >= work:
                return b - work
            work -= b - a
        return None

    def next_open(self, tick: int) -> int | None:
        """Return the first open tick at or after `tick`."""
        i = max(bisect_right(self._starts, tick) - 1, 0)
        for a, b in self.windows[i:]:
            if b > tick:
                return max(a, tick)
        return None


def intersection(id_: str, name: str, calendars: Iterable[Calendar]) -> Calendar:
    """Return the calendar that is open only when every given calendar is open."""
    cals = list(calendars)
    windows: tuple[Window, ...] = cals[0].windows
    for other in cals[1:]:
        out: list[Window] = []
        i = j = 0
        while i < len(windows) and j < len(other.windows):
            a, b = windows[i], other.windows[j]
            out.append((max(a[0], b[0]), min(a[1], b[1])))
            if a[1] < b[1]:
                i += 1
            else:
                j += 1
        windows = merged(out)
    return Calendar(id_, name, windows)
