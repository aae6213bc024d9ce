"""The bill of a plan, worked out by hand on jobs of a few tasks, and what a site file gives no rate for."""

from __future__ import annotations

from dataclasses import replace

import pytest

import scheduler
from scheduler.costs import bill
from scheduler.costs.counted import person_visits
from scheduler.errors import BadInput
from scheduler.network.kind import Kind
from scheduler.network.model import (
    Booking,
    DateRule,
    Network,
    Opening,
    Renewal,
    Resource,
    ResourceKind,
    Ticket,
    VisitRule,
)
from scheduler.network.prices import Mobilisation, Rates
from scheduler.plan import PlanVisit, put_together
from scheduler.schedule import Schedule, Span
from scheduler.shared_visits import visits_of
from scheduler.solve.improvement.left_shift import move_early
from tests.derived import Records
from tests.derived import network as network_with
from tests.jobs import CLOCK, at, job, task
from tests.small_site import SMALL_SITE

PRICES_OF_OTHERS = (("locate_tickets", "renewal_cost"), ("bookings", "move_cost"), ("outside_work", "cost"))
GANG = Resource("crew/gang", "Gang", ResourceKind.CREW, 2, day_rate=500.0, standing_rate=None)


def amounts(network: Network, dates: dict[str, Span]) -> dict[str, float]:
    return {line.id: line.amount for line in bill(network, Schedule(dates, visits_of(network, dates))).lines}


@pytest.mark.parametrize(
    ("second", "days", "standing"),
    [
        ((at(0, 10), at(0, 12)), 1, 0),
        ((at(1, 8), at(1, 10)), 2, 0),
        ((at(2, 8), at(2, 10)), 2, 1),  # Tuesday without work
        ((at(4, 8), at(4, 10)), 2, 3),
        ((at(0, 16), at(1, 9)), 2, 0),  # over the night
    ],
)
def test_a_crew_is_paid_by_the_day_whatever_it_does_there_and_its_days_without_work_are_named(
    second: Span, days: int, standing: int
) -> None:
    network = job(
        task("a", needs=(("crew/gang", 1),)), task("b", needs=(("crew/gang", 1),)), resources=(GANG,), rates=Rates()
    )
    schedule = Schedule({"a": (at(0, 8), at(0, 10)), "b": second})
    made = bill(network, schedule)
    assert {line.id: (line.quantity, line.amount) for line in made.lines} == {
        "days/crew/gang": (2 * days, 2 * days * 500.0)  # two crews come
    }
    assert made.total == 1000.0 * days
    said = f"Gang, working days on site without work, {2 * standing} crew days: no rate given "
    assert made.left_out == ((f"{said}(trades, gang: standing_rate); left out of the sum.",) if standing else ())
    priced = replace(network, resources=(replace(GANG, standing_rate=100.0),))
    assert bill(priced, schedule).total == 1000.0 * days + 200.0 * standing


def test_a_gap_longer_than_a_party_stays_is_a_new_coming_and_no_days_of_waiting() -> None:
    gang = replace(GANG, standing_rate=100.0, stay_days=1)
    network = job(
        *(task(i, needs=(("crew/gang", 1),)) for i in "ab"),
        resources=(gang,),
        mobilisations=(Mobilisation("m", "Gang", ("a", "b"), 70.0, stay_days=1),),
    )
    for day, comings, waits in ((2, 1, 1), (3, 2, 0)):
        found = amounts(network, {"a": (at(0, 8), at(0, 10)), "b": (at(day, 8), at(day, 10))})
        assert found["comings/m"] == 70.0 * comings
        assert found.get("standing/crew/gang", 0.0) == 200.0 * waits


def test_fill_without_its_pavement_counts_from_the_night_after_the_fill() -> None:
    network = job(
        task("dig"),
        task("fill"),
        task("pave"),
        openings=(Opening("o", "R", 40.0, "dig", "fill"),),
        unpaved=(Opening("u", "R", 40.0, "fill", "pave"),),
        rates=Rates(exposure_per_ft_night=0.5, unpaved_per_ft_night=0.25),
    )
    dates = {"dig": (at(0, 8), at(0, 10)), "fill": (at(1, 8), at(1, 10)), "pave": (at(4, 8), at(4, 10))}
    assert amounts(network, dates) == {"open": 20.0, "unpaved": 3 * 10.0}
    by_midnight = {**dates, "fill": (at(1, 22), at(2, 0))}  # as the clock strikes, the fill is in
    assert amounts(network, by_midnight) == {"open": 20.0, "unpaved": 3 * 10.0}
    named = replace(network, rates=Rates(exposure_per_ft_night=0.5, unpaved_per_ft_night=None))
    (left,) = bill(named, Schedule(dates)).left_out
    assert left.startswith("Filled trench without its pavement, 120 ft × nights: no rate given (site: unpaved")


