"""The last moment for a call: what notice counts forward, counted back."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

import pytest

from scheduler.dates_csv import read_dates
from scheduler.network.hours import after_notice
from scheduler.schedule import Schedule
from scheduler.situation.notice import CallDesk, last_call
from scheduler.worktime.calendar import Calendar
from tests.call_lists import calls_of
from tests.derived import Records, changed, network, record
from tests.jobs import CITY, CLOCK, CREW, at, hours
from tests.small_site import SMALL_SITE_DATES

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
        # Whose hours are not known far enough back is called as many days ahead; before the first day, in office hours.
        (hours("thursday", (3,), (9, 11)), at(3, 10), 2, at(0, 15.5)),
        (hours("monday and friday", (0, 4), (9, 11)), at(4, 10), 3, at(-3, 15.5)),
    ],
)
def test_the_last_call_by_hand(party: Calendar, start: int, days: int, by: int) -> None:
    assert last_call(CallDesk(CLOCK, (OFFICE,)), party, start, days) == by


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
    by = last_call(CallDesk(CLOCK, (desk,)), party, start, days)
    in_time = after_notice(CLOCK, party, by - 1, days)
    assert in_time is not None
    assert in_time <= start
    reopened = desk.next_open(by)
    assert reopened is not None
    late = after_notice(CLOCK, party, reopened, days)
    assert late is None or late > start


# ---- the calls of a plan of the small site, by its calendars: the desk is open Monday to Friday 7:00-15:30 ----------


def june(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 6, day, hour, minute, tzinfo=ZoneInfo("America/Denver"))


def kept() -> Schedule:
    return read_dates(SMALL_SITE_DATES, network())


def calls(schedule: Schedule, change: Callable[[Records], object] | None = None, **how: int) -> dict[str, datetime]:
    return {c.id: c.by for c in calls_of(changed(change), network(), schedule, **how)}


SAMPLE_CALLS = {
    "call/elec/2026-06-12": june(10, 15, 30),  # Friday after 2 working days of the crew's hours: Thursday, Friday
    "call/I1/2026-06-15": june(12, 15, 30),  # Monday after 1 of the city's days: Monday
    "call/I1/2026-06-17": june(16, 15, 30),
    "move/BK1": june(
        16, 15, 30
    ),  # booked Tuesday 23; wanted Monday after 3 of the utility's, Mon-Thu: Wednesday, Thursday, Monday
    "call/I1/2026-06-22": june(18, 15, 30),  # Monday after 1 of the city's; on Friday, a holiday, nobody is at the desk
    "call/I1/2026-06-24": june(23, 15, 30),
}


def test_every_call_of_a_plan_by_hand_the_most_urgent_first() -> None:
    found = calls(kept())
    assert found == SAMPLE_CALLS
    assert list(found.values()) == sorted(found.values())


def test_who_is_on_site_already_is_not_called_again_until_away_for_longer_than_they_stay() -> None:
    """The electricians are there on Fri 12, Tue 16, Thu 18, Mon 22 and Tue 23 June: three days away at most."""

    def days(stay: int) -> list[str]:
        found = calls(kept(), lambda r: record(r, "trades", "elec").update(stay_days=stay))
        return [c.removeprefix("call/elec/2026-06-") for c in found if c.startswith("call/elec/")]

    assert days(3) == ["12"]
    assert days(2) == ["12", "16", "22"]
    assert days(1) == ["12", "16", "22"]
    assert days(0) == ["12", "16", "18", "22"]


def test_a_call_is_for_the_first_day_of_work_that_lasts_several() -> None:
    clock, schedule = network().clock, kept()
    over_the_weekend = clock.tick(june(12, 10)), clock.tick(june(16, 9))
    longer = replace(schedule, dates={**schedule.dates, "R1/L0/lay-P1": over_the_weekend})
    assert calls(longer) == SAMPLE_CALLS


def test_nobody_is_called_for_what_has_begun_but_for_what_begins_at_the_moment_itself() -> None:
    clock = network().clock
    tie_in = clock.tick(june(22, 11, 30))
    assert set(calls(kept(), since=tie_in)) == {"move/BK1", "call/I1/2026-06-24"}
    assert set(calls(kept(), since=tie_in + 1)) == {"call/I1/2026-06-24"}
    assert "call/elec/2026-06-12" in calls(kept(), since=clock.tick(june(12, 11)))
    assert "call/elec/2026-06-12" not in calls(kept(), since=clock.tick(june(12, 11)) + 1)


def test_an_own_trade_and_one_that_asks_for_no_notice_are_not_called() -> None:
    for change in ({"own": True}, {"notice_days": 0}):
        found = calls(kept(), lambda r, change=change: record(r, "trades", "elec").update(change))
        assert not [c for c in found if c.startswith("call/elec/")]


def test_what_is_said_of_a_call() -> None:
    found = {c.id: c.text for c in calls_of(changed(), network(), kept())}
    assert found["call/elec/2026-06-12"] == (
        "Call Sample Electric: first work on site Fri 12 Jun 11:00 (2 working days of notice)."
    )
    assert found["call/I1/2026-06-15"] == (
        "Call V. Sample, City of Sample: Conduit and pipe before cover, Mon 15 Jun 09:00 (1 working day of notice)."
    )
    found = {
        c.id: c.text
        for c in calls_of(changed(lambda r: record(r, "inspections", "I1").update(notice_days=0)), network(), kept())
    }
    assert found["call/I1/2026-06-15"] == (
        "Call V. Sample, City of Sample: Conduit and pipe before cover, Mon 15 Jun 09:00."
    )


def test_a_renewal_that_the_plan_uses_is_a_call_by_its_last_day_and_others_are_none() -> None:
    (ticket,) = network().tickets
    first = ticket.renewals[0]
    renewed = replace(kept(), renewals=(first.id,))
    assert calls(renewed) == SAMPLE_CALLS | {f"call/{first.id}": network().clock.when(first.call_by)}


def test_looks_of_one_day_are_one_call_for_the_earliest_of_them() -> None:
    (rule,) = network().visit_rules
    schedule = kept()
    first, second, *_ = sorted(rule.looks, key=lambda k: schedule.dates[k])
    start = network().clock.tick(june(15, 9))
    together = {**schedule.dates, first: (start + 2, start + 4), second: (start, start + 2)}
    (text,) = [
        c.text
        for c in calls_of(changed(), network(), replace(schedule, dates=together))
        if c.id.endswith("I1/2026-06-15")
    ]
    assert "Mon 15 Jun 09:00" in text
