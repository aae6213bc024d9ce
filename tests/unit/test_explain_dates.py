"""Dates made elsewhere with faults put in on purpose, and how late one activity may really finish."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

import pytest

import scenarios
from scheduler.audit import audit
from scheduler.explain.exact import latest_finish
from scheduler.explain.floats import floats
from scheduler.network.derive import derive
from scheduler.network.model import Hold, Link, Network, Resource, ResourceKind, Space, Target
from scheduler.replan.date_findings import Mend, mends
from scheduler.schedule import Schedule
from scheduler.shared_visits import visits_of
from scheduler.site.files import load_site
from scheduler.solve.first_plan.generate import generate
from tests.networks import plain_network, trench_network


def dated(network: Network, **starts: int) -> Schedule:
    dates = {}
    for name, start in starts.items():
        a = network.by_id[name.removeprefix("a")]
        dates[a.id] = (start, start + a.work)
    return Schedule(dates, visits_of(network, dates))


def applied(network: Network, schedule: Schedule, found: Sequence[Mend]) -> Schedule:
    dates = dict(schedule.dates)
    for mend in found:
        for move in mend.moves:
            assert dates[move.activity] == move.before
            dates[move.activity] = move.after
    return replace(schedule, dates=dates, visits=visits_of(network, dates))


def test_cover_before_release_is_one_fault_mended_by_one_move() -> None:
    network = plain_network([4, 3, 2], [(0, 1), (1, 2)], spaces=(Space("s", "R", (("0", "a"), ("1", "b"))),))
    network = replace(network, holds=(Hold("h", "hold", "look", "0", ("1",)),))
    schedule = dated(network, a0=0, a1=1, a2=10)
    assert {f.rule for f in audit(network, schedule)} == {"0-1", "h", "s"}
    (mend,) = mends(network, schedule).steps
    assert mend.text == "Start activity 1 Mon 3 Mar 01:00 instead of Mon 3 Mar 00:15."
    assert len(mend.findings) == 3
    assert [(m.activity, m.after) for m in mend.moves] == [("1", (4, 7))]


def test_what_gives_way_to_a_move_is_named_and_two_faults_stay_two() -> None:
    network = plain_network([4, 3, 2, 5, 1], [(0, 1), (1, 2), (3, 4)])
    schedule = dated(network, a0=0, a1=2, a2=5, a3=20, a4=21)
    first, second = mends(network, schedule).steps
    assert [m.activity for m in first.moves] == ["1", "2"]
    assert "With it: Start activity 2" in first.text
    assert [m.activity for m in second.moves] == ["4"]
    assert not audit(network, applied(network, schedule, [first, second]))


def test_of_two_jobs_for_one_crew_the_later_waits() -> None:
    network = plain_network([4, 4], [], resources=(Resource("r", "Crew", ResourceKind.CREW),))
    network = replace(network, activities=tuple(replace(a, needs=(("r", 1),)) for a in network.activities))
    (mend,) = mends(network, dated(network, a0=0, a1=3)).steps
    assert [(m.activity, m.after[0]) for m in mend.moves] == [("1", 4)]


def test_what_no_later_date_mends_keeps_the_advice_of_the_audit() -> None:
    network = replace(plain_network([4, 4], [(0, 1)]), target=Target("target", 6))
    (mend,) = mends(network, dated(network, a0=0, a1=4)).steps
    assert not mend.moves
    assert mend.findings[0].rule == "target"
    assert mend.text == f"{mend.findings[0].text} {mend.findings[0].remedy}"
    missing = mends(network, Schedule({"0": (0, 4)})).steps
    assert [f.rule for m in missing for f in m.findings] == ["missing/1"]


@lru_cache
def small_site() -> tuple[Network, Schedule]:
    network = derive(load_site(Path(scenarios.__file__).parent / "orchard-lane.yaml"))
    schedule = generate(network)
    assert schedule is not None
    return network, schedule


@pytest.mark.parametrize("seed", range(6))
def test_every_finding_is_in_one_group_and_the_moves_leave_only_what_has_none(seed: int) -> None:
    network, schedule = small_site()
    dates = dict(schedule.dates)
    for i, a in enumerate(sorted(dates)):
        if (i * 7 + seed) % 31 == 0:
            start = max(network.data_date, dates[a][0] - 8 * (1 + i % 5))
            dates[a] = (start, start + dates[a][1] - dates[a][0])
    spoilt = replace(schedule, dates=dates, visits=visits_of(network, dates))
    found = mends(network, spoilt).steps
    assert any(m.moves for m in found)
    grouped = [f for m in found for f in m.findings]
    assert set(audit(network, spoilt)) <= set(grouped)
    left = audit(network, applied(network, spoilt, found))
    assert set(left) == {f for m in found if not m.moves for f in m.findings}


def test_the_exact_answer_is_never_less_than_the_float_and_is_proved_by_trying_all_starts() -> None:
    network = plain_network([3, 3, 2, 1], [(0, 3)], horizon=40, resources=(Resource("r", "Crew", ResourceKind.CREW),))
    network = replace(network, activities=tuple(replace(a, needs=(("r", 1),)) for a in network.activities))
    schedule = dated(network, a0=0, a3=3, a1=4, a2=7)
    kept = floats(network, schedule)
    # One crew, nine ticks of work, done by nine: each may come last, but what others wait for.
    assert {a: kept[a].late_finish for a in "0123"} == {"0": 3, "1": 7, "2": 9, "3": 4}
    assert {a: latest_finish(network, schedule, a).finish for a in "0123"} == {"0": 8, "1": 9, "2": 9, "3": 9}
    assert all(latest_finish(network, schedule, a).proved for a in "0123")


def test_the_exact_answer_keeps_every_rule_and_the_finish() -> None:
    network = trench_network(3, 1)
    schedule = generate(network)
    assert schedule is not None
    for activity in ("power0", "look1", "shade2"):
        latest = latest_finish(network, schedule, activity)
        assert not audit(network, latest.schedule)
        assert latest.schedule.finish <= schedule.finish
        assert latest.schedule.dates[activity][1] == latest.finish
        assert floats(network, schedule)[activity].late_finish <= latest.finish <= latest.bound


def test_a_link_that_comes_too_late_is_mended_by_moving_what_came_first() -> None:
    network = plain_network([1, 4, 1], [(1, 2)])
    network = replace(network, links=(*network.links, Link("stale", "0", "2", lag=3, at_most=True)))
    (mend,) = mends(network, dated(network, a0=0, a1=4, a2=8)).steps
    assert [(m.activity, m.after) for m in mend.moves] == [("0", (4, 5))]
