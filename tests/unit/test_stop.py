"""Whoever stops a search is heard soon, whatever is being worked out at that moment."""

from __future__ import annotations

import threading
import time
from dataclasses import replace

import pytest

import scheduler
from scheduler import bundled_sites
from scheduler.audit import audit
from scheduler.explain.conflicts import conflicts
from scheduler.explain.exact import latest_finish
from scheduler.explain.repairs import repairs
from scheduler.network.model import DateRule, Link, Opening
from scheduler.network.prices import Mobilisation
from scheduler.solve.first_plan.generate import generate
from scheduler.solve.goals import Cost
from scheduler.solve.outcome import Options, Progress
from scheduler.solve.run import solve
from tests.jobs import at, job, task
from tests.unit.test_explain_conflicts import SMALL, STREET, VARIANTS, case, site

SOON = 1.0
"""Seconds of this process within which a search ends that was stopped; others on the machine do not count."""
QUICK = Options(start_effort=0.02, finish_effort=0.1, conflict_effort=0.1)
BUSY = "target a day too early"
"""A variant of which many questions take long."""


class StopAt:
    """Stops a search at its n-th note, and knows how long it has gone on since."""

    def __init__(self, notes: int) -> None:
        self.stop, self.notes, self._left, self._at = threading.Event(), [], notes, 0.0

    def tell(self, note: str) -> None:
        self.notes.append(note)
        if len(self.notes) == self._left:
            self._at = time.process_time()
            self.stop.set()

    @property
    def seconds(self) -> float:
        assert self.stop.is_set(), "it was over before it could be stopped"
        return time.process_time() - self._at


@pytest.mark.parametrize("notes", [1, 3])
def test_a_conflict_being_made_smaller(notes: int) -> None:
    network, proved = case(BUSY)
    at = StopAt(notes)
    (found,) = conflicts(network, tell=at.tell, stop=at.stop)
    assert at.seconds < SOON
    assert not found.minimal, "nothing was proved of it"
    assert set(found.rules) > set(proved[0].rules), "the rules that are left cannot all hold"


def test_ways_out_being_looked_for() -> None:
    network, found = case("target far too early")
    at = StopAt(2)
    ways_out = repairs(network, found, tell=at.tell, stop=at.stop)
    assert at.seconds < SOON
    assert len(ways_out) == len(found)
    assert at.notes[0] == f"0 of {len({r for c in found for r in c.rules})} rules tried"
    assert all(not audit(way.network, way.schedule) for ways in ways_out for way in ways)


def test_a_plan_that_cannot_be_made() -> None:
    spoil = VARIANTS["target far too early"][1]
    at = StopAt(1)

    def progress(told: Progress) -> None:
        if told.stage == "conflicts":
            at.tell(told.note)

    job = scheduler.load(bundled_sites()[SMALL])
    plan = scheduler.plan(replace(job, network=spoil(job.network)), QUICK, progress=progress, stop=at.stop).plan
    assert at.seconds < SOON
    assert plan.status == "infeasible"
    assert plan.conflicts
    assert not any(c.minimal or c.repairs for c in plan.conflicts)


def test_a_stop_before_it_began() -> None:
    network, stop = case(BUSY)[0], threading.Event()
    stop.set()
    began = time.process_time()
    assert conflicts(network, stop=stop) == []
    assert time.process_time() - began < SOON


def test_a_first_plan_ends_with_the_best_so_far() -> None:
    network, stop = site(STREET), threading.Event()
    began = time.process_time()

    def end() -> None:
        while time.process_time() < began + 0.3:
            time.sleep(0.02)
        stop.set()

    threading.Thread(target=end).start()
    plan = generate(network, budget_seconds=60.0, stop=stop)
    assert time.process_time() - began < 0.3 + SOON
    assert plan is not None
    assert not audit(network, plan)


def test_the_latest_finish_of_an_activity_is_the_latest_so_far() -> None:
    network, stop = site(SMALL), threading.Event()
    plan = generate(network, budget_seconds=0.05)
    assert plan is not None
    stop.set()
    activity = min(plan.dates, key=lambda a: plan.dates[a])
    found = latest_finish(network, plan, activity, stop=stop)
    assert found.finish >= plan.dates[activity][1]
    assert not audit(network, found.schedule)


def test_money_stopped_before_all_is_weighed_gives_the_cheapest_plan_seen():
    """Less open trench moves the dig from Monday to Friday, where its party comes once more for 100 dollars."""
    network = job(
        *(task(i) for i in ("other", "dig", "fill")),
        links=(Link("l", "dig", "fill"),),
        dates=(
            DateRule("monday", "other", at(0, 8), sense="fixed"),
            DateRule("friday", "fill", at(4, 14), sense="fixed"),
        ),
        openings=(Opening("o", "R", 40.0, "dig", "fill"),),
        mobilisations=(Mobilisation("m", "m", ("other", "dig"), 100.0, stay_days=1),),
    )
    stop = threading.Event()

    def stop_at_money(progress: Progress) -> None:
        if progress.stage == "money":
            stop.set()

    staged = solve(network, Options(workers=1))
    stopped = solve(network, Options(workers=1, objective="cost"), stop_at_money, stop)
    assert stop.is_set()
    assert staged.schedule is not None
    assert stopped.schedule is not None
    assert (Cost().amount(network, staged.schedule), Cost().amount(network, stopped.schedule)) == (20_000, 10_000)
