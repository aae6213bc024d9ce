"""Inspectors asked for half-days: what a call says, what keeps an appointment, and what stands on paper."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

import pytest

from scheduler.dates_csv import read_dates
from scheduler.export.audiences import EVERYBODY
from scheduler.export.calendar_events import events_of
from scheduler.export.days import day_sheets
from scheduler.export.paper_facts import PaperFacts
from scheduler.ledger.events import Event, read_event
from scheduler.network.derive import derive
from scheduler.site.site_record import Site
from scheduler.situation.call_list import said_in_call
from scheduler.situation.call_words import CallDue
from tests.call_lists import bare_plan, calls_at
from tests.derived import Records, changed, record
from tests.happenings import entries
from tests.jobs import CLOCK, at
from tests.papers import facts_of
from tests.small_site import SMALL_SITE_DATES

MONDAY, WEDNESDAY = date(2026, 6, 15), date(2026, 6, 17)
FIRST, SECOND, THIRD = "look/I1/R1/L0", "look/I1/R3/L0", "look/I1/R1/L1"
"""On Monday at 9:00, and on Wednesday at 8:00 and at 8:30."""


def june(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 6, day, hour, minute, tzinfo=ZoneInfo("America/Denver"))


def site(*, half_days: bool) -> Site:
    """Return the small site, its inspector there from 8:00 to 16:00."""

    def change(r: Records) -> None:
        record(r, "calendars", "city")["weekly"] = ["mon,wed,fri 08:00-16:00"]
        record(r, "inspections", "I1")["half_days"] = half_days

    return changed(change)


def calls(
    of: Site, moment: datetime, said: Iterable[tuple[datetime, Event]] = (), **moved: datetime
) -> dict[str, CallDue]:
    """Return the calls to the inspector by the small site's dates, some looks at other times."""
    network = derive(of)
    schedule = read_dates(SMALL_SITE_DATES, network)
    times = {
        look: network.clock.tick(start) for look, start in zip((FIRST, SECOND, THIRD), moved.values(), strict=False)
    }
    dates = dict(schedule.dates) | {look: (t, t + 2) for look, t in times.items()}
    plan = bare_plan(of, network, replace(schedule, dates=dates))
    return {c.id: c for c in calls_at(of, network, plan, entries(said), moment) if c.of == "I1"}


def agreed(call: CallDue, when: datetime) -> tuple[datetime, Event]:
    return when, read_event("called", {**said_in_call(call), "when": when, "answer": "agreed"})


@pytest.mark.parametrize(
    ("tick", "half", "said"),
    [
        (at(1, 0), (at(1, 0), at(1, 12)), "Tue 9 Mar in the morning"),
        (at(1, 11.75), (at(1, 0), at(1, 12)), "Tue 9 Mar in the morning"),
        (at(1, 12), (at(1, 12), at(2, 0)), "Tue 9 Mar in the afternoon"),
        (at(1, 23.75), (at(1, 12), at(2, 0)), "Tue 9 Mar in the afternoon"),
    ],
)
def test_a_day_has_two_halves_that_meet_at_noon(tick: int, half: tuple[int, int], said: str) -> None:
    assert CLOCK.half_day(tick) == half
    assert CLOCK.spoken_half(tick) == said


def test_a_call_asks_for_a_half_day_where_the_office_takes_half_days() -> None:
    by_half, by_hour = (calls(site(half_days=h), june(8, 7)) for h in (True, False))
    assert "Conduit and pipe before cover, Mon 15 Jun in the morning (1 working day of notice)." in (
        by_half["call/I1/2026-06-15/morning"].text
    )
    assert "Conduit and pipe before cover, Mon 15 Jun 09:00 (1" in by_hour["call/I1/2026-06-15"].text
    assert len(by_half) == len(by_hour)


def test_what_stays_in_its_half_day_needs_no_call_and_what_leaves_it_does() -> None:
    for half_days, key in ((True, "call/I1/2026-06-15/morning"), (False, "call/I1/2026-06-15")):
        here = site(half_days=half_days)
        yes = agreed(calls(here, june(8, 7))[key], june(8, 8))
        known = len(calls(here, june(8, 9), [yes]))
        assert len(calls(here, june(8, 9), [yes], first=june(15, 11))) == known
        later = calls(here, june(8, 9), [yes], first=june(15, 13))
        assert len(later) == known + half_days
        if half_days:
            (moved,) = [c for c in later.values() if c.kind == "moved"]
            assert "agreed for Mon 15 Jun in the morning, now wanted Mon 15 Jun in the afternoon." in moved.text
            assert "Mon 15 Jun in the morning stands: " in moved.if_no


