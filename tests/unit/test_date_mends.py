"""The fewest moves that mend dates: against every plan of small jobs, and on the bundled sites broken at random."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from random import Random

import pytest

from scheduler import bundled_sites
from scheduler.audit import audit
from scheduler.cli import main
from scheduler.dates_csv import write_dates
from scheduler.network.model import Network
from scheduler.replan.date_findings import Mends, mends
from scheduler.replan.nearest_dates import nearest_dates
from scheduler.schedule import Schedule, Span
from scheduler.shared_visits import visits_of
from scheduler.solve.formulation.dated import dated
from scheduler.solve.formulation.time_windows import TimeWindows
from tests.damaging import span_from
from tests.networks import plain_network
from tests.pictures import SITES, bundled
from tests.unit.test_solve_random import every_plan, tiny_trench

Dates = dict[str, Span]
JOBS, DRAWS = 12, 5
"""Small jobs tried, and how often the dates of each are broken."""


def made(network: Network, schedule: Schedule, found: Mends) -> list[Schedule]:
    """Return the schedule after each step; every step moves from the dates before it."""
    after, dates = [schedule], dict(schedule.dates)
    for step in found.steps:
        for move in step.moves:
            assert dates.get(move.activity) == move.before
            dates[move.activity] = move.after
        after.append(dated(network, dates))
    return after


def distance(network: Network, given: Dates, plan: Schedule) -> tuple[int, int]:
    """Return how many activities a plan moves, and twice the working ticks, one more for each that is earlier."""
    frame, far = TimeWindows(network), 0
    moved = [a for a, span in plan.dates.items() if given[a] != span]
    for a in moved:
        clock = frame.edge_clock(a, "start")
        now, was = (int(clock.searchsorted(t)) for t in (plan.dates[a][0], given[a][0]))
        far += 2 * abs(now - was) + (now < was)
    return len(moved), far


def broken_small(rng: Random, network: Network, plan: Schedule) -> Dates:
    dates = dict(plan.dates)
    for a in rng.sample(sorted(dates), rng.randint(1, 3)):
        start = rng.randrange(network.data_date, network.horizon - 4)
        dates[a] = span_from(network, a, start)
    return dates


@pytest.mark.parametrize("seed", range(JOBS))
def test_no_plan_of_a_small_job_is_nearer(seed: int) -> None:
    rng = Random(900 + seed)
    plans: list[Schedule] = []
    while not plans:
        network = tiny_trench(rng)
        plans = every_plan(network)
    for _ in range(DRAWS):
        given = broken_small(rng, network, rng.choice(plans))
        found = nearest_dates(network, given)
        assert found is not None
        assert audit(network, found.schedule) == []
        assert found.proved
        assert distance(network, given, found.schedule) == min(distance(network, given, p) for p in plans)


def far(network: Network, dates: Dates, rng: Random) -> Dates:
    """Move one activity some weeks away."""
    a = rng.choice(sorted(dates))
    return {a: span_from(network, a, dates[a][0] + network.clock.ticks(days=rng.choice((7, 30, 90))))}


def swapped(network: Network, dates: Dates, rng: Random) -> Dates:
    """Give two activities each other's start."""
    a, b = rng.sample(sorted(dates), 2)
    return {a: span_from(network, a, dates[b][0]), b: span_from(network, b, dates[a][0])}


def by_a_day(network: Network, dates: Dates, rng: Random) -> Dates:
    """Move one activity a day earlier or later."""
    a = rng.choice(sorted(dates))
    day = network.clock.ticks(days=rng.choice((1, -1)))
    return {a: span_from(network, a, max(network.data_date, dates[a][0] + day))}


def on_a_sunday(network: Network, dates: Dates, rng: Random) -> Dates:
    """Put an inspector's look on the next Sunday."""
    a = rng.choice([a for a in sorted(dates) if network.by_id[a].kind.is_look])
    start = dates[a][0]
    while network.clock.when(start).weekday() != 6:
        start += network.clock.ticks(days=1)
    return {a: span_from(network, a, start)}


