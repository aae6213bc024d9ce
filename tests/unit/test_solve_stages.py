"""What the stages say of a plan, by hand: values, bounds that lie below every plan, and when they are called proved."""

from __future__ import annotations

import threading
from dataclasses import replace
from random import Random

import pytest

from scheduler.costs.billing import money
from scheduler.measures import exposure
from scheduler.network.kind import Kind
from scheduler.network.model import (
    DateRule,
    Link,
    LinkType,
    Network,
    Opening,
    Resource,
    VisitRule,
)
from scheduler.network.prices import Mobilisation, Rates
from scheduler.solve.finish import handed_over
from scheduler.solve.formulation.constraint_model import schedule_of, starts_of
from scheduler.solve.formulation.dated import dated
from scheduler.solve.formulation.engine import Engine
from scheduler.solve.formulation.precedence import PrecedenceOrder
from scheduler.solve.formulation.time_windows import TimeWindows
from scheduler.solve.goals import Cost, Exposure, Money
from scheduler.solve.outcome import Options, Progress, StageReport, Status
from scheduler.solve.run import DAYS_FOR_COST, solve
from scheduler.solve.stages import Incumbent, as_it_is, pursue, pursue_all
from tests.jobs import at, hours, job, task
from tests.unit.test_solve_random import DAY, cost, every_plan, tiny_trench

UNSEARCHED = Options(workers=1, exposure_effort=0.0, money_effort=0.0)
"""Nothing is bettered after the finish, so that what stays unproved must be called so."""


def test_no_bound_lies_above_the_best_there_is_and_only_a_best_is_called_proved():
    beaten = set()
    for seed in (2, 17, 30, 45, 48):
        network = tiny_trench(Random(seed))
        staged, whole = (solve(network, replace(UNSEARCHED, objective=o)) for o in ("staged", "cost"))
        assert staged.schedule is not None, f"seed {seed}"
        stages = {s.name: s for s in (*staged.stages, *whole.stages[1:])}
        plans = every_plan(network)
        in_time = [p for p in plans if p.finish <= staged.schedule.finish]
        as_open = [p for p in in_time if exposure(network, p.dates) <= stages["exposure"].value + 1e-6]
        last = staged.schedule.finish + DAYS_FOR_COST * DAY
        for name, least in (
            ("exposure", min(exposure(network, p.dates) for p in in_time)),
            ("money", min(money(network, p) for p in as_open)),
            ("cost", min(cost(network, p) for p in plans if p.finish <= last)),
        ):
            stage = stages[name]
            assert stage.bound <= least + 0.02, f"seed {seed}: {name}"
            assert stage.proved == (stage.value <= stage.bound), f"seed {seed}: {name}"
            if stage.value > least + 0.02:
                beaten.add(name)
                assert not stage.proved, f"seed {seed}: {name}"
    assert beaten == {"exposure", "money", "cost"}, "a test of nothing"


def two_comings(*dates: DateRule) -> Network:
    """Return a job that pays a party once or twice: for work at any time, and for work from Friday on."""
    return job(
        task("a"),
        task("b"),
        dates=(DateRule("d", "b", at(4, 8)), *dates),
        mobilisations=(Mobilisation("m", "m", ("a", "b"), 100.0, stay_days=1),),
    )


def test_the_money_bound_is_what_one_coming_costs_where_the_plan_found_pays_two():
    network = two_comings()
    unsearched, searched = (solve(network, o) for o in (UNSEARCHED, Options(workers=1)))
    assert [(s.value, s.bound, s.proved) for s in unsearched.stages if s.name == "money"] == [(200.0, 100.0, False)]
    assert [(s.value, s.bound, s.proved) for s in searched.stages if s.name == "money"] == [(100.0, 100.0, True)]


def windows(network: Network) -> TimeWindows:
    frame = TimeWindows(network)
    assert frame.narrow()
    return frame


def stages_of(network: Network, options: Options = UNSEARCHED) -> dict[str, StageReport]:
    return {s.name: s for s in solve(network, options).stages}