def test_looks_in_both_halves_of_a_day_are_asked_for_one_by_one() -> None:
    times = {"first": june(15, 9), "second": june(17, 8), "third": june(17, 14)}
    found = calls(site(half_days=True), june(8, 7), **times)
    assert {k for k in found if "06-17" in k} == {"call/I1/2026-06-17/morning", "call/I1/2026-06-17/afternoon"}
    assert found["call/I1/2026-06-17/afternoon"].activities == (THIRD,)
    assert {k for k in calls(site(half_days=False), june(8, 7), **times) if "06-17" in k} == {"call/I1/2026-06-17"}


@pytest.mark.parametrize(("half_days", "until"), [(True, june(15, 12)), (False, june(15, 16))])
def test_a_booked_visit_may_be_at_any_time_of_its_half_day(half_days: bool, until: datetime) -> None:
    booked = {"id": "V1", "of": "I1", "start": "2026-06-15 09:00", "reaches": ["R1"]}
    network = derive(changed_again(site(half_days=half_days), booked))
    booking = next(b for b in network.bookings if b.id == "V1")
    assert (network.clock.when(booking.at), network.clock.when(booking.until)) == (june(15, 9), until)
    assert booking.name == f"Conduit and pipe before cover, Mon 15 Jun {'in the morning' if half_days else '09:00'}"


def changed_again(of: Site, booking: dict[str, object]) -> Site:
    """Return a site with one more booking."""
    return Site.model_validate(of.model_dump(by_alias=True) | {"bookings": [*of.model_dump()["bookings"], booking]})


def one_person_on_one_day() -> tuple[PaperFacts, date]:
    """Return the street with two inspections of one person put on one day, and that day."""
    facts = facts_of("orchard-lane")
    first = facts.plan.visits[0]
    other = next(v for v in facts.plan.visits if v.inspection != first.inspection)
    kept = [v for v in facts.plan.visits if v.start.date() != first.start.date()]
    moved = {"person": first.person, "authority": first.authority}
    times = {"start": first.finish, "finish": first.finish + (other.finish - other.start)}
    other = other.model_copy(update=moved | times)
    visits = [first, other, *(v for v in kept if v.id != other.id)]
    return replace(facts, plan=facts.plan.model_copy(update={"visits": visits})), first.start.date()


def test_all_that_one_person_looks_at_on_one_day_is_one_visit_on_paper_and_in_calendars() -> None:
    facts, day = one_person_on_one_day()
    first, other = facts.plan.visits[:2]
    (sheet,) = day_sheets(facts, EVERYBODY, day, day)
    (row,) = [r for r in sheet.rows if r.visit]
    (event,) = [e for e in events_of(facts, EVERYBODY) if e.start.date() == day and e.summary.startswith("Inspector's")]
    assert row.what == f"{first.name} and {other.name}"
    assert event.summary == f"Inspector's visit: {row.what}"
    assert (row.start, row.finish) == (event.start, event.finish) == (first.start, other.finish)
    assert len(row.looks) == len(first.covers) + len(other.covers)
    assert any(k.what.startswith(first.name) for k in row.looks)
    assert any(k.what.startswith(other.name) for k in row.looks)


def test_papers_and_calendars_say_the_half_day() -> None:
    facts = facts_of("orchard-lane")
    first = facts.plan.visits[0]
    half = "morning" if first.start.hour < 12 else "afternoon"
    said = f"Asked for the {half}: {first.authority} comes at any time of it."
    inspections = [i.model_copy(update={"half_days": i.id == first.inspection}) for i in facts.site.inspections]
    by_half = replace(facts, site=facts.site.model_copy(update={"inspections": inspections}))
    for asked, expected in ((facts, False), (by_half, True)):
        (sheet,) = day_sheets(asked, EVERYBODY, first.start.date(), first.start.date())
        assert any(said in r.notes for r in sheet.rows) == expected
        assert any(said in e.description for e in events_of(asked, EVERYBODY)) == expected
