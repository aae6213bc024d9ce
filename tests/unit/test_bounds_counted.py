"""Bounds on the finish where the answer has a formula: so much work, so many to do it, in their hours."""

from __future__ import annotations

from itertools import accumulate

import pytest

from scheduler.network.kind import Kind
from scheduler.network.model import Link, Opening, OpenLimit, Resource, Space, VisitRule
from scheduler.solve.bounds.destructive import BY_DATES, MOST_TRIES, NO_DATES, _climb, _Refuted, finish_lower_bound
from scheduler.solve.bounds.energy import OpenHours, Visits
from scheduler.solve.first_plan.generate import generate
from scheduler.worktime.calendar import Calendar
from tests.jobs import ALWAYS, CREW, at, hours, job, task

WORDS = "all the work of the gang"


def gang(works: tuple[float, ...], capacity: int, units: int = 1, **rules: object):
    needs = (("gang", units),)
    return job(
        *(task(f"t{n}", w, needs=needs) for n, w in enumerate(works)),
        resources=(Resource("gang", "the gang", capacity=capacity),),
        **rules,
    )


@pytest.mark.parametrize(
    ("works", "capacity", "units"),
    [
        ((2, 2), 1, 1),
        ((4, 4), 1, 1),  # to the end of a day
        ((4, 4, 0.25), 1, 1),  # a quarter of an hour of the day after
        ((3, 3, 3), 1, 1),
        ((5, 5, 5, 5), 2, 1),
        ((5, 5, 5), 2, 1),
        ((1.75, 1.75, 1.75), 2, 1),  # an odd number of quarters of an hour between two
        ((2, 2, 2), 3, 2),
        (tuple([3.25] * 9), 1, 1),
        (tuple([2.5] * 14), 3, 2),
    ],
)
def test_a_gang_cannot_be_done_before_all_its_work_fits_into_its_hours(
    works: tuple[float, ...], capacity: int, units: int
) -> None:
    ticks = units * sum(round(4 * w) for w in works)
    due = CREW.advance(0, max(-(-ticks // capacity), round(4 * max(works))))
    assert due is not None
    network = gang(works, capacity, units)
    assert finish_lower_bound(network)[0] == due
    for later in (0, 1, 5, 96, 300):
        bound, words = finish_lower_bound(network, known=due + later)
        assert (bound, words) == (due, WORDS)


@pytest.mark.parametrize("head", [0.25, 3, 9])
@pytest.mark.parametrize("tail", [0.25, 3, 9])
def test_what_all_work_waits_for_and_what_waits_for_it_comes_on_top(head: float, tail: float) -> None:
    works = (2.0, 3.0, 1.5)
    ids = [f"t{n}" for n in range(3)]
    network = job(
        task("head", head),
        task("tail", tail),
        *(task(i, w, needs=(("gang", 1),)) for i, w in zip(ids, works, strict=True)),
        links=tuple(k for i in ids for k in (Link(f"h{i}", "head", i), Link(f"t{i}", i, "tail"))),
        resources=(Resource("gang", "the gang"),),
    )
    due = CREW.advance(0, round(4 * (head + sum(works) + tail)))
    assert finish_lower_bound(network)[0] == due


def test_work_that_comes_in_one_after_the_other_is_counted_from_when_each_can_begin() -> None:
    """Three waits of a day and a half hour's work each: the last can begin on Wednesday and takes its half hour."""
    waits = list(accumulate([8.0] * 3))
    network = gang(
        (0.5, 0.5, 4.0),
        1,
        links=(Link("a", "t0", "t1", lag=at(1, 0)), Link("b", "t1", "t2", lag=at(1, 0))),
    )
    assert finish_lower_bound(network)[0] == at(2, 13) + 4  # from Wednesday 9:00 on, four hours of work
    assert waits[-1] == 24.0


def test_hours_are_counted_for_each_of_a_party_before_a_start_and_a_finish() -> None:
    two = OpenHours("w", (), CREW, capacity=2)
    for tick, units in ((at(0, 8), 0), (at(0, 10), 16), (at(0, 12), 32), (at(0, 13), 32), (at(1, 8), 64)):
        assert two.before_start(tick) == two.before_finish(tick) == units
    assert two.later(at(0, 10), 3) == at(0, 10) + 2
    assert two.later(at(0, 10), 4) == at(0, 10) + 2
    assert two.later(at(0, 12), 1) == at(0, 13) + 1
    assert two.later(at(4, 17), 1) is None
    day_and_night = OpenHours("w", (), ALWAYS)
    for tick in (0, 1, 5, 96):
        assert day_and_night.before_start(tick) == day_and_night.before_finish(tick) == tick


def test_visits_are_counted_by_windows_before_a_start_and_up_to_a_finish() -> None:
    visits = Visits("w", (), ((10, 20), (30, 40)), most=3)
    assert [visits.before_start(t) for t in (5, 10, 19, 29, 30, 45)] == [0, 0, 0, 0, 3, 3]
    assert [visits.before_finish(t) for t in (5, 10, 11, 20, 30, 31, 45)] == [0, 0, 3, 3, 3, 6, 6]
    assert [visits.later(t, n) for t, n in ((5, 1), (5, 3), (5, 4), (11, 1), (11, 3), (11, 4), (31, 1))] == [
        11, 11, 31, 31, 31, None, None,
    ]  # fmt: skip


def test_a_window_holds_no_more_looks_than_the_inspectors_can_make_in_it() -> None:
    one = Visits("w", (), ((10, 20), (30, 40)), most=9, at_once=2, shortest=4)
    assert [one.within(n) for n in (0, 3, 4, 7, 8, 10)] == [0, 0, 2, 2, 4, 4]
    assert [one.before_finish(t) for t in (13, 14, 18, 30, 34, 99)] == [0, 2, 4, 4, 6, 8]
    assert Visits("w", (), ((10, 20),), most=3, at_once=2, shortest=4).within(10) == 3
    assert Visits("w", (), ((10, 20),), most=3, at_once=2, shortest=0).within(1) == 3
    assert Visits("w", (), ((10, 20),), most=3, at_once=None, shortest=4).within(1) == 3
    assert [Visits("w", (), ((10, 20),), most=9, at_once=1, shortest=1).within(n) for n in (0, 1, 3)] == [0, 1, 3]


def test_work_that_lies_outside_a_stretch_takes_nothing_from_what_lies_inside_it() -> None:
    """Short work can be done at once but has a day's work after it; the rest waits for a head of nine hours."""
    gangs = (("gang", 1),)
    network = job(
        task("head", 9),
        *(task(f"t{n}", 3, needs=gangs) for n in range(3)),
        task("early", 0.25, needs=gangs),
        task("after", 17.5),
        links=(*(Link(f"h{n}", "head", f"t{n}") for n in range(3)), Link("e", "early", "after")),
        resources=(Resource("gang", "the gang"),),
    )
    assert finish_lower_bound(network)[0] == CREW.advance(0, 4 * (9 + 9))


@pytest.mark.parametrize("trusted", [True, False])
@pytest.mark.parametrize("step", [1, 3, 100])
@pytest.mark.parametrize("above", [0, 1, 2, 9])
@pytest.mark.parametrize("best", [10, 11, 12, 17, 29])
def test_a_bound_is_raised_to_the_first_finish_that_is_not_refuted_and_never_beyond(
    trusted: bool, step: int, above: int, best: int
) -> None:
    """`best` is the first finish that no count refutes, `above` how much later the known plan ends.

    What a count says to try next may lie beyond the best, unless it is to be trusted.
    """
    asked: list[int] = []

    def refuted(finish: int) -> _Refuted | None:
        asked.append(finish)
        following = min(finish + step, best) if trusted else finish + step
        return _Refuted(f"not by {finish}", following) if finish < best else None

    bound, words = _climb(10, "by links", refuted, best + above)
    assert bound == best
    assert words == (f"not by {best - 1}" if best > 10 else "by links")
    assert all(10 <= finish < best + above for finish in asked)
    if above == 0:
        assert asked == ([best - 1] if best > 10 else []), "where the plan at hand is best one question proves it"
    assert all(asked.count(finish) <= 2 for finish in asked), "nothing is asked over and over"
    assert len(asked) <= 2 * MOST_TRIES


def test_a_bound_that_creeps_is_given_up_after_some_tries_and_is_a_bound_all_the_same() -> None:
    asked: list[int] = []

    def refuted(finish: int) -> _Refuted | None:
        asked.append(finish)
        return _Refuted("not yet", finish + 1) if finish < 90 else None

    assert _climb(10, "by links", refuted, 100) == (10 + MOST_TRIES, "not yet")
    assert asked == [99, *range(10, 10 + MOST_TRIES)], "each finish is asked about once"


@pytest.mark.parametrize("left", [0, 1, 2, 4])
def test_the_tries_that_are_left_are_spent_between_what_is_refuted_and_what_is_not(left: int) -> None:
    """The count creeps until `left` tries are left, then points 1000 beyond the first finish that is not refuted."""
    asked: list[int] = []
    creeps = MOST_TRIES - left - 1

    def refuted(finish: int) -> _Refuted | None:
        asked.append(finish)
        return _Refuted("not yet", finish + (1 if finish < 10 + creeps else 1000)) if finish < 990 else None

    found, _ = _climb(10, "by links", refuted, 5000)
    low = 10 + creeps
    high = low + 999
    for _ in range(left):
        middle = (low + high) // 2
        low, high = (middle, high) if middle < 990 else (low, middle)
    assert found == low + 1 <= 990
    assert len(asked) == MOST_TRIES + 2, "and two at the ends"


def test_the_bound_is_that_of_the_gang_with_most_to_do_however_many_others_are_short_too() -> None:
    gangs = range(MOST_TRIES + 10)
    network = job(
        *(task(f"g{g}t{n}", 1 + g / 4, needs=((f"gang{g}", 1),)) for g in gangs for n in range(4)),
        resources=tuple(Resource(f"gang{g}", f"gang {g}") for g in gangs),
    )
    assert finish_lower_bound(network) == (CREW.advance(0, 4 * (4 + gangs[-1])), f"all the work of gang {gangs[-1]}")


def test_long_work_that_waits_for_a_gang_begins_when_the_gang_is_done() -> None:
    network = job(
        task("first", 4, needs=(("gang", 1),)),
        task("second", 5, needs=(("gang", 1),)),
        task("long", 20),
        links=(Link("k", "first", "long"), Link("m", "second", "long")),
        resources=(Resource("gang", "the gang"),),
    )
    bound, words = finish_lower_bound(network)
    assert bound == CREW.advance(0, 4 * (4 + 5 + 20))
    assert words == "working hours, with parties and rooms that take one thing at a time"


def test_where_there_is_nothing_to_do_there_is_nothing_to_wait_for() -> None:
    assert finish_lower_bound(job()) == (0, BY_DATES)


@pytest.mark.parametrize(("last", "fits"), [(1, True), (2, False)])
def test_what_is_left_no_hours_by_a_gang_has_no_dates_at_all(last: float, fits: bool) -> None:
    """Of the 40 hours of the week the gang takes 39."""
    network = job(
        task("first", 20, needs=(("gang", 1),)),
        task("second", 19, needs=(("gang", 1),)),
        task("last", last),
        links=(Link("k", "first", "last"), Link("m", "second", "last")),
        resources=(Resource("gang", "the gang"),),
    )
    bound, words = finish_lower_bound(network)
    assert bound == (at(4, 17) if fits else network.horizon + 1)
    assert (words == NO_DATES) is not fits


@pytest.mark.parametrize("best_day", [0, 1, 2])
def test_a_gang_is_counted_for_the_fewest_hours_that_work_in_short_days_can_keep_it(best_day: int) -> None:
    """On one of three mornings the four hours can be done in one go; begun on another they keep the gang overnight."""
    mornings = (hours("m", (d,), (8, 12 if d == best_day else 10)) for d in range(3))
    short = Calendar("short", "short days", tuple(w for m in mornings for w in m.windows))
    needs = (("gang", 1),)
    network = job(
        task("split", 4, "short", needs=needs),
        *(task(f"t{n}", 8, needs=needs) for n in range(2)),
        calendars={"short": short, "crew": CREW},
        resources=(Resource("gang", "the gang"),),
    )
    plan = generate(network, budget_seconds=0.2)
    assert plan is not None
    assert finish_lower_bound(network)[0] == CREW.advance(0, 4 * (4 + 8 + 8)) == plan.finish


@pytest.mark.parametrize(
    ("feet", "most", "finish"),
    [
        ((50.0, 50.0, None), 100.0, at(1, 9.5)),  # what is 100 ft long is seen in one visit
        ((60.0, 41.0, None), 100.0, at(3, 9.5)),
        ((None, None, None), 100.0, at(1, 9.5)),
    ],
)
def test_a_look_at_nothing_long_takes_no_feet_of_a_visit(
    feet: tuple[float | None, ...], most: float, finish: int
) -> None:
    looks = tuple(task(f"look{n}", 0.5, "city", Kind.INSPECT, one_window=True) for n in range(3))
    ids = tuple(a.id for a in looks)
    long = {i: f for i, f in zip(ids, feet, strict=True) if f is not None}
    rule = VisitRule("v", "the city", "city", "city", ids, long, max_ft=most)
    bound, words = finish_lower_bound(job(*looks, visit_rules=(rule,)))
    assert bound == finish
    assert words == (BY_DATES if finish == at(1, 9.5) else "the feet that the city can see in one visit")


def test_a_stretch_stands_open_for_all_the_work_that_must_follow_in_its_room() -> None:
    """Two trades lay side by side in a reach that takes one at a time; one reach of two may stand open."""
    works = [(f"dig{r}", f"one{r}", f"two{r}", f"fill{r}") for r in "AB"]
    links = [Link(f"{a}-{b}", a, b) for d, x, y, f in works for a, b in ((d, x), (d, y), (x, f), (y, f))]
    network = job(
        *(task(a, 2) for reach in works for a in reach),
        links=tuple(links),
        spaces=tuple(Space(f"room{r[0]}", r[0], tuple((a, a) for a in r)) for r in works),
        openings=tuple(Opening(f"open{r[0]}", r[0], 10.0, r[0], r[3]) for r in works),
        open_limits=(OpenLimit("limit", 1, tuple((f"open{r[0]}", 1) for r in works), because="one at a time"),),
    )
    plan = generate(network, budget_seconds=0.2)
    assert plan is not None
    assert finish_lower_bound(network) == (CREW.advance(0, 4 * 2 * 8), "one at a time")
    assert plan.finish == CREW.advance(0, 4 * 2 * 8)