def test_overhead_is_a_day_more_than_the_nights_and_damages_run_from_the_end_of_the_target() -> None:
    rates = Rates(overhead_per_day=100.0, damages_per_day=1000.0, damages_from=at(2, 0))  # due by Tuesday night
    network = job(task("a"), rates=rates)
    for finish, days, late in ((at(1, 17), 2, 0), (at(2, 9), 3, 1), (at(4, 12), 5, 3)):
        found = amounts(network, {"a": (finish - 8, finish)})
        assert (found["overhead"], found.get("damages", 0.0)) == (100.0 * days, 1000.0 * late)


def looks(**more: object) -> Network:
    ids = ("open", "test", "other")
    return job(
        *(task(i, 0.5, "city", Kind.INSPECT, one_window=True) for i in ids),
        visit_rules=tuple(
            VisitRule(i, f"look {i}", "City", "city", (i,), fee=fee, **{"person": person, **more})  # type: ignore[arg-type]
            for i, fee, person in (("open", 60.0, "haas"), ("test", 90.0, "haas"), ("other", 60.0, "pace"))
        ),
    )


def test_all_that_one_person_looks_at_on_one_day_is_one_visit_at_the_highest_fee() -> None:
    one_day = {"open": (at(1, 9), at(1, 9.5)), "test": (at(1, 10), at(1, 10.5)), "other": (at(1, 9), at(1, 9.5))}
    two_days = {**one_day, "test": (at(3, 9), at(3, 9.5))}
    network = looks()
    assert sum(amounts(network, one_day).values()) == 90.0 + 60.0
    assert sum(amounts(network, two_days).values()) == 60.0 + 90.0 + 60.0
    for dates, visits in ((one_day, 2), (two_days, 3)):
        assert person_visits(network, Schedule(dates, visits_of(network, dates))) == visits
    waiting = looks(wait_cost_per_hour=40.0)
    assert sum(amounts(waiting, one_day).values()) == 150.0 + 0.5 * 40.0


def test_a_look_is_not_moved_earlier_away_from_the_next_one_where_waiting_is_paid_for() -> None:
    held = DateRule("held", "test", at(1, 10.5))
    dates = {"open": (at(1, 10), at(1, 10.5)), "test": (at(1, 10.5), at(1, 11)), "other": (at(1, 9), at(1, 9.5))}
    for waiting, start in ((0.0, at(1, 9)), (40.0, at(1, 10))):
        network = replace(looks(wait_cost_per_hour=waiting), dates=(held,))
        early = move_early(network, Schedule(dates, visits_of(network, dates)))
        assert early["open"][0] == start, waiting


def test_visits_of_a_plan_are_put_together_by_person_and_day() -> None:
    when = CLOCK.when
    visits = [
        PlanVisit(id=i, inspection=i, person=person, start=when(at(day, hour)), finish=when(at(day, hour + 1)))
        for i, person, day, hour in (
            ("b", "haas", 1, 10),
            ("a", "haas", 1, 9),
            ("c", "pace", 1, 9),
            ("d", "haas", 3, 9),
        )
    ]
    assert [[v.id for v in made] for made in put_together(visits)] == [["a", "b"], ["c"], ["d"]]


def test_rates_of_the_site_file_are_named_where_they_are_not_given() -> None:
    def no_rates(r: Records) -> None:
        for key in ("overhead_per_day", "exposure_per_ft_night"):
            r["site"].pop(key, None)
        for trade in r["trades"]:
            trade.pop("day_rate", None)

    network = network_with(no_rates)
    rates = network.rates
    assert (rates.overhead_per_day, rates.exposure_per_ft_night, rates.unpaved_per_ft_night) == (None, None, None)
    assert {r.day_rate for r in network.resources if r.kind is ResourceKind.CREW} == {None}


def test_a_target_may_be_missed_where_the_site_file_gives_damages() -> None:
    def due(r: Records) -> None:
        r["site"]["target_finish"] = "2027-04-30"

    def damages(r: Records) -> None:
        due(r)
        r["site"]["damages_per_day"] = 800

    def none_due(r: Records) -> None:
        damages(r)
        r["site"]["damages_per_day"] = 0

    hard, soft, free = (network_with(change) for change in (due, damages, none_due))
    assert free.target == hard.target
    assert hard.target is not None
    assert hard.rates.damages_from is None
    assert soft.target is None
    assert (soft.rates.damages_per_day, soft.rates.damages_from) == (800.0, hard.target.at)