def several(network: Network, dates: Dates, rng: Random) -> Dates:
    """Break three things at once."""
    return {a: s for break_ in (far, by_a_day, on_a_sunday) for a, s in break_(network, dates, rng).items()}


WAYS: tuple[Callable[[Network, Dates, Random], Dates], ...] = (far, swapped, by_a_day, on_a_sunday, several)


@pytest.mark.parametrize("name", SITES)
@pytest.mark.parametrize("way", WAYS, ids=lambda way: way.__name__)
def test_no_more_is_moved_than_was_broken_and_each_step_mends(
    name: str, way: Callable[[Network, Dates, Random], Dates]
) -> None:
    _, network, sound = bundled(name)
    for seed in range(5):
        changed = way(network, dict(sound.dates), Random(seed))
        dates = {**sound.dates, **changed}
        spoilt = replace(sound, dates=dates, visits=visits_of(network, dates))
        broken = audit(network, spoilt)
        found = mends(network, spoilt)
        assert bool(found.steps) == bool(broken)
        assert found.moved <= len(changed)
        assert found.moved == found.least
        assert found.moved == sum(len(step.moves) for step in found.steps)
        left = [len(broken), *(len(audit(network, s)) for s in made(network, spoilt, found)[1:])]
        assert all(b < a for a, b in pairwise(left)), left
        assert left[-1] == 0
        for move in (m for step in found.steps for m in step.moves):
            calendar = network.calendar_of(move.activity)
            assert calendar.window_at(move.after[0]) is not None
            assert calendar.advance(move.after[0], network.by_id[move.activity].work) == move.after[1]


@pytest.mark.parametrize("name", SITES)
def test_a_dig_put_in_summer_is_put_back_and_nothing_else_is_moved(
    name: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, network, sound = bundled(name)
    dig = next(a for a in network.activities if a.kind == "dig")
    summer = span_from(network, dig.id, sound.dates[dig.id][0] + network.clock.ticks(days=91))
    spoilt = replace(sound, dates={**sound.dates, dig.id: summer})
    (tmp_path / "dates.csv").write_text(write_dates(spoilt, network), encoding="utf-8")
    began = time.monotonic()
    assert main(["audit", str(bundled_sites()[name]), str(tmp_path / "dates.csv")]) == 1
    assert time.monotonic() - began < 10
    out = capsys.readouterr().out
    assert "1 activity moved; proved: no plan moves fewer." in out
    told = " ".join(out.split("The smallest changes that fix these:")[1].split())
    assert f"1. Start {dig.name} " in told
    assert " 2. " not in told
    assert "more" not in told.replace("moves fewer", "")


def test_dates_all_a_week_late_are_answered_in_time_and_not_called_proved_when_they_are_not() -> None:
    _, network, sound = bundled("lantern-street")
    dates = {a: span_from(network, a, s + network.clock.ticks(days=8)) for a, (s, _) in sound.dates.items()}
    spoilt = replace(sound, dates=dates, visits=visits_of(network, dates))
    began = time.monotonic()
    found = mends(network, spoilt)
    assert time.monotonic() - began < 25
    assert 0 < found.least <= found.moved
    assert ("proved" in found.said) == (found.least == found.moved)
    if all(step.moves for step in found.steps):
        assert audit(network, made(network, spoilt, found)[-1]) == []


def test_missing_dates_are_given() -> None:
    network = plain_network([2, 3, 2], [(0, 1), (1, 2)], horizon=40)
    found = mends(network, Schedule({"0": (0, 2), "2": (9, 11)}))
    (step,) = found.steps
    assert [(m.activity, m.before) for m in step.moves] == [("1", None)]
    assert step.text.startswith("Start activity 1 ")
    assert audit(network, made(network, Schedule({"0": (0, 2), "2": (9, 11)}), found)[-1]) == []


def test_sound_dates_need_no_mend() -> None:
    network = plain_network([2, 3], [(0, 1)], horizon=40)
    assert mends(network, Schedule({"0": (0, 2), "1": (2, 5)})) == Mends((), 0, 0)
