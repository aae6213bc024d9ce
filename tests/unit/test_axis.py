"""The work-time axis against the calendars it compresses, tick by tick."""

from __future__ import annotations

from bisect import bisect_left
from datetime import date, timedelta
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.worktime.axis import Axis
from scheduler.worktime.calendar import Calendar
from scheduler.worktime.clock import Clock

END = 120


def random_calendars(rng: Random) -> list[Calendar]:
    out = []
    for name in "abc"[: rng.randint(1, 3)]:
        edges = sorted(rng.sample(range(END), 2 * rng.randint(1, 8)))
        out.append(Calendar(name, name, tuple(zip(edges[::2], edges[1::2], strict=True))))
    return out


@settings(max_examples=150, deadline=None)
@given(st.integers(0, 10**9))
def test_spans_are_what_the_calendar_allows(seed: int) -> None:
    rng = Random(seed)
    calendars = random_calendars(rng)
    axis = Axis(calendars, begin=0, end=END)
    calendar, work, one_window = rng.choice(calendars), rng.randint(1, 9), rng.random() < 0.5
    least = rng.randint(0, 4)
    allowed = []
    for tick in range(END):
        finish, window = calendar.advance(tick, work), calendar.window_at(tick)
        if window and finish is not None and (not one_window or finish <= window[1]):
            if not one_window and window[1] < min(finish, tick + least):
                continue
            allowed.append((tick, finish))
    spans = axis.spans(calendar, work, one_window=one_window, least_start=least)
    found = [
        (axis.start_clock(s), axis.end_clock(e))
        for s, e in zip(spans.starts.tolist(), spans.ends.tolist(), strict=True)
    ]
    assert found == allowed


@settings(max_examples=100, deadline=None)
@given(st.integers(0, 10**9))
def test_a_lag_ends_where_the_clock_says(seed: int) -> None:
    rng = Random(seed)
    calendars = random_calendars(rng)
    axis = Axis(calendars, begin=0, end=END)
    lag, calendar = rng.randint(0, 30), rng.choice([None, *calendars])
    due = axis.after_lag(axis.ends, lag, calendar)
    for end, found in zip(axis.ends.tolist(), due.tolist(), strict=True):
        wanted = end + lag if calendar is None else calendar.advance(end, lag)
        assert found == wanted if wanted is not None else found > END


def test_an_end_is_the_evening_and_a_start_the_next_morning() -> None:
    days = Calendar("days", "days", ((8, 16), (32, 40)))
    axis = Axis([days], begin=0, end=48)
    assert (axis.end_clock(8), axis.start_clock(8)) == (16, 32)
    assert axis.last_end(20) == 8


def test_the_axis_keeps_every_open_tick_once() -> None:
    first, second = Calendar("a", "a", ((0, 4), (10, 12))), Calendar("b", "b", ((2, 6),))
    axis = Axis([first, second], begin=1, end=11)
    assert axis.ticks.tolist() == [1, 2, 3, 4, 5, 10]
    assert bisect_left(axis.ticks.tolist(), 10) == 5


def two_weeks() -> tuple[Axis, Calendar, Calendar]:
    """Crew hours of 4 ticks a day of 10, five days in seven, and an inspector's 2 ticks on four of those days."""
    crew = Calendar("crew", "crew", tuple((10 * d + 2, 10 * d + 6) for d in range(14) if d % 7 < 5))
    looks = Calendar("looks", "looks", tuple((10 * d + 3, 10 * d + 5) for d in (1, 3, 8, 10)))
    return Axis([crew, looks], begin=0, end=140), crew, looks


def test_work_by_fewer_hours_has_the_size_of_what_others_work_meanwhile() -> None:
    axis, crew, looks = two_weeks()
    assert axis.spans(looks, 3).starts.tolist() == [5, 6, 13, 14, 25, 26]
    assert axis.spans(looks, 3).sizes.tolist() == [9, 9, 13, 13, 9, 9]
    assert axis.spans(crew, 7).sizes.tolist() == [7] * 34
    assert axis.spans(looks, 2, one_window=True).starts.tolist() == [5, 13, 25, 33]
    assert len(axis.spans(looks, 3, one_window=True).starts) == 0


def test_no_work_stands_anywhere() -> None:
    axis, crew, _ = two_weeks()
    spans = axis.spans(crew, 0)
    assert spans.starts.tolist() == spans.ends.tolist() == list(range(41))


def test_ends_nearest_a_clock_tick() -> None:
    axis, _, _ = two_weeks()
    assert [axis.last_end(t) for t in (0, 2, 3, 6, 9, 12, 13)] == [0, 0, 1, 4, 4, 4, 5]
    assert [axis.first_end(t) for t in (0, 1, 3, 6, 7, 12, 13)] == [0, 1, 1, 4, 5, 5, 5]


def test_the_nights_of_a_weekend_are_counted_together() -> None:
    axis, _, _ = two_weeks()
    ticks, counts = axis.nights(range(10, 140, 10))
    assert ticks.tolist() == [4, 8, 12, 16, 20, 24, 28, 32, 36]
    assert counts.tolist() == [1, 1, 1, 1, 3, 1, 1, 1, 1]


@pytest.mark.parametrize("day", [date(2025, 3, 9), date(2025, 11, 2)])
def test_the_night_after_the_clocks_change(day: date) -> None:
    clock = Clock.starting(day, "America/New_York")
    midnight = clock.midnight(day + timedelta(days=1))
    crew = Calendar("crew", "crew", ((32, 64), (midnight + 32, midnight + 64)))
    ticks, counts = Axis([crew], begin=0, end=300).nights([midnight])
    assert (ticks.tolist(), counts.tolist()) == ([32], [1])