def test_work_is_ready_some_hours_before_it_is_looked_at() -> None:
    def ready(r: Records) -> None:
        for inspection in r["inspections"]:
            inspection["ready_hours"] = 2

    plain, early = network_with(), network_with(ready)
    lag = {k.id: k.lag for k in plain.links}
    into = [k for k in early.links if early.by_id[k.after].kind is Kind.INSPECT and not k.at_most]
    assert into
    for link in into:
        if early.by_id[link.before].kind is not Kind.INSPECT:
            assert link.lag == max(lag[link.id], early.clock.ticks(hours=2))
            assert link.lag == lag[link.id] or link.because.startswith("The work is done 2 h before")


def test_damages_without_a_target_are_a_fault() -> None:
    with pytest.raises(BadInput) as refused:
        scheduler.load(SMALL_SITE.replace("target_finish: 2026-07-10", "damages_per_day: 800"))
    assert [f.rule for f in refused.value.findings] == ["site.missing"]


def test_a_trade_without_a_price_of_its_coming_is_named() -> None:
    def unpriced(r: Records) -> None:
        for trade in r["trades"]:
            trade.pop("mobilisation_cost", None)

    network = network_with(unpriced)
    assert {m.cost for m in network.mobilisations} == {None}
    assert {m.id for m in network.mobilisations} == {m.id for m in network_with(lambda _: None).mobilisations}


@pytest.mark.parametrize(
    ("least", "days", "short"),
    [
        (0.0, (0, 3), 0),
        (900.0, (0, 3), 0),  # two crews of one day each are 1,000
        (1600.0, (0, 3), 2 * 600),
        (1600.0, (0, 1), 0),  # one coming of two days
        (2500.0, (0, 1), 500),
        (None, (0, 3), 0),
    ],
)
def test_a_coming_costs_at_least_so_much(least: float | None, days: tuple[int, int], short: float) -> None:
    party = Mobilisation("m", "Gang", ("a", "b"), 0.0, 1, "", "crew/gang", least)
    network = job(
        *(task(i, needs=(("crew/gang", 1),)) for i in "ab"),
        resources=(replace(GANG, standing_rate=0.0, stay_days=1),),
        mobilisations=(party,),
    )
    dates = {i: (at(day, 8), at(day, 10)) for i, day in zip("ab", days, strict=True)}
    assert amounts(network, dates).get("least/m", 0.0) == short
    said = "Gang, the least that a coming is charged, 2 comings: no rate given (trades, gang: least_per_coming)"
    left_out = bill(network, Schedule(dates)).left_out
    assert left_out == ((f"{said}; left out of the sum.",) if least is None else ())
    unknown = replace(network, resources=(replace(GANG, day_rate=None),))
    if least:  # what its days cost is not known: the least is
        assert amounts(unknown, dates)["least/m"] == least * (1 + (days[1] > 2))


def test_own_people_have_no_least_for_a_coming_unless_it_is_given() -> None:
    def given(r: Records) -> None:
        r["trades"][0]["least_per_coming"] = 700

    plain, changed = ({m.id: m.least for m in network_with(c).mobilisations} for c in (lambda _: None, given))
    (own,) = changed.keys() & {m for m, least in changed.items() if least == 700}
    assert plain[own] == 0.0
    assert {least for m, least in plain.items() if m.count("/") == 1 and m != own} == {None}


def test_prices_of_others_that_are_not_given_are_named() -> None:
    """A moved appointment, a renewal, work by others: each is named where it occurs, and counts where it is given."""
    clock_open = at(0, 8)
    renewals = (Renewal("more", at(0, 12), at(9, 0)),)
    for price in (None, 0.0, 40.0):
        network = job(
            task("a"),
            tickets=(Ticket("t", "ticket", 0, at(1, 0), ("a",), renewals, price),),
            bookings=(Booking("b", "Tap", ("a",), clock_open, clock_open + 1, firm=False, move_cost=price),),
            mobilisations=(Mobilisation("o", "Pole", ("a",), price, rate_at="outside_work, o: cost"),),
        )
        made = bill(network, Schedule({"a": (at(2, 8), at(2, 10))}, renewals=("more",)))
        assert made.total == (3 * price if price else 0.0)
        said = (
            "Pole, 1 job: no rate given (outside_work, o: cost)",
            "Tap, moved, 1 move: no rate given (bookings, b: move_cost)",
            "Renewal of ticket t, 1 renewal: no rate given (locate_tickets, t: renewal_cost)",
        )
        assert made.left_out == (tuple(f"{s}; left out of the sum." for s in said) if price is None else ())


def test_prices_left_out_of_a_site_file_are_not_given() -> None:
    def unpriced(r: Records) -> None:
        for part, field in PRICES_OF_OTHERS:
            for record in r[part]:
                record.pop(field, None)

    network = network_with(unpriced)
    assert {t.renewal_cost for t in network.tickets} == {None}
    assert {b.move_cost for b in network.bookings} <= {None}
    others = [m for m in network.mobilisations if m.rate_at.startswith("outside_work")]
    assert others
    assert {m.cost for m in others} == {None}
