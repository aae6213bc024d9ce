"""Calendars laid out in ticks: wall-clock hours, holidays, extra days, daylight saving time, working days."""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.site.calendars import (
    build_calendars,
    clock_of,
    data_date,
    horizon,
    public_holidays,
    working_days_after,
    working_days_before,
)
from scheduler.site.files import read_site
from scheduler.site.people import CalendarSpec
from scheduler.site.site_record import Site
from scheduler.worktime.calendar import Calendar
from tests.small_site import FILE, SMALL_SITE

BASE = read_site(SMALL_SITE, file=FILE)


def site_from(first_day: date, *, state: str | None = None, zone: str = "America/Denver", days: int = 60) -> Site:
    job = {"first_day": first_day, "state": state, "time_zone": zone, "horizon_days": days, "target_finish": None}
    return BASE.model_copy(update={"site": BASE.site.model_copy(update=job)})


def laid_out(site: Site, **fields: object) -> Calendar:
    spec = CalendarSpec.model_validate({"id": "x", "name": "x", **fields})
    return build_calendars(site.model_copy(update={"calendars": [spec]}), clock_of(site))["x"]


def shown(site: Site, calendar: Calendar) -> list[str]:
    clock = clock_of(site)
    return [f"{clock.when(a):%a %d %b %H:%M}-{clock.when(b):%H:%M}" for a, b in calendar.windows]


def test_the_clock_starts_at_local_midnight_of_the_first_day() -> None:
    clock = clock_of(BASE)
    assert clock.when(0).isoformat() == "2026-06-08T00:00:00-06:00"
    assert data_date(BASE, clock) == 0
    assert clock.when(horizon(BASE, clock)).isoformat() == "2026-09-06T00:00:00-06:00"


def test_weekly_hours_by_weekday() -> None:
    site = site_from(date(2026, 6, 12), days=7)
    assert shown(site, laid_out(site, weekly=["mon,fri 07:00-12:00", "fri 12:30-24:00", "sat-sun 09:00-10:00"])) == [
        "Fri 12 Jun 07:00-12:00",
        "Fri 12 Jun 12:30-00:00",
        "Sat 13 Jun 09:00-10:00",
        "Sun 14 Jun 09:00-10:00",
        "Mon 15 Jun 07:00-12:00",
    ]


@pytest.mark.known
def test_independence_day_2026_is_kept_on_friday() -> None:
    # 5 U.S.C. 6103(b): a holiday that falls on a Saturday is kept on the Friday before; 4 July 2026 is a Saturday
    site = site_from(date(2026, 7, 1), days=7)
    worked = laid_out(site, weekly=["mon-fri 07:00-15:30"])
    assert shown(site, worked) == [
        "Wed 01 Jul 07:00-15:30",
        "Thu 02 Jul 07:00-15:30",
        "Mon 06 Jul 07:00-15:30",
        "Tue 07 Jul 07:00-15:30",
    ]
    assert len(laid_out(site, weekly=["mon-fri 07:00-15:30"], holidays=False).windows) == 5


@pytest.mark.known
def test_the_eleven_federal_holidays_of_2026() -> None:
    # 5 U.S.C. 6103(a), dates of the calendar year 2026 worked out by hand
    days = {d for d in public_holidays(site_from(date(2026, 1, 1)).site) if d.year == 2026}
    assert days == {
        date(2026, 1, 1),
        date(2026, 1, 19),
        date(2026, 2, 16),
        date(2026, 5, 25),
        date(2026, 6, 19),
        date(2026, 7, 3),
        date(2026, 7, 4),
        date(2026, 9, 7),
        date(2026, 10, 12),
        date(2026, 11, 11),
        date(2026, 11, 26),
        date(2026, 12, 25),
    }


def test_a_state_keeps_holidays_of_its_own() -> None:
    # Utah Code 63G-1-301: Pioneer Day, 24 July (from memory)
    day = date(2026, 7, 24)
    assert day in public_holidays(site_from(day, state="UT").site)
    assert day not in public_holidays(site_from(day).site)


def test_extra_hours_win_over_closed_days_and_holidays() -> None:
    site = site_from(date(2026, 7, 1), days=7)
    calendar = laid_out(
        site,
        weekly=["mon-fri 07:00-15:30"],
        closed=[date(2026, 7, 1), date(2026, 7, 6)],
        open=[
            {"date": date(2026, 7, 2), "hours": "15:30-17:00"},
            {"date": date(2026, 7, 3), "hours": "08:00-12:00"},
            {"date": date(2026, 7, 6), "hours": "10:00-11:00"},
            {"date": date(2026, 7, 9), "hours": "10:00-11:00"},
        ],
    )
    assert shown(site, calendar) == [
        "Thu 02 Jul 07:00-17:00",
        "Fri 03 Jul 08:00-12:00",
        "Mon 06 Jul 10:00-11:00",
        "Tue 07 Jul 07:00-15:30",
    ]  # 9 July lies past the horizon


# 15 U.S.C. 260a: daylight saving time from the second Sunday of March to the first of November, at 2:00 (from memory)
SPRING, AUTUMN = date(2026, 3, 8), date(2026, 11, 1)


