"""What planning promises whoever asks: every plan it makes is audited, and what the audit finds stands in it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache

import pytest

import scheduler
from scheduler import Case, as_planned, bundled_sites
from scheduler.audit import audit
from scheduler.network.model import Network
from scheduler.replan.replan_records import Alternative
from scheduler.schedule import Schedule
from scheduler.solve.outcome import Options, Outcome
from scheduler.solve.run import solve
from tests.damage import Damaged, activity_shortened, cover_before_release, look_without_visit, visit_too_full

QUICK = Options(only_finish=True, start_effort=0.1, finish_effort=0.1)


@cache
def solved() -> tuple[Case, Outcome]:
    case = scheduler.load(bundled_sites()["orchard-lane"])
    return case, solve(case.network, QUICK)


def spoiled(damage: Callable[[Network, Schedule], Damaged | None]) -> tuple[Outcome, str]:
    """Return an outcome with damaged dates, and the rule that they break."""
    case, outcome = solved()
    assert outcome.schedule is not None
    damaged = damage(case.network, outcome.schedule)
    assert damaged is not None
    return replace(outcome, schedule=damaged[0]), damaged[1]


@pytest.mark.parametrize("damage", [activity_shortened, look_without_visit, visit_too_full])
def test_a_plan_that_breaks_a_rule_is_never_handed_over_as_sound(damage, monkeypatch: pytest.MonkeyPatch) -> None:
    case, _ = solved()
    outcome, rule = spoiled(damage)
    monkeypatch.setattr("scheduler.planning.solve", lambda *_: outcome)
    planned = scheduler.plan(case)
    assert planned.schedule == outcome.schedule
    assert rule in {f.rule for f in planned.broken}
    assert {f.rule for f in planned.broken} <= {f.rule for f in planned.plan.findings}


def test_a_sound_plan_is_called_so(monkeypatch: pytest.MonkeyPatch) -> None:
    case, outcome = solved()
    monkeypatch.setattr("scheduler.planning.solve", lambda *_: outcome)
    planned = scheduler.plan(case)
    assert planned.schedule is not None
    assert audit(case.network, planned.schedule) == []
    assert planned.broken == ()
    assert {f.rule for f in planned.plan.findings} == {f.rule for f in case.layout}


def test_an_alternative_opened_as_a_plan_is_audited_too() -> None:
    case, sound = solved()
    outcome, rule = spoiled(cover_before_release)

    def opened(schedule: Schedule | None) -> set[str]:
        fields = dict.fromkeys(Alternative.__dataclass_fields__)
        alternative = Alternative(**{**fields, "network": case.network, "schedule": schedule})  # type: ignore[arg-type]
        return {f.rule for f in as_planned(case, alternative).broken}

    assert opened(sound.schedule) == set()
    assert rule in opened(outcome.schedule)
