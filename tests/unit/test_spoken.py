"""Moments and lengths of time are written in one form each, and in one place."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path

import pytest

from scheduler.spoken import day_and_time, from_to, length, moment, short_day, times, typed, working, working_hours
from scheduler.worktime.clock import Clock

NOON = datetime(2027, 3, 9, 12, 0, tzinfo=UTC)
ROOT = Path(__file__).parents[2]


def test_moments_and_days() -> None:
    assert moment(NOON) == "Tue 9 Mar 12:00"
    assert moment(NOON, year=True) == "Tue 9 Mar 2027 12:00"
    assert day_and_time(NOON) == "Tuesday 9 March, 12:00"
    assert (short_day(NOON), short_day(NOON, year=True)) == ("Tue 9 Mar", "Tue 9 Mar 2027")
    assert typed(NOON) == "2027-03-09 12:00"


def test_stretches_of_time_name_a_day_once() -> None:
    assert times(NOON, NOON.replace(hour=15)) == "12:00-15:00"
    assert times(NOON, NOON) == "12:00"
    assert from_to(NOON, NOON.replace(hour=15)) == "Tue 9 Mar 12:00-15:00"
    assert from_to(NOON, NOON.replace(day=10)) == "Tue 9 Mar 12:00 to Wed 10 Mar 12:00"


@pytest.mark.parametrize(
    ("minutes", "elapsed", "at_work"),
    [
        (0, "no time", "no time"),
        (45, "45 min", "45 min"),
        (90, "1 h 30 min", "1 h 30 min"),
        (1440, "1 day", "24 h"),
        (-3015, "2 days 2 h 15 min", "50 h 15 min"),
    ],
)
def test_a_day_has_24_hours_of_elapsed_time_and_no_fixed_share_of_working_time(
    minutes: int, elapsed: str, at_work: str
) -> None:
    assert (length(minutes), working(minutes)) == (elapsed, at_work)


def test_amounts_of_work() -> None:
    assert [working_hours(h) for h in (0.5, 1, 2.5)] == ["0.5 working hours", "1 working hour", "2.5 working hours"]


def test_a_clock_speaks_the_year_only_when_it_is_not_its_first() -> None:
    clock = Clock.starting(NOON.date(), "UTC")
    tick = clock.tick(NOON)
    assert clock.spoken(tick) == "Tue 9 Mar 12:00"
    assert clock.spoken_span(tick, tick) == "Tue 9 Mar 12:00"
    assert clock.spoken_span(tick, tick + 4) == "Tue 9 Mar 12:00-13:00"
    new_year = clock.tick(datetime(2028, 1, 1, 7))
    assert clock.spoken_span(new_year, new_year + 4) == "Sat 1 Jan 2028 07:00-08:00"


def test_no_other_file_writes_a_moment_or_a_length_by_hand() -> None:
    by_hand = re.compile(r"strftime|\{[^{}]*:%[a-zA-Z]|divmod\([^)]*(1440|60)\)")
    allowed = {
        "scheduler/spoken.py": "the one place",
        "app/figures/scale.py": "labels of an axis, two letters wide",
        "scheduler/shared_visits.py": "the ids of visits",
    }
    found = {
        path.relative_to(ROOT).as_posix()
        for folder in ("scheduler", "app")
        for path in (ROOT / folder).rglob("*.py")
        if by_hand.search(path.read_text(encoding="utf-8"))
    }
    assert found == set(allowed)
