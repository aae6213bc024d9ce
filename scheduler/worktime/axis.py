"""The work-time axis: every tick on which anybody may work, closed time cut out.

Work tick w is the w-th tick open in at least one calendar. A start at w is the clock time
at which that tick begins; an end at w is the clock time at which tick w-1 ends, so that
work which fills a day ends that evening and not the next morning.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from scheduler.worktime.calendar import Calendar, merged

Ticks = NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class Spans:
    """The starts one kind of activity may have, and its ends, both ascending work ticks."""

    starts: Ticks
    ends: Ticks

    @cached_property
    def sizes(self) -> Ticks:
        """Work ticks from start to end: the work, and what it spans while others work."""
        return self.ends - self.starts

    def where(self, keep: NDArray[np.bool_]) -> Spans:
        """Return the spans for which `keep` is true."""
        return Spans(self.starts[keep], self.ends[keep])

    def between(self, first: int, last: int, edge: str = "start") -> Spans:
        """Return the spans whose start (or finish, by `edge`) is in [first, last]."""
        ticks = self.starts if edge == "start" else self.ends
        return self.cut(int(np.searchsorted(ticks, first)), int(np.searchsorted(ticks, last, side="right")))

    def cut(self, first: int, after: int) -> Spans:
        """Return the spans from one place in the list to before another."""
        return Spans(self.starts[first:after], self.ends[first:after])


class Axis:
    """The union of calendars from `begin` to `end` [clock ticks], closed ticks left out."""

    def __init__(self, calendars: Iterable[Calendar], *, begin: int, end: int) -> None:
        self.begin, self.end = begin, end
        union = merged(w for c in calendars for w in c.windows)
        self.ticks: Ticks = _open_ticks(union, begin, end)
        last = self.ticks[-1:] + 1 if len(self.ticks) else np.array([begin])
        self.starts: Ticks = np.concatenate((self.ticks, last)).astype(np.int64)
        """Clock tick of a start at each work tick; one past the last is the end of all work."""
        self.ends: Ticks = np.concatenate(([begin], self.ticks + 1)).astype(np.int64)
        """Clock tick of an end at each work tick."""
        self._open: dict[str, Ticks] = {}
        self._spans: dict[tuple[str, int, bool, int], Spans] = {}

    def __len__(self) -> int:
        return len(self.ticks)

    def to_axis(self, tick: int) -> int:
        """Return the first work tick that begins at or after a clock tick."""
        return int(np.searchsorted(self.ticks, tick))

    def start_clock(self, w: int) -> int:
        """Return the clock tick of a start at work tick w."""
        return int(self.starts[w])

    def end_clock(self, w: int) -> int:
        """Return the clock tick of an end at work tick w."""
        return int(self.ends[w])

    def last_end(self, tick: int) -> int:
        """Return the last work tick at which an end is no later than a clock tick; -1 if none is."""
        return int(np.searchsorted(self.ends, tick, side="right")) - 1

    def first_end(self, tick: int) -> int:
        """Return the first work tick at which an end is no earlier than a clock tick."""
        return int(np.searchsorted(self.ends, tick))

    def open_ticks(self, calendar: Calendar) -> Ticks:
        """Return the work ticks open in a calendar of this axis."""
        if calendar.id not in self._open:
            clock = _open_ticks(calendar.windows, self.begin, self.end)
            self._open[calendar.id] = np.searchsorted(self.ticks, clock).astype(np.int64)
        return self._open[calendar.id]

    def spans(self, calendar: Calendar, work: int, *, one_window: bool = False, least_start: int = 0) -> Spans:
        """Return every start at which `work` ticks of a calendar fit, with its end.

        The calendar stays open for `least_start` ticks after each, or until the work is done.
        Work of no ticks may stand at any work tick, whatever the calendar.
        """
        key = (calendar.id, work, one_window, least_start)
        if key not in self._spans:
            self._spans[key] = self._make_spans(calendar, work, one_window, least_start)
        return self._spans[key]

    def _make_spans(self, calendar: Calendar, work: int, one_window: bool, least_start: int) -> Spans:
        if work == 0:
            anywhere = np.arange(len(self) + 1, dtype=np.int64)
            return Spans(anywhere, anywhere)
        at = self.open_ticks(calendar)
        count = max(len(at) - work + 1, 0)
        spans = Spans(at[:count], at[work - 1 :] + 1 if count else at[:0])
        if count and (least := min(least_start, work)) > 1 and not one_window:
            clock = self.ticks[at]
            return spans.where(clock[least - 1 :][:count] - clock[:count] == least - 1)
        if one_window:
            elapsed = self.ends[spans.ends] - self.starts[spans.starts]
            return spans.where(elapsed == work)
        return spans

    def nights(self, midnights: Iterable[int]) -> tuple[Ticks, Ticks]:
        """Return work ticks that begin after a midnight, and how many midnights each follows.

        A stretch from start s to end e stands open over the night at p when s < p < e.
        """
        inside = np.array([m for m in midnights if self.begin < m < self.end], dtype=np.int64)
        at, count = np.unique(np.searchsorted(self.ticks, inside), return_counts=True)
        keep = (at > 0) & (at < len(self))
        return at[keep].astype(np.int64), count[keep].astype(np.int64)

    def after_lag(self, moments: Ticks, lag: int, calendar: Calendar | None) -> Ticks:
        """Return the clock tick at which a lag after each clock tick ends.

        The lag counts elapsed ticks, or open ticks of a calendar. A lag that outlasts the
        calendar ends far beyond the axis.
        """
        if calendar is None:
            return moments + lag
        if lag <= 0:
            return moments
        clock = _open_ticks(calendar.windows, self.begin, FAR)
        at = np.searchsorted(clock, moments) + lag - 1
        ended = np.concatenate((clock + 1, [FAR]))
        return ended[np.minimum(at, len(clock))].astype(np.int64)


FAR = 1 << 40
"""A clock tick later than anything."""


def open_before(calendar: Calendar, ticks: Ticks) -> Ticks:
    """Return how many open ticks of a calendar lie before each of some clock ticks, from 0 on."""
    windows = np.array(calendar.windows, dtype=np.int64).reshape(-1, 2)
    passed = np.concatenate(([0], np.cumsum(windows[:, 1] - windows[:, 0])))
    begun = np.searchsorted(windows[:, 0], ticks, side="right")
    last_end = np.concatenate(([0], windows[:, 1]))[begun]
    still: Ticks = passed[begun] - np.maximum(last_end - ticks, 0)
    return still


def _open_ticks(windows: Iterable[tuple[int, int]], begin: int, end: int) -> Ticks:
    clipped = [np.arange(max(a, begin), min(b, end)) for a, b in windows if b > begin and a < end]
    return np.concatenate(clipped).astype(np.int64) if clipped else np.empty(0, dtype=np.int64)
