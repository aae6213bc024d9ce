"""The margin that costs no later finish: the plan takes it, and a delay uses it up before the finish moves."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from functools import cache

import scheduler
from scheduler import Case, Planned, bundled_sites
from scheduler.ledger.events import Delayed
from scheduler.ledger.store import Entry
from scheduler.plan import plan_json, plan_read
from scheduler.replan.margin_left import with_margin_left
from scheduler.situation.job import job_of
from scheduler.solve.margin import free_margin
from scheduler.solve.outcome import Options, Outcome, StageReport, Status
from scheduler.solve.run import solve
from tests.kept_plans import kept_plan

FINISH_ONLY = Options(only_finish=True)


@cache
def site(name: str) -> Case:
    return scheduler.load(bundled_sites()[name])


@cache
def street(options: Options = FINISH_ONLY) -> Planned:
    return kept_plan(site("lantern-street"), options)


def test_a_plan_takes_the_margin_that_costs_no_later_finish():
    without, plan = street(replace(FINISH_ONLY, free_margin=0)).plan, street().plan
    assert (without.margin_percent, plan.margin_percent) == (0, 10)
    assert plan.finish == without.finish
    assert (plan.status, plan.stages[0].bound) == ("optimal", without.stages[0].bound)
    assert plan.margin is not None
    assert plan.margin.borne_percent >= 10
    assert not street().broken
    assert scheduler.audit(site("lantern-street"), plan_read(plan_json(plan))) == []


def test_what_was_begun_for_its_finish_goes_on_with_its_margin():
    begun = kept_plan(site("orchard-lane").with_margin(10), FINISH_ONLY)
    going_on = replace(FINISH_ONLY, only_finish=False, exposure_effort=0.02, money_effort=0.02)
    plan = scheduler.plan(site("orchard-lane"), going_on, begun=begun).plan
    assert (plan.margin_percent, plan.finish) == (10, begun.plan.finish)


def test_none_is_taken_of_a_finish_that_is_not_proved():
    network = site("lantern-street").network
    begun = replace(solve(network, FINISH_ONLY), status=Status.FEASIBLE)
    assert free_margin(network, begun, FINISH_ONLY) == (0, begun)


def test_none_is_taken_where_the_finish_would_move_or_the_site_file_speaks_of_margin_or_money_decides():
    small = site("orchard-lane")
    assert scheduler.plan(small, FINISH_ONLY).plan.margin_percent == 0, "5 % is proved impossible at its finish"
    spoken = replace(
        site("lantern-street"), site=site("lantern-street").site.model_copy(update={"margin": small.site.margin})
    )
    assert "margin" in spoken.site.model_fields_set
    assert scheduler.plan(spoken, FINISH_ONLY).plan.margin_percent == 0
    assert street(replace(FINISH_ONLY, objective="cost")).plan.margin_percent == 0


def test_what_is_proved_of_the_finish_holds_with_margin_too(monkeypatch):
    """A plan with margin that was made without a proof of its own is as sure as the finish without."""
    network = site("lantern-street").network
    proved = solve(network, FINISH_ONLY)

    def unsure(trial) -> Outcome:
        stage = StageReport("finish", proved.stages[0].value, 1.0, "links and hours", "days", False, 0.0)
        return Outcome(Status.FEASIBLE, proved.schedule, (stage,), 0.0, 1)

    monkeypatch.setattr("scheduler.solve.margin._Trial.outcome", unsure)
    percent, outcome = free_margin(network, proved, FINISH_ONLY)
    assert percent == 10
    assert (outcome.status, outcome.finish_bound) == (Status.OPTIMAL, proved.finish_bound)
    assert outcome.stages[0].proved
    monkeypatch.setattr("scheduler.solve.margin.never_longer", lambda network: False)
    assert free_margin(network, proved, FINISH_ONLY) == (0, proved)


def test_half_is_taken_where_all_is_too_much(monkeypatch):
    network = site("lantern-street").network
    begun = solve(network, FINISH_ONLY)
    monkeypatch.setattr(
        "scheduler.solve.margin._Trial.outcome", lambda t: begun if t.network.margin_percent <= 5 else None
    )
    assert free_margin(network, begun, FINISH_ONLY)[0] == 5


def test_a_delay_uses_the_margin_up_before_the_finish_moves():
    case = site("orchard-lane")
    before = kept_plan(case.with_margin(10), FINISH_ONLY).plan
    options = replace(FINISH_ONLY, conflict_effort=0.0)

    def left(days: float) -> tuple[int, list[str]]:
        now = before.data_date + timedelta(hours=1)
        late = Delayed(who="site-crew", not_before=now + timedelta(days=days))
        said = [Entry(1, now, "test", late, "", "")]
        jobs = [job_of(case.site, case.with_margin(p).network, said, now, before) for p in (10, 5, 0)]
        job, note = with_margin_left(jobs, options)
        return job.network.margin_percent, note

    assert left(0) == (10, [])
    assert left(4.5) == (
        5,
        ["The plan before had 10 % more time in all own work; for the sake of the finish 5 % is left."],
    )
    assert left(8) == (
        0,
        ["The plan before had 10 % more time in all own work; for the sake of the finish none is left."],
    )
