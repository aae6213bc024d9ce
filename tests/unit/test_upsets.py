"""What a lost day or a missed visit does to the finish, checked by planning anew and by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

import scenarios
from scheduler.audit import audit
from scheduler.explain.upsets import finish_after_missed, finish_without
from scheduler.network.derive import derive
from scheduler.site.files import load_site
from scheduler.solve.outcome import Options
from scheduler.solve.run import solve
from scheduler.worktime.calendar import Calendar, intersection

QUICK = Options(only_finish=True, start_effort=0.3, finish_effort=0.5)


@pytest.fixture(scope="module")
def planned():
    network = derive(load_site(Path(scenarios.__file__).parent / "orchard-lane.yaml"))
    network = replace(network, target=None)
    schedule = solve(network, QUICK).schedule
    assert schedule is not None
    assert audit(network, schedule) == []
    return network, schedule


def test_a_day_on_which_nobody_works_anyway_changes_nothing(planned):
    network, schedule = planned
    sunday = network.clock.tick(datetime(2027, 3, 7))
    assert finish_without(network, schedule, sunday, sunday + network.clock.ticks(days=1)) == schedule.finish


def test_a_lost_day_never_costs_less_than_the_best_plan_without_it(planned):
    network, schedule = planned
    later = []
    for day in (2, 9, 16, 23):
        start = network.clock.tick(datetime(2027, 3, day))
        finish = start + network.clock.ticks(days=1)
        kept = finish_without(network, schedule, start, finish)
        rest = Calendar("rest", "rest", ((0, start), (finish, network.horizon)))
        shut = {c.id: intersection(c.id, c.name, (c, rest)) for c in network.calendars.values()}
        best = solve(replace(network, calendars=shut, bookings=()), QUICK)
        assert kept is not None
        assert best.finish_bound is not None
        assert kept >= schedule.finish
        assert kept >= best.finish_bound
        later.append(kept - schedule.finish)
    assert later[-1] > 0  # the last day of the job


def test_a_missed_last_visit_moves_the_finish_and_an_early_one_less(planned):
    network, schedule = planned
    moved = {v.id: finish_after_missed(network, schedule, v) for v in schedule.visits}
    assert all(m is not None and m >= schedule.finish for m in moved.values())
    final = next(v for v in schedule.visits if v.rule == "final-look")
    assert moved[final.id] > schedule.finish