@pytest.mark.parametrize(
    ("looks", "most", "visits"), [(1, None, 1), (5, None, 1), (5, 1, 5), (5, 2, 3), (4, 2, 2), (5, 5, 1), (5, 9, 1)]
)
def test_the_least_money_is_a_visit_for_every_few_looks_and_one_coming_of_each_party(
    looks: int, most: int | None, visits: int
) -> None:
    ids = tuple(f"look{n}" for n in range(looks))
    network = job(
        *(task(i, 0.5, "city", Kind.INSPECT, one_window=True) for i in ids),
        task("a"),
        visit_rules=(
            VisitRule("v", "v", "city", "city", ids, max_looks=most, fee=7.25),
            VisitRule("none", "none", "city", "city", (), fee=90.0),
        ),
        mobilisations=(Mobilisation("m", "m", ("a",), 20.0), Mobilisation("n", "n", (), 500.0)),
    )
    assert Money().least(windows(network)) == Cost().least(windows(network)) == round(100 * (7.25 * visits + 20.0))


@pytest.mark.parametrize(
    ("lag", "lag_calendar", "nights"),
    [
        (0, None, 0),  # dug and filled on one day
        (at(1, 0), None, 1),  # a cure of 24 hours
        (at(2, 1), None, 2),
        (at(2, 8), None, 3),  # two days and eight hours end after work, so that it is filled the morning after
        (at(1, 0) // 3, "crew", 1),  # a day of work between: eight hours
        (2, "crew", 0),
        (20, "crew", 1),  # five hours of work, with what the dig and the fill take, are more than a day holds
    ],
)
def test_the_least_open_trench_is_what_each_stretch_alone_must_stand_open(
    lag: int, lag_calendar: str | None, nights: int
) -> None:
    network = job(
        task("dig"),
        task("fill"),
        links=(Link("k", "dig", "fill", lag=lag, lag_calendar=lag_calendar),),
        openings=(Opening("o", "R", 40.5, "dig", "fill"), Opening("closed", "R", 0.0, "dig", "fill")),
    )
    assert Exposure().least(windows(network)) == round(10 * 40.5 * nights)
    best = min(
        exposure(network, {"dig": (s, s + 8), "fill": (f, f + 8)})
        for s in (at(0, 8), at(0, 10), at(1, 8), at(0, 15), at(2, 15))
        for f in range(s, at(5, 0))
        if (due := s + 8 + lag if lag_calendar is None else network.calendars["crew"].advance(s + 8, lag)) is not None
        and f >= due
        and network.calendars["crew"].advance(f, 8) == f + 8
        and network.calendars["crew"].window_at(f)
    )
    assert best == 40.5 * nights, "and some plan stands open no longer"


def test_a_stretch_waits_for_the_look_between_its_dig_and_its_fill_on_the_best_day_to_dig() -> None:
    """The city looks on Tuesday and Thursday morning; dug on either of them, it is filled the same day."""
    look = task("look", 0.5, "city", Kind.INSPECT, one_window=True)
    links = (Link("k", "dig", "look"), Link("m", "look", "fill"))
    openings = (Opening("o", "R", 10.0, "dig", "fill"),)
    network = job(task("dig"), look, task("fill"), links=links, openings=openings)
    assert Exposure().least(windows(network)) == 0
    later = replace(network, links=(links[0], replace(links[1], lag=at(0, 8))))  # eight hours more: over the night
    assert Exposure().least(windows(later)) == 100
    by_starts = replace(network, links=(replace(links[0], type=LinkType.SS, lag=at(1, 0)), links[1]))
    assert Exposure().least(windows(by_starts)) == 100
    both_finish = replace(network, links=(links[0], Link("m", "look", "fill", LinkType.FF, lag=at(2, 0))))
    assert Exposure().least(windows(both_finish)) == 200
    loose = replace(network, links=(links[1],))
    assert Exposure().least(windows(loose)) == 0


@pytest.mark.parametrize("day", [0, 1])
@pytest.mark.parametrize("length_ft", [0.5, 1.0, 40.5])
def test_a_stretch_that_must_be_dug_on_one_day_stands_open_from_that_day(day: int, length_ft: float) -> None:
    due = (DateRule("d", "dig", at(day, 8)), DateRule("e", "dig", at(day, 12), "finish", "max"))
    network = job(
        task("dig"),
        task("fill"),
        links=(Link("k", "dig", "fill", lag=at(1, 0)),),
        dates=due,
        openings=(Opening("o", "R", length_ft, "dig", "fill"),),
    )
    assert Exposure().least(windows(network)) == round(10 * length_ft), "over one night, that of the cure"


def test_two_stretches_add_up_in_the_bound_on_open_trench() -> None:
    cure = at(1, 0)
    network = job(
        *(task(i) for i in ("dig1", "fill1", "dig2", "fill2")),
        links=(Link("k", "dig1", "fill1", lag=cure), Link("m", "dig2", "fill2", lag=2 * cure)),
        openings=(Opening("o", "R", 10.0, "dig1", "fill1"), Opening("p", "S", 4.0, "dig2", "fill2")),
    )
    assert Exposure().least(windows(network)) == 10 * (10 + 2 * 4)


def test_what_a_plan_costs_is_its_days_its_open_trench_and_the_rest() -> None:
    network = job(
        task("dig"),
        task("fill"),
        openings=(Opening("o", "R", 40.0, "dig", "fill"),),
        mobilisations=(Mobilisation("m", "m", ("dig", "fill"), 100.0, stay_days=0),),
        rates=Rates(overhead_per_day=30.0, exposure_per_ft_night=0.5),
    )
    for fill, days, nights in ((at(0, 10), 1, 0), (at(1, 8), 2, 1), (at(2, 22), 3, 2)):
        schedule = dated(network, {"dig": (at(0, 8), at(0, 10)), "fill": (fill, fill + 8)})
        comings = 1 if days < 3 else 2  # a day between Monday and Wednesday
        assert money(network, schedule) == 100.0 * comings
        assert Cost().amount(network, schedule) == 100 * (30 * days + 0.5 * 40 * nights + 100 * comings)
        assert Money().amount(network, schedule) == 100 * 100 * comings
        assert Exposure().amount(network, schedule) == 10 * 40 * nights


def test_the_finish_is_proved_by_a_bound_that_meets_it_and_by_that_alone() -> None:
    gang = (Resource("gang", "the gang"),)
    crowd = job(*(task(i, 6, needs=(("gang", 1),)) for i in "abc"), resources=gang)
    for network, kind in ((job(task("a"), task("b")), "links and hours"), (crowd, "all the work of the gang")):
        outcome = solve(network, Options(only_finish=True, workers=1))
        (stage,) = outcome.stages
        assert (stage.proved, stage.value, stage.bound_kind) == (True, stage.bound, kind)
        assert outcome.status is Status.OPTIMAL
        assert outcome.schedule is not None
        assert outcome.finish_bound == outcome.schedule.finish
        assert stage.value == round(outcome.schedule.finish / 96, 4)  # in days


def test_a_finish_that_no_count_reaches_is_proved_by_search_or_not_at_all() -> None:
    """Work of 5, 4 and 4 hours, each in one go, takes three days of 7 hours, though 13 hours fill less than two."""
    days = replace(
        job(*(task(f"t{n}", h, one_window=True, needs=(("gang", 1),)) for n, h in enumerate((5, 4, 4)))),
        resources=(Resource("gang", "the gang"),),
    )
    days = replace(days, calendars={**days.calendars, "crew": hours("crew", tuple(range(7)), (8, 15))})
    searched, not_searched = (
        solve(days, Options(only_finish=True, workers=1, finish_effort=effort)) for effort in (5.0, 0.0)
    )
    (stage,) = searched.stages
    assert searched.status is Status.OPTIMAL
    assert (stage.value, stage.proved) == (stage.bound, True)
    (stage,) = not_searched.stages
    assert stage.proved == (stage.value <= stage.bound)
    assert (not_searched.status is Status.OPTIMAL) == stage.proved
    assert searched.schedule.finish == at(2, 12)


@pytest.mark.parametrize("late", [0, 1, 2, 9])
def test_a_search_finds_what_is_better_by_one_tick_than_the_first_plan(
    late: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first plan ends `late` ticks after the best, and no count refutes a finish before that."""
    network = job(task("a", 3), task("b", 3, needs=(("gang", 1),)), resources=(Resource("gang", "the gang"),))
    first = {"a": (at(0, 8) + late, at(0, 11) + late), "b": (at(0, 8), at(0, 11))}
    if late > 4:  # over noon
        first["a"] = (first["a"][0], at(0, 12) + late)
    monkeypatch.setattr("scheduler.solve.finish.generate", lambda network, **_: dated(network, first))
    outcome = solve(network, Options(only_finish=True, workers=1))
    assert outcome.schedule is not None
    assert (outcome.schedule.finish, outcome.finish_bound) == (at(0, 11), at(0, 11))
    assert outcome.status is Status.OPTIMAL
    assert outcome.stages[0].bound_kind == "links and hours"


def test_earliness_is_proved_where_nobody_waits_for_anybody() -> None:
    alone = job(task("a"), task("b"))
    (early,) = [s for s in solve(alone, UNSEARCHED).stages if s.name == "earliness"]
    assert (early.value, early.bound, early.proved) == (0.3333, 0.3333, True)  # both at 8:00, in days
    crowd = job(*(task(i, needs=(("gang", 1),)) for i in "ab"), resources=(Resource("gang", "the gang"),))
    (early,) = [s for s in solve(crowd, UNSEARCHED).stages if s.name == "earliness"]
    assert (early.value, early.bound, early.proved) == (0.375, 0.3333, False)


def test_stages_come_in_order_and_only_where_there_is_something_to_make_small() -> None:
    opened = {"openings": (Opening("o", "R", 10.0, "a", "b"),), "links": (Link("k", "a", "b"),)}
    paid = {"mobilisations": (Mobilisation("m", "m", ("a",), 20.0),)}
    assert list(stages_of(job(task("a"), task("b")))) == ["finish", "earliness"]
    assert list(stages_of(job(task("a"), task("b"), **opened))) == ["finish", "exposure", "earliness"]
    assert list(stages_of(job(task("a"), task("b"), **paid))) == ["finish", "money", "earliness"]
    assert list(stages_of(job(task("a"), task("b"), **opened, **paid))) == ["finish", "exposure", "money", "earliness"]
    in_money = replace(UNSEARCHED, objective="cost")
    assert list(stages_of(job(task("a"), task("b"), **opened, **paid), in_money)) == ["finish", "cost", "earliness"]
    assert list(stages_of(job(task("a")), Options(only_finish=True))) == ["finish"]


def test_a_later_stage_gives_up_nothing_that_an_earlier_one_reached() -> None:
    """One coming would do if the trench stood open over the weekend: open trench comes first, so two are paid."""
    network = job(
        task("dig"),
        task("fill"),
        task("last"),
        links=(Link("k", "dig", "fill"),),
        dates=(DateRule("d", "last", at(4, 8)),),
        openings=(Opening("o", "R", 10.0, "dig", "fill"),),
        mobilisations=(
            Mobilisation("m", "m", ("fill", "last"), 100.0, stay_days=1),
            Mobilisation("n", "n", ("dig",), 5.0),
        ),
    )
    early_dig = replace(network, dates=(*network.dates, DateRule("e", "dig", at(0, 12), "finish", "max")))
    for asked, amount in ((network, 105.0), (early_dig, 205.0)):
        stages = stages_of(asked, Options(workers=1))
        assert (stages["exposure"].value, stages["exposure"].proved) == (0.0, True)
        assert (stages["money"].value, stages["money"].proved) == (amount, True)


@pytest.mark.parametrize(("nights", "proved"), [(0, True), (1, True), (2, False)])
def test_a_stage_is_told_for_the_plan_as_it_is_at_the_end(nights: int, proved: bool) -> None:
    network = job(task("dig"), task("fill"), openings=(Opening("o", "R", 40.0, "dig", "fill"),))
    stages = [
        StageReport("finish", 2.0, 1.0, "search", "days", False, 0.1),
        StageReport("exposure", 120.0, 40.0, "each reach alone", "ft nights", False, 0.1),
    ]
    schedule = dated(network, {"dig": (at(0, 8), at(0, 10)), "fill": (at(nights, 13), at(nights, 15))})
    finish, exposed = as_it_is(stages, [Exposure(), Money()], network, schedule)
    days = nights + 15 / 24
    assert finish == replace(stages[0], value=days, proved=days <= 1.0)
    assert exposed == replace(stages[1], value=40.0 * nights, proved=proved)


@pytest.mark.parametrize(("effort", "value", "proved"), [(0.0, 200.0, False), (2.0, 100.0, True)])
def test_what_is_pursued_is_told_with_its_bound_and_called_proved_where_it_meets_that(
    effort: float, value: float, proved: bool
) -> None:
    network = two_comings()
    found = dated(network, {"a": (at(0, 8), at(0, 10)), "b": (at(4, 8), at(4, 10))})
    heard: list[Progress] = []
    frame = windows(network)
    plan = Incumbent(frame, PrecedenceOrder(network), starts_of(frame, found))
    stage = pursue(Engine(Options(workers=1), heard.append, None), plan, Money(), effort)
    assert (stage.name, stage.value, stage.bound, stage.unit) == ("money", value, 100.0, "dollars")
    assert stage.proved is proved
    assert stage.bound_kind == "counted visits and parties"
    assert (heard[-1].stage, heard[-1].value, heard[-1].bound) == ("money", value, 100.0)
    assert plan.kept == [(Money(), round(100 * value))]


@pytest.mark.parametrize(
    ("least", "bound", "kind"),
    [
        (0, 100.0, "counted visits and parties"),
        (100_00, 100.0, "counted visits and parties"),
        (150_00, 150.0, "more time"),
    ],
)
def test_a_bound_known_from_a_plan_with_more_time_counts_where_it_is_higher(
    least: int, bound: float, kind: str
) -> None:
    network = two_comings()
    found = dated(network, {"a": (at(0, 8), at(0, 10)), "b": (at(4, 8), at(4, 10))})
    frame = windows(network)
    plan = Incumbent(frame, PrecedenceOrder(network), starts_of(frame, found))
    stage = pursue(Engine(Options(workers=1), None, None), plan, Money(), 0.0, least)
    assert (stage.value, stage.bound, stage.bound_kind, stage.proved) == (200.0, bound, kind, False)


def test_a_bound_that_only_a_search_proves_is_called_so() -> None:
    """Days alone tell two comings, but not where both may be done on Monday and the gang has no time for both then."""
    by_days = two_comings(DateRule("e", "a", at(0, 17), "finish", "max"))
    by_time = job(
        task("a", 6, needs=(("gang", 1),)),
        task("b", 6, "ends", needs=(("gang", 1),), one_window=True),
        calendars={"crew": hours("crew", range(5), (8, 17)), "ends": hours("ends", (0, 4), (8, 17))},
        dates=(DateRule("e", "a", at(0, 17), "finish", "max"),),
        resources=(Resource("gang", "gang"),),
        mobilisations=(Mobilisation("m", "m", ("a", "b"), 100.0, stay_days=1),),
    )
    for network, kind in ((by_days, "counted visits and parties"), (by_time, "search")):
        money_stage = stages_of(network, Options(workers=1))["money"]
        assert (money_stage.value, money_stage.bound, money_stage.bound_kind) == (200.0, 200.0, kind)


def test_once_stopped_a_solve_pursues_one_goal_more_at_most() -> None:
    network = two_comings()
    found = dated(network, {"a": (at(0, 8), at(0, 10)), "b": (at(4, 8), at(4, 10))})
    frame, stop = windows(network), threading.Event()
    goals = [(Money(), 0.0), (Cost(), 0.0)]
    for stages in (2, 1):
        plan = Incumbent(frame, PrecedenceOrder(network), starts_of(frame, found))
        assert len(pursue_all(Engine(Options(workers=1), None, stop), plan, goals)) == stages
        assert [goal for goal, _ in plan.kept] == [goal for goal, _ in goals[:stages]]
        stop.set()


def test_the_stages_together_take_no_longer_than_the_solve() -> None:
    outcome = solve(tiny_trench(Random(2)), Options(workers=1))
    assert all(s.seconds >= 0 for s in outcome.stages)
    assert sum(s.seconds for s in outcome.stages) <= outcome.seconds


def test_a_finish_is_taken_over_only_from_a_solve_that_reached_one() -> None:
    network = job(*(task(i, 6, needs=(("gang", 1),)) for i in "abc"), resources=(Resource("gang", "the gang"),))
    first, frame = solve(network, Options(only_finish=True, workers=1)), windows(network)
    taken = handed_over(frame, first)
    assert taken is not None
    assert first.schedule is not None
    assert (taken.value, taken.bound, taken.stage) == (72, 72, first.stages[0])  # 18 hours of work, all proved
    assert schedule_of(frame, taken.starts).dates == first.schedule.dates
    later = handed_over(frame, replace(first, finish_bound=at(0, 10)))
    assert later is not None
    assert (later.value, later.bound) == (72, 8)
    other = (replace(first.stages[0], name="money"),)
    for begun in (
        None,
        replace(first, schedule=None),
        replace(first, finish_bound=None),
        replace(first, stages=other),
    ):
        assert handed_over(frame, begun) is None
