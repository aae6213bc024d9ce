"""How far each stretch is at a moment, by hand on a bundled (invented) site's plan and as it must be on any."""

from __future__ import annotations

from pathlib import Path

import pytest

import scenarios
from scheduler.audit import audit
from scheduler.measures import open_ft
from scheduler.network.derive import derive
from scheduler.network.kind import Kind
from scheduler.site.files import load_site
from scheduler.solve.outcome import Options
from scheduler.solve.run import solve
from scheduler.stretches import StretchState, stretches

ORDER = list(StretchState)


@pytest.fixture(scope="module", params=["orchard-lane", "lantern-street"])
def planned(request):
    network = derive(load_site(Path(scenarios.__file__).parent / f"{request.param}.yaml"))
    schedule = solve(network, Options(only_finish=True, start_effort=0.3, finish_effort=0.5)).schedule
    assert schedule is not None
    assert audit(network, schedule) == []
    return network, schedule


def test_before_the_job_nothing_is_dug_and_after_it_all_is_covered(planned):
    network, schedule = planned
    assert {p.state for p in stretches(network, schedule.dates, network.data_date - 1)} == {StretchState.NOT_DUG}
    assert {p.state for p in stretches(network, schedule.dates, schedule.finish)} == {StretchState.COVERED}


def test_a_stretch_only_ever_gets_further(planned):
    network, schedule = planned
    before = [0] * len(network.openings)
    for tick in range(network.data_date, schedule.finish + 1, 2):
        now = [ORDER.index(p.state) for p in stretches(network, schedule.dates, tick)]
        assert all(a <= b for a, b in zip(before, now, strict=True))
        before = now


def test_what_stands_open_at_night_is_what_is_dug_and_not_covered(planned):
    network, schedule = planned
    clock = network.clock
    for day in {clock.when(start).date() for start, _ in schedule.dates.values()}:
        tick = clock.midnight(clock.when(clock.midnight(day) + clock.ticks(days=1.2)).date())
        parts = stretches(network, schedule.dates, tick)
        feet = sum(p.to_ft - p.from_ft for p in parts if p.state not in (StretchState.NOT_DUG, StretchState.COVERED))
        assert feet == pytest.approx(open_ft(network, schedule.dates, day))


def test_states_turn_when_their_work_ends(planned):
    network, schedule = planned
    opening = network.openings[0]
    laying = [a.id for a in network.activities if a.reach == opening.reach and a.kind is Kind.LAY and a.alignment]

    def state(tick):
        return next(p.state for p in stretches(network, schedule.dates, tick) if p.opening == opening.id)

    dug, closed = schedule.dates[opening.opens][0], schedule.dates[opening.closes][1]
    laid = max(schedule.dates[a][1] for a in laying)
    assert state(dug - 1) is StretchState.NOT_DUG
    assert state(dug) is StretchState.OPEN
    assert state(laid - 1) is StretchState.OPEN
    assert state(laid) in (StretchState.LAID, StretchState.INSPECTED)
    assert state(closed - 1) is StretchState.INSPECTED
    assert state(closed) is StretchState.COVERED
