"""The time scale of figures: working days at full width, days without work narrow, nights not at all.

Each day with working hours takes one unit of length from its first open hour to its last; a day
without takes a fraction of it. So a look of half an hour is still seen in a month.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import groupby

from app.figures.work import Block
from scheduler.spoken import short_day

IDLE_DAY = 0.28
HOUR_BY_HOUR_DAYS = 2
"""So many working days or fewer are ticked by the hour."""


@dataclass(frozen=True)
class DayScale:
    """Positions of moments between two days, both shown whole."""

    first: date
    last: date
    opened: tuple[tuple[float, float], ...]
    """Of each day, the first and last open hour; (0, 0) when nobody works."""
    starts: tuple[float, ...]
    """Position of each day's start, and of the end of the last."""

    @classmethod
    def over(cls, first: date, last: date, opened: Sequence[Block]) -> DayScale:
        """Return the scale for days `first` to `last`, given the stretches in which anybody works."""
        count = (last - first).days + 1
        hours: list[tuple[float, float]] = [(0.0, 0.0)] * count
        for start, end in opened:
            index = (start.date() - first).days
            if 0 <= index < count:
                a, b = _hour(start), _hour(end) if end.date() == start.date() else 24.0
                low, high = hours[index]
                hours[index] = (min(low, a), max(high, b)) if high else (a, b)
        widest = (min((a for a, b in hours if b), default=7.0), max((b for _, b in hours if b), default=16.0))
        hours = [widest if b else (0.0, 0.0) for a, b in hours]
        starts = [0.0]
        for _, b in hours:
            starts.append(starts[-1] + (1.0 if b else IDLE_DAY))
        return cls(first, last, tuple(hours), tuple(starts))

    def at(self, when: datetime) -> float:
        """Return the position of a local moment, held within the scale."""
        index = (when.date() - self.first).days
        if index < 0:
            return 0.0
        if index >= len(self.opened):
            return self.starts[-1]
        a, b = self.opened[index]
        share = (_hour(when) - a) / (b - a) if b else _hour(when) / 24
        return self.starts[index] + min(max(share, 0.0), 1.0) * (self.starts[index + 1] - self.starts[index])

    @property
    def length(self) -> float:
        """Length of the whole scale."""
        return self.starts[-1]

    def days(self, most: int) -> list[tuple[float, date]]:
        """Return the middle of each working day and its date.

        When there are more than `most`, only the first of each week; of more weeks, every second or fourth.
        """
        shown = [i for i, (_, b) in enumerate(self.opened) if b]
        if len(shown) > most:
            weeks = [next(week) for _, week in groupby(shown, lambda i: self._day(i).isocalendar()[:2])]
            step = next(n for n in (1, 2, 4, 8, 16, len(weeks)) if len(weeks) <= n * most)
            shown = weeks[::step]
        return [((self.starts[i] + self.starts[i + 1]) / 2, self._day(i)) for i in shown]

    def ticks(self, most: int) -> tuple[list[float], list[str]]:
        """Return positions and narrow labels across a page: hours of a day or two, else weekday over day.

        The month stands over the first day labelled in it.
        """
        if sum(1 for _, b in self.opened if b) <= HOUR_BY_HOUR_DAYS:
            return self._hours()
        positions, labels, month = [], [], 0
        for position, on in self.days(most):
            head = f"{on:%b}<br>" if on.month != month else ""
            positions.append(position)
            labels.append(f"{head}{on:%a}"[: len(head) + 2] + f"<br>{on.day}")
            month = on.month
        return positions, labels

    def _hours(self) -> tuple[list[float], list[str]]:
        positions, labels = [], []
        for i, (a, b) in enumerate(self.opened):
            for hour in range(int(a) + 1, int(b) + 1, 2):
                on = self._day(i)
                first = hour == int(a) + 1
                positions.append(self.at(datetime.combine(on, time(hour))))
                labels.append((f"{short_day(on)}<br>" if first else "") + f"{hour}:00")
        return positions, labels

    def closed(self, opened: Sequence[Block]) -> list[tuple[float, float]]:
        """Return the positions between which nobody works, given when anybody does."""
        edges = [0.0]
        for start, end in opened:
            edges += [self.at(start), self.at(end)]
        edges.append(self.length)
        return [(a, b) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > 1e-6]

    def _day(self, index: int) -> date:
        return self.first + timedelta(days=index)


def _hour(when: datetime) -> float:
    return when.hour + when.minute / 60
