"""The last moment for a call: what notice counts forward, counted back."""

from __future__ import annotations

from datetime import date, timedelta
from random import Random

import pytest

from scheduler.explain.calls import last_call
from scheduler.network.hours import after_notice
from scheduler.worktime.calendar import Calendar
from tests.jobs import CITY, CLOCK, CREW, at, hours, job, task

JOB = job(task("a"))
OFFICE = hours("office", (0, 1, 2, 3, 4), (7, 15.5))


@pytest.mark.parametrize(
    ("party", "start", "days", "by"),
    [
        # They come on Thursday at 10:00. The day of the call does not count.
        (CREW, at(3, 10), 0, at(2, 15.5)),
        (CREW, at(3, 10), 1, at(2, 15.5)),  # called on Wednesday, Thursday is the first day of notice
        (CREW, at(3, 10), 2, at(1, 15.5)),  # called on Tuesday, Thursday is the second
        (CREW, at(3, 10), 3, at(0, 15.5)),
        # Who works on Tuesday and Thursday alone has had two of their days when called on Monday.
        (CITY, at(3, 10), 1, at(2, 15.5)),
        (CITY, at(3, 10), 2, at(0, 15.5)),
    ],
)
def test_the_last_call_by_hand(party: Calendar, start: int, days: int, by: int) -> None:
    assert last_call(JOB, party, OFFICE, start, days) == by


def four_weeks(id_: str, weekdays: tuple[int, ...], opens: int, closes: int) -> Calendar:
    """Return hours on some weekdays (0 is Monday); the clocks go forward on the first Sunday."""
    days = [CLOCK.midnight(date(2027, 3, 8) + timedelta(days=n)) for n in range(28) if n % 7 in weekdays]
    clock = [CLOCK.when(day) for day in days]
    return Calendar(
        id_, id_, tuple((CLOCK.tick(d.replace(hour=opens)), CLOCK.tick(d.replace(hour=closes))) for d in clock)
    )


@pytest.mark.parametrize("seed", range(40))
def test_a_call_by_then_is_in_time_and_one_in_the_next_office_hours_is_late(seed: int) -> None:
    """Against the rule by which a plan is made: `days` working days of the party after the day of the call."""
    rng = Random(seed)
    desk = four_weeks("desk", (0, 1, 2, 3, 4), 7, 15)
    party = four_weeks("party", tuple(rng.sample(range(7), rng.randint(2, 6))), 9, 12)
    days = rng.randint(1, 3)
    start = rng.choice(
        [w for w in party.windows if CLOCK.midnight(date(2027, 3, 22)) < w[0] < CLOCK.midnight(date(2027, 3, 29))]
    )[0] + rng.randint(0, 8)
    by = last_call(JOB, party, desk, start, days)
    in_time = after_notice(CLOCK, party, by - 1, days)
    assert in_time is not None
    assert in_time <= start
    reopened = desk.next_open(by)
    assert reopened is not None
    late = after_notice(CLOCK, party, reopened, days)
    assert late is None or late > start
