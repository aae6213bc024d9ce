"""Calendars as sorted, disjoint open windows in clock ticks, half-open [start, end)."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from itertools import accumulate, islice

Window = tuple[int, int]


def merged(windows: Iterable[Window]) -> tuple[Window, ...]:
    """Sort windows, drop empty ones and join those that touch or overlap."""
    out: list[Window] = []
    for start, end in sorted(w for w in windows if w[0] < w[1]):
        if out and start <= out[-1][1]:
            if end > out[-1][1]:
                out[-1] = (out[-1][0], end)
        else:
            out.append((start, end))
    return tuple(out)


@dataclass(frozen=True, slots=True)
class Calendar:
    """When somebody or something can work; `name` is what a person calls these hours."""

    id: str
    name: str
    windows: tuple[Window, ...]
    barred: tuple[Window, ...] = ()
    """Times at which it stays closed however many days are added to it, such as a season without such work."""
    _starts: tuple[int, ...] = field(init=False, repr=False, compare=False)
    _ends: tuple[int, ...] = field(init=False, repr=False, compare=False)
    _passed: tuple[int, ...] = field(init=False, repr=False, compare=False)
    """Open ticks before each window, and at last all of them."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "windows", merged(self.windows))
        object.__setattr__(self, "_starts", tuple(w[0] for w in self.windows))
        object.__setattr__(self, "_ends", tuple(w[1] for w in self.windows))
        object.__setattr__(self, "_passed", tuple(accumulate((b - a for a, b in self.windows), initial=0)))

    def within(self, other: Calendar) -> bool:
        """Return whether it is open only when another calendar is."""
        return self.id == other.id or all(
            (around := other.window_at(start)) is not None and end <= around[1] for start, end in self.windows
        )

    def window_at(self, tick: int) -> Window | None:
        """Return the window open during [tick, tick+1), or None when closed."""
        i = bisect_right(self._starts, tick) - 1
        return self.windows[i] if i >= 0 and tick < self.windows[i][1] else None

    def windows_from(self, tick: int) -> Iterator[Window]:
        """Yield the windows that end after `tick`, first to last."""
        return islice(self.windows, bisect_right(self._ends, tick), None)

    def windows_to(self, tick: int) -> Iterator[Window]:
        """Yield the windows that start before `tick`, last to first."""
        return map(self.windows.__getitem__, range(bisect_left(self._starts, tick) - 1, -1, -1))

    def open_ticks(self, start: int, end: int) -> int:
        """Return how many open ticks lie in [start, end)."""
        return max(self._open_before(end) - self._open_before(start), 0)

    def advance(self, tick: int, work: int) -> int | None:
        """Return the earliest tick by which `work` open ticks have passed since `tick`.

        With no work it returns `tick` itself. None when the calendar ends first.
        """
        if work <= 0:
            return tick
        reach = self._open_before(tick) + work
        if reach > self._passed[-1]:
            return None
        i = bisect_left(self._passed, reach) - 1
        return self._starts[i] + reach - self._passed[i]

    def retreat(self, tick: int, work: int) -> int | None:
        """Return the latest tick from which `work` open ticks pass by `tick`; `advance` looked at from its end.

        With no work it returns `tick` itself. None when the calendar begins too late.
        """
        if work <= 0:
            return tick
        reach = self._open_before(tick) - work
        if reach < 0:
            return None
        i = bisect_right(self._passed, reach) - 1
        return self._starts[i] + reach - self._passed[i]

    def next_open(self, tick: int) -> int | None:
        """Return the first open tick at or after `tick`."""
        i = bisect_right(self._ends, tick)
        return None if i == len(self._ends) else max(self._starts[i], tick)

    def _open_before(self, tick: int) -> int:
        i = bisect_right(self._starts, tick) - 1
        if i < 0:
            return 0
        end = self._ends[i]
        return self._passed[i] + (tick if tick < end else end) - self._starts[i]


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


def union(calendars: Iterable[Calendar]) -> Calendar:
    """Return the calendar that is open whenever any of some calendars is; one alone as it is."""
    cals = list(calendars)
    if len(cals) == 1:
        return cals[0]
    said = " + ".join(c.id for c in cals)
    return Calendar(said, said, tuple(w for c in cals for w in c.windows))
