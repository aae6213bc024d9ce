"""The work-time axis against the calendars it compresses, tick by tick."""

from __future__ import annotations

from bisect import bisect_left
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.worktime.axis import Axis
from scheduler.worktime.calendar import Calendar

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
    allowed = []
    for tick in range(END):
        finish, window = calendar.advance(tick, work), calendar.window_at(tick)
        if window and finish is not None and (not one_window or finish <= window[1]):
            allowed.append((tick, finish))
    spans = axis.spans(calendar, work, one_window=one_window)
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