@pytest.mark.known
@pytest.mark.parametrize(
    ("day", "hours", "elapsed_minutes"),
    [
        (SPRING, "00:00-06:00", 5 * 60),
        (AUTUMN, "00:00-06:00", 7 * 60),
        (SPRING, "01:00-02:30", 60),  # the clock jumps from 2:00 to 3:00, so 2:30 never comes
        (SPRING, "02:15-04:00", 60),
        (SPRING, "02:00-02:45", 0),
        (AUTUMN, "00:00-01:30", 90),  # 1:30 comes twice; the first one counts
        (AUTUMN, "00:00-24:00", 25 * 60),
        (SPRING, "00:00-24:00", 23 * 60),
    ],
)
def test_a_night_when_the_clocks_change(day: date, hours: str, elapsed_minutes: int) -> None:
    site = site_from(day - timedelta(days=3), days=7)
    windows = laid_out(site, weekly=[f"sun {hours}"]).windows
    assert sum(b - a for a, b in windows) * clock_of(site).tick_minutes == elapsed_minutes


@pytest.mark.parametrize("day", [SPRING, AUTUMN])
def test_working_hours_keep_their_wall_clock_across_the_change(day: date) -> None:
    site = site_from(day - timedelta(days=6), days=14)
    clock = clock_of(site)
    windows = laid_out(site, weekly=["mon-fri 07:00-15:30"]).windows
    assert {(f"{clock.when(a):%H:%M}", f"{clock.when(b):%H:%M}", b - a) for a, b in windows} == {("07:00", "15:30", 34)}
    assert len({clock.when(a).utcoffset() for a, _ in windows}) == 2


@pytest.mark.property
@settings(max_examples=60, deadline=None)
@given(
    st.dates(date(2024, 1, 1), date(2030, 12, 31)),
    st.sampled_from(["America/Denver", "America/Phoenix", "America/St_Johns", "Pacific/Auckland", "UTC"]),
    st.integers(0, 95),
    st.integers(1, 96),
)
def test_a_tick_is_open_when_the_wall_clock_says_so(day: date, zone: str, first: int, last: int) -> None:
    first, last = (first, last) if first < last else (last - 1, first + 1)
    site = site_from(day, zone=zone, days=8)
    clock = clock_of(site)
    text = f"{first // 4:02}:{first % 4 * 15:02}-{last // 4:02}:{last % 4 * 15:02}"
    calendar = laid_out(site, weekly=[f"mon-sun {text}"], holidays=False)
    for tick in range(horizon(site, clock)):
        wall = clock.when(tick)
        quarter = wall.hour * 4 + wall.minute // 15
        if not wall.fold and wall.replace(fold=1).utcoffset() == wall.utcoffset():  # hours that come twice apart
            assert (calendar.window_at(tick) is not None) == (first <= quarter < last)


def after(call: datetime, days: int, *, state: str | None = None) -> datetime:
    site = site_from(date(2025, 5, 1), state=state, zone="America/Chicago")
    clock = clock_of(site)
    return clock.when(working_days_after(site, clock, tick=clock.tick(call), days=days)).replace(tzinfo=None)


@pytest.mark.known
@pytest.mark.parametrize(
    ("call", "days", "clear"),
    [
        # Cal. Gov. Code 4216.2: two working days, the day of the call not counted: Monday's call, dig on Thursday
        (datetime(2025, 6, 2, 9, 0), 2, datetime(2025, 6, 5)),
        # K.S.A. 66-1804: two full working days: Tuesday's call, dig on Friday
        (datetime(2025, 6, 3, 16, 45), 2, datetime(2025, 6, 6)),
        # over a weekend, and over Memorial Day (Monday 26 May 2025)
        (datetime(2025, 6, 5, 8, 0), 2, datetime(2025, 6, 10)),
        (datetime(2025, 5, 23, 10, 0), 2, datetime(2025, 5, 29)),
        # Ala. Code 37-15-4: good for 20 working days from Monday 7 July 2025, the last being Friday 1 August
        (datetime(2025, 7, 6, 12, 0), 20, datetime(2025, 8, 2)),
    ],
)
def test_full_working_days_after_a_call(call: datetime, days: int, clear: datetime) -> None:
    assert after(call, days) == clear


@pytest.mark.known
@pytest.mark.parametrize(
    ("call", "lawful"),
    [
        # Tex. Util. Code 251.151: 48 hours without Saturdays, Sundays and legal holidays (26 May 2025 is one)
        (datetime(2025, 5, 21, 10, 0), datetime(2025, 5, 23, 10, 0)),
        (datetime(2025, 5, 23, 10, 0), datetime(2025, 5, 28, 10, 0)),
        (datetime(2025, 6, 7, 12, 0), datetime(2025, 6, 10, 11, 59)),
        (datetime(2025, 5, 24, 12, 0), datetime(2025, 5, 28, 11, 59)),
    ],
)
def test_two_full_working_days_are_never_sooner_than_48_working_hours(call: datetime, lawful: datetime) -> None:
    clear = after(call, 2, state="TX")
    assert lawful <= clear <= lawful + timedelta(days=1)


@pytest.mark.known
def test_working_days_before_an_expiry() -> None:
    # Ala. Code 37-15-4: the last valid day is Friday 1 August 2025; renew two working days before, by Wednesday 30 July
    site = site_from(date(2025, 7, 7), zone="America/Chicago", state="AL")
    clock = clock_of(site)
    expiry = clock.midnight(date(2025, 8, 2))
    last = working_days_before(site, clock, tick=expiry - 1, days=2)
    assert clock.when(last - 1).date() == date(2025, 7, 30)


def test_no_working_days_is_at_once() -> None:
    clock = clock_of(BASE)
    assert working_days_after(BASE, clock, tick=37, days=0) == 37
    assert working_days_before(BASE, clock, tick=37, days=0) == 37
