"""The job as it stands on the small invented site, worked out by hand: its past in whole ticks, its locate ticket."""

from __future__ import annotations

from datetime import datetime
from functools import cache
from zoneinfo import ZoneInfo

import pytest

from scheduler.ledger.events import Event, Finished, Started
from scheduler.ledger.state import fold
from scheduler.replan.job_facts import JobFacts, facts_at
from scheduler.replan.standing import past_of, standing
from scheduler.site.site_record import Site
from tests.derived import changed, network
from tests.happenings import entries


def june(day: int, hour: int = 0, minute: int = 0) -> datetime:
    return datetime(2026, 6, day, hour, minute, tzinfo=ZoneInfo("America/Denver"))


@cache
def site() -> Site:
    return changed()


def facts(as_of: datetime, *happened: Event) -> JobFacts:
    return facts_at(site(), network(), fold(entries((as_of, e) for e in happened)), as_of)


@pytest.mark.parametrize(
    ("minute", "follows"),
    # A tick is 15 minutes: the tick in which work ended is over before anything else begins.
    [(0, june(11, 12)), (1, june(11, 12, 15)), (14, june(11, 12, 15)), (15, june(11, 12, 15)), (16, june(11, 12, 30))],
)
def test_work_that_follows_never_starts_before_what_it_follows_was_reported_finished(
    minute: int, follows: datetime
) -> None:
    dug = Started(activity="R1/dig", when=june(11, 7, 8)), Finished(activity="R1/dig", when=june(11, 12, minute))
    known = facts(june(11, 13), *dug)
    clock = network().clock
    span = clock.tick(june(11, 7)), clock.tick(follows)
    assert past_of(known).spans["R1/dig"] == span
    stands = standing(known, ())
    assert stands.by_id["R1/dig"].happened
    assert stands.calendar_of("R1/dig").windows == (span,)
    assert stands.by_id["R1/dig"].work == span[1] - span[0]


def test_a_renewal_that_the_plan_in_force_uses_counts_as_called_once_its_day_has_passed() -> None:
    (ticket,) = network().tickets
    first, second, *_ = ticket.renewals
    clock = network().clock
    before, after = clock.when(first.call_by), clock.when(first.call_by + 1)

    def left(as_of: datetime, *used: str) -> tuple[str, ...]:
        (stands,) = standing(facts(as_of), used).tickets
        return tuple(r.id for r in stands.renewals)

    every = tuple(r.id for r in ticket.renewals)
    assert left(before) == every, "it can still be called"
    assert left(after) == (), "it was never called, and those after it presume it"
    assert left(after, first.id) == every
    assert left(clock.when(second.call_by + 1), first.id) == (first.id,)
