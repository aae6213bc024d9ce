"""What a schedule amounts to, counted by hand on jobs of a few tasks."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from scheduler.costs.billing import money
from scheduler.measures import (
    days_on_site,
    exposure,
    midnights,
    nights_open,
    open_ft,
    opened,
    renewals_of,
    runs_on_site,
    worked,
)
from scheduler.network.kind import Kind
from scheduler.network.lowering import lower
from scheduler.network.model import Booking, Network, Opening, Renewal, Ticket, VisitRule
from scheduler.network.prices import Mobilisation
from scheduler.schedule import Schedule, Span, Visit
from scheduler.shared_visits import visits_of
from tests.jobs import at, hours, job, task

DAY = date(2027, 3, 8)

TRENCH = job(task("dig"), task("fill"), openings=(Opening("open", "R", 40.0, "dig", "fill"),))


@pytest.mark.parametrize(
    ("dig", "fill", "nights"),
    [
        ((at(0, 8), at(0, 10)), (at(0, 15), at(0, 17)), 0),
        ((at(0, 8), at(0, 10)), (at(1, 8), at(1, 10)), 1),
        ((at(0, 8), at(0, 10)), (at(3, 8), at(3, 10)), 3),
        ((at(0, 22), at(1, 0)), (at(1, 0), at(1, 2)), 1),
        # Closed as the clock strikes midnight, the trench does not stand open over that night.
        ((at(0, 8), at(0, 10)), (at(0, 22), at(1, 0)), 0),
        ((at(0, 8), at(0, 10)), (at(1, 22), at(2, 0)), 1),
        # Opened as the clock strikes midnight, it did not stand open over the night before.
        ((at(1, 0), at(1, 2)), (at(1, 8), at(1, 10)), 0),
        ((at(1, 0), at(1, 2)), (at(2, 8), at(2, 10)), 1),
        ((at(2, 8), at(2, 10)), (at(0, 8), at(0, 10)), 0),  # closed before it was opened: none, not fewer than none
    ],
)
def test_a_night_counts_when_the_trench_is_open_before_and_after_midnight(dig: Span, fill: Span, nights: int) -> None:
    dates = {"dig": dig, "fill": fill}
    assert nights_open(TRENCH, dates) == {"open": nights}
    assert exposure(TRENCH, dates) == 40.0 * nights


def test_the_feet_that_stand_open_over_one_night() -> None:
    network = job(
        *(task(f"{w}{i}") for i in "ab" for w in ("dig", "fill")),
        openings=(Opening("a", "A", 40.0, "diga", "filla"), Opening("b", "B", 25.0, "digb", "fillb")),
    )
    dates = {
        "diga": (at(0, 8), at(0, 10)), "filla": (at(2, 8), at(2, 10)),
        "digb": (at(1, 0), at(1, 2)), "fillb": (at(2, 22), at(3, 0)),
    }  # fmt: skip
    nights = [open_ft(network, dates, DAY.replace(day=DAY.day + n)) for n in (-1, 0, 1, 2)]
    assert nights == [0.0, 40.0, 65.0, 0.0]
    by_night = {**dates, "diga": (at(0, 22), at(1, 2)), "filla": (at(1, 22), at(2, 2))}
    assert [open_ft(network, by_night, DAY.replace(day=DAY.day + n)) for n in (0, 1, 2)] == [40.0, 65.0, 0.0]
    half = {k: v for k, v in dates.items() if k != "fillb"}
    assert open_ft(network, half, DAY.replace(day=DAY.day + 1)) == 40.0


def test_work_is_done_in_open_hours_only() -> None:
    # From 9:00 on Monday to 10:00 on Tuesday, with an hour at noon and the night left out.
    assert worked(TRENCH, "dig", (at(0, 9), at(1, 10))) == [
        (at(0, 9), at(0, 12)),
        (at(0, 13), at(0, 17)),
        (at(1, 8), at(1, 10)),
    ]
    assert worked(TRENCH, "dig", (at(0, 8), at(0, 12))) == [(at(0, 8), at(0, 12))]
    assert worked(TRENCH, "dig", (at(0, 12), at(0, 13))) == []


def test_somebody_may_be_at_work_when_any_calendar_with_work_is_open() -> None:
    network = job(task("a"), task("b", 0.5, "city"))  # the city's hours lie within the crew's: Tuesday from 9:00
    assert opened(network, at(0, 10), at(1, 10)) == [
        (at(0, 10), at(0, 12)),
        (at(0, 13), at(0, 17)),
        (at(1, 8), at(1, 10)),
    ]
    early = replace(network, calendars={**network.calendars, "city": hours("city", (1,), (6, 9))})
    assert opened(early, at(0, 17), at(2, 0)) == [(at(1, 6), at(1, 12)), (at(1, 13), at(1, 17))]
    assert opened(job(task("a")), at(0, 12), at(0, 13)) == []


def looks(*starts: int) -> tuple[Network, dict[str, Span]]:
    ids = [f"look{i}" for i in range(len(starts))]
    network = job(
        *(task(i, 0.5, "city", Kind.INSPECT, one_window=True) for i in ids),
        visit_rules=(VisitRule("trench", "trench look", "city", "city", tuple(ids), fee=70.0),),
    )
    return network, {i: (s, s + 2) for i, s in zip(ids, starts, strict=True)}


def test_looks_in_one_stretch_of_the_inspectors_hours_are_one_visit() -> None:
    network, dates = looks(at(3, 9), at(1, 10.5), at(1, 9))
    assert visits_of(network, dates) == (
        Visit("trench/2027-03-09", "trench", at(1, 9), at(1, 11), ("look2", "look1")),
        Visit("trench/2027-03-11", "trench", at(3, 9), at(3, 9.5), ("look0",)),
    )
    assert money(network, Schedule(dates, visits_of(network, dates))) == 140.0


def test_two_visits_on_one_day_are_told_apart_by_their_hour() -> None:
    network, dates = looks(at(1, 9), at(1, 15))
    twice = hours("city", (1,), (9, 11), (14, 16))
    network = replace(network, calendars={**network.calendars, "city": twice})
    assert [v.id for v in visits_of(network, dates)] == ["trench/2027-03-09T09:00", "trench/2027-03-09T14:00"]


def test_renewals_are_those_that_the_last_dig_needs_and_that_can_still_be_called() -> None:
    every = tuple(Renewal(f"r{n}", at(n, 0), at(n + 1, 0)) for n in (1, 2, 3))
    ticket = Ticket("t", "ticket", 0, at(1, 0), ("a", "b"), every, renewal_cost=25.0)
    network = job(task("a"), task("b"), tickets=(ticket,))

    def needed(last: int, data_date: int = 0) -> tuple[str, ...]:
        dated = {"a": (0, 8), "b": (last - 8, last)}
        found = renewals_of(replace(network, data_date=data_date), dated)
        assert money(network, Schedule(dated, renewals=found)) == 25.0 * len(found)
        return found

    assert needed(at(1, 0)) == ()
    assert needed(at(1, 0) + 1) == ("r1",)
    assert needed(at(2, 0)) == ("r1",)
    assert needed(at(3, 1)) == ("r1", "r2", "r3")
    assert needed(at(5, 0)) == ("r1", "r2", "r3")
    assert needed(at(2, 1), data_date=at(1, 0)) == ("r1", "r2")
    assert needed(at(2, 1), data_date=at(1, 0) + 1) == ()
    none, one = (replace(network, tickets=(replace(ticket, digs=digs),)) for digs in ((), ("a",)))
    assert renewals_of(none, {}) == ()
    assert renewals_of(one, {"a": (0, at(1, 1))}) == ("r1",)
    assert money(one, Schedule({"a": (0, at(1, 1)), "b": (0, 8)}, renewals=("r1",))) == 25.0


@pytest.mark.parametrize(
    ("days", "stay", "comings"),
    [
        ([(0, 0)], 0, 1),
        ([(0, 0), (0, 0)], 0, 1),
        ([(0, 0), (1, 1)], 0, 1),  # no day between: they never left
        ([(0, 0), (2, 2)], 0, 2),
        ([(0, 0), (2, 2)], 1, 1),
        ([(0, 0), (3, 3)], 1, 2),
        ([(0, 3), (1, 1), (4, 4)], 0, 1),  # on site to the last day of what takes longest
        ([(0, 0), (2, 2), (4, 4)], 0, 3),
        ([], 0, 0),
    ],
)
def test_a_party_comes_anew_after_more_days_away_than_it_stays_for(
    days: list[tuple[int, int]], stay: int, comings: int
) -> None:
    ids = tuple(f"a{n}" for n in range(len(days)))
    party = Mobilisation("m", "party", ids, 100.0, stay_days=stay)
    network = job(*(task(i) for i in ids), mobilisations=(party,))
    dates = {i: (at(first, 8), at(last, 10)) for i, (first, last) in zip(ids, days, strict=True)}
    assert runs_on_site(network, party, dates) == comings
    assert money(network, Schedule(dates)) == 100.0 * comings


def test_days_on_site_end_with_the_work_not_with_the_midnight_after_it() -> None:
    assert days_on_site(TRENCH, (at(0, 22), at(1, 0))) == (0, 0)
    assert days_on_site(TRENCH, (at(1, 0), at(1, 2))) == (1, 1)
    assert days_on_site(TRENCH, (at(0, 22), at(1, 0) + 1)) == (0, 1)
    assert days_on_site(TRENCH, (at(1, 0), at(1, 0))) == (1, 1)


def test_midnights_between_two_ticks_without_these() -> None:
    assert midnights(TRENCH.clock, at(0, 0), at(3, 0)) == (at(1, 0), at(2, 0))
    assert midnights(TRENCH.clock, at(0, 23), at(1, 0) + 1) == (at(1, 0),)


def test_a_booking_of_one_piece_of_work_that_costs_nothing_to_move() -> None:
    one = Booking("soft", "tie-in", ("a",), at(0, 9), at(0, 10), firm=False, move_cost=30.0)
    for cost in (30.0, 0.0):
        network = job(task("a"), bookings=(replace(one, move_cost=cost),))
        assert money(network, Schedule({"a": (at(1, 9), at(1, 11))})) == cost


def test_a_soft_booking_that_is_not_kept_costs_its_move_and_a_firm_one_is_never_moved() -> None:
    soft = Booking("soft", "tie-in", ("a", "b"), at(0, 9), at(0, 10), firm=False, move_cost=40.0)
    network = job(task("a"), task("b"), bookings=(soft, replace(soft, id="firm", firm=True)))
    for start, moved in ((at(0, 9), ()), (at(0, 9) + 3, ()), (at(0, 9) - 1, ("soft",)), (at(0, 10), ("soft",))):
        dates = {"a": (at(0, 9), at(0, 11)), "b": (start, start + 8)}
        assert lower(network).broken(dates) == moved
        assert money(network, Schedule(dates)) == 40.0 * len(moved)
