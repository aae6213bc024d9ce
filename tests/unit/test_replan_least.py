"""As little as possible moved, against trying every start of everything; and from when on all is as before.

The trial of every start shares nothing with the solver: starts by stepping through the hours tick by tick, rules
checked pair by pair, whatever is worse already left aside. What it finds is audited.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import cache
from random import Random

import pytest

from scheduler.audit import audit
from scheduler.network.kind import Kind
from scheduler.network.model import Activity, DateRole, DateRule, Link, LinkType, Network, Resource, Space
from scheduler.replan.least_moved import Movers, as_before_from, least_moved, rank
from scheduler.schedule import Schedule, Span
from scheduler.solve.formulation.engine import Engine
from scheduler.solve.outcome import Options
from scheduler.worktime.calendar import Calendar
from scheduler.worktime.clock import Clock
from tests.networks import FIRST_DAY

HORIZON = 45
HOURS = {
    "crew": Calendar("crew", "crew", tuple((d * 9, d * 9 + 6) for d in range(5))),
    "mornings": Calendar("mornings", "mornings", tuple((d * 9 + 1, d * 9 + 4) for d in range(5))),
    "utility": Calendar("utility", "utility", tuple((d * 9 + 2, d * 9 + 7) for d in (0, 1, 3, 4))),
}
CASES = (
    0, 1, 2, 4, 5, 6, 11, 13, 14, 15, 18, 19, 21, 22, 23, 24, 25, 29, 30, 31, 32, 34,
    35, 36, 38, 42, 46, 47, 51, 52, 53, 54, 55, 58, 68, 93,
)  # fmt: skip
"""Seeds of jobs that can be planned, before and after, and tried through in a moment."""


def crowded(rng: Random) -> Network:
    """A few pieces of work of three movers on one crew, one machine and one room, in five short days."""
    names = [str(i) for i in range(rng.randint(4, 6))]
    activities = tuple(
        Activity(
            n,
            f"work {n}",
            Kind.PLAIN,
            rng.choice((1, 2, 3, 4, 7)) if (hours := rng.choice(tuple(HOURS))) == "crew" else rng.randint(1, 3),
            hours,
            one_window=rng.random() < 0.3,
            needs=(("crew", 1),) if rng.random() < 0.5 else (),
        )
        for n in names
    )
    activities = tuple(replace(a, one_window=a.one_window and a.work <= 3) for a in activities)
    links = tuple(
        Link(f"{a}-{b}", a, b, type=rng.choice((LinkType.FS, LinkType.FS, LinkType.SS)), lag=rng.choice((0, 0, 3)))
        for i, a in enumerate(names)
        for b in names[i + 1 :]
        if rng.random() < 0.35
    )
    return Network(
        name="crowded",
        clock=Clock.starting(FIRST_DAY, "UTC"),
        data_date=0,
        horizon=HORIZON,
        calendars=HOURS,
        activities=activities,
        links=links,
        resources=(Resource("crew", "crew", capacity=1),),
        spaces=(Space("room", "", tuple((n, rng.choice("ab")) for n in names)),),
    )


def every_span(network: Network, activity: Activity) -> list[Span]:
    """Every span that an activity may have by its hours and dates, tick by tick."""
    windows = network.calendars[activity.calendar].windows
    is_open = [any(a <= t < b for a, b in windows) for t in range(HORIZON)]
    first = max([d.at for d in network.dates if d.activity == activity.id], default=0)
    found = []
    for start in (t for t in range(first, HORIZON) if is_open[t]):
        t, left = start, activity.work
        while left and t < HORIZON:
            left -= is_open[t]
            t += 1
        if not left and not (activity.one_window and t - start > activity.work):
            found.append((start, t))
    return found


def apart(network: Network, a: str, b: str) -> Callable[[Span, Span], bool]:
    """Return whether spans of two activities go together, by links, crew and room."""
    links = [(k, k.before == a) for k in network.links if {k.before, k.after} == {a, b}]
    groups = dict(network.spaces[0].occupants)
    crew = all(network.by_id[x].needs for x in (a, b))
    exclusive = crew or groups[a] != groups[b]

    def fine(one: Span, other: Span) -> bool:
        if exclusive and one[0] < other[1] and other[0] < one[1]:
            return False
        for link, forward in links:
            before, after = (one, other) if forward else (other, one)
            if after[0] < (before[1] if link.type is LinkType.FS else before[0]) + link.lag:
                return False
        return True

    return fine


def every_plan(
    network: Network, order: Callable[[str, Sequence[Span]], list[Span]], worse: Callable[[dict[str, Span]], bool]
) -> Iterator[dict[str, Span]]:
    """Yield the plans of a network, what is `worse` already left aside."""
    names = [a.id for a in network.activities]
    spans = {a.id: order(a.id, every_span(network, a)) for a in network.activities}
    rules = {(a, b): apart(network, a, b) for i, b in enumerate(names) for a in names[:i]}

    def extend(done: dict[str, Span]) -> Iterator[dict[str, Span]]:
        if len(done) == len(names):
            yield dict(done)
            return
        name = names[len(done)]
        for span in spans[name]:
            if all(rules[other, name](at, span) for other, at in done.items()):
                done[name] = span
                if not worse(done):
                    yield from extend(done)
                del done[name]

    return extend({})


def any_plan(network: Network, rng: Random) -> Schedule:
    """Return some plan, by chance; StopIteration where there is none."""
    return Schedule(next(every_plan(network, lambda _, s: rng.sample(s, len(s)), lambda _: False)), (), ())


@cache
def least(seed: int) -> tuple[int, int, int]:
    """Return the fewest people, then pieces, then ticks, by trying everything."""
    network, movers, _ = disturbed(seed)
    best = [(9, 9, 999)]

    def cost(done: dict[str, Span]) -> tuple[int, int, int]:
        moved = [a for a, span in done.items() if span[0] != movers.before[a]]
        ticks = 0
        for a in moved:
            first, last = sorted((done[a][0], movers.before[a]))
            ticks += sum(any(x <= t < y for x, y in movers.hours[a].windows) for t in range(first, last))
        return len({movers.of[a] for a in moved}), len(moved), ticks

    def near(name: str, spans: Sequence[Span]) -> list[Span]:
        return sorted(spans, key=lambda s: abs(s[0] - movers.before[name]))

    for plan in every_plan(network, near, lambda done: cost(done) >= best[0]):
        assert audit(network, Schedule(plan, (), ())) == []
        best[0] = cost(plan)
    return best[0]


@cache
def disturbed(seed: int) -> tuple[Network, Movers, Schedule]:
    """Return a job of which one piece of work is late, who moves what, and some plan of it."""
    rng = Random(seed)
    network = crowded(rng)
    before = any_plan(network, rng)
    assert audit(network, before) == []
    late = rng.choice(network.activities).id
    rule = DateRule("late", late, before.dates[late][0] + rng.randint(1, 12), role=DateRole.DELAY)
    delayed = replace(network, dates=(rule,))
    some = any_plan(delayed, rng)
    of = {a.id: rng.choice(("Bell", "Ruiz", "City")) for a in network.activities}
    starts = {a: span[0] for a, span in before.dates.items()}
    hours = {a.id: HOURS[a.calendar] for a in network.activities}
    return delayed, Movers(starts, of, hours), some


@pytest.mark.parametrize("seed", CASES)
def test_no_plan_moves_fewer_people_or_pieces_or_less_far(seed: int) -> None:
    network, movers, some = disturbed(seed)
    plan, stages = least_moved(Engine(Options()), network, movers, [some], (2.0, 2.0, 2.0))
    assert audit(network, plan) == []
    assert rank(movers, network, plan) == least(seed)
    assert [s.name for s in stages] == ["people", "pieces", "far"]
    assert all(s.proved for s in stages)
    assert all(s.bound == s.value for s in stages)


def test_the_cases_are_of_many_sorts() -> None:
    found = [least(seed) for seed in CASES]
    assert len(found) >= 30
    assert {people for people, _, _ in found} == {1, 2, 3}
    assert {pieces for _, pieces, _ in found} >= {1, 2, 3, 4}
    assert len({far for _, _, far in found}) > 10


@pytest.mark.parametrize("seed", CASES[:10])
def test_from_the_moment_named_on_both_plans_are_the_same(seed: int) -> None:
    network, movers, some = disturbed(seed)
    plan, _ = least_moved(Engine(Options()), network, movers, [some], (2.0, 2.0, 2.0))
    moment = as_before_from(network, movers, plan)
    ends = []
    for a in movers.moved(plan):
        was = dict(every_span(replace(network, dates=()), network.by_id[a]))[movers.before[a]]
        ends += [plan.dates[a][1], was]
    assert moment == max(ends)
