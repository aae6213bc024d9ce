"""For any events, in any order: audited plans, or rules that clash by name; never a traceback, the past untouched."""

from __future__ import annotations

from datetime import timedelta

import pytest

import scheduler
from scheduler import Case
from scheduler.audit import audit
from scheduler.ledger.state import fold, state_at
from scheduler.plan import Plan, PlanActivity
from scheduler.replan.replan_records import Replanning
from scheduler.solve.outcome import Options
from tests.happenings import Chance, as_planned, entries
from tests.small_site import SMALL_SITE

pytestmark = pytest.mark.property

QUICK = Options(start_effort=0.05, finish_effort=0.1, exposure_effort=0.01, money_effort=0.01)
EVENTS = 45


@pytest.fixture(scope="module")
def case(tmp_path_factory: pytest.TempPathFactory) -> Case:
    path = tmp_path_factory.mktemp("small") / "small.yaml"
    path.write_text(SMALL_SITE, encoding="utf-8")
    return scheduler.load(path)


@pytest.fixture(scope="module")
def before(case: Case) -> Plan:
    return scheduler.plan(case, QUICK).plan


@pytest.mark.parametrize("seed", range(10))
def test_events_of_any_kind_give_audited_plans_or_a_named_conflict(case: Case, before: Plan, seed: int) -> None:
    """Odd seeds report a job that goes by its plan with the nonsense in between."""
    first = before.activities[0].start
    said = Chance(case, seed, first, 20).draw(EVENTS)
    if seed % 2:
        # What comes first shifts the numbers that corrections take back, which is as good a nonsense as any.
        said = sorted([*as_planned(case, before, first + timedelta(days=seed)), *said], key=lambda pair: pair[0])
    known = entries(said)
    as_of = known[-1].at + timedelta(minutes=seed)
    found = scheduler.replan(case, known, as_of, before=before, options=QUICK)
    if not found.alternatives:
        assert found.conflicts
        assert all(m.because for c in found.conflicts for m in c.members)
    for alternative in found.alternatives:
        assert audit(alternative.network, alternative.schedule) == []
        assert alternative.finish == alternative.network.clock.when(alternative.schedule.finish)
        _past_is_kept(case, found, alternative.plan.activities)
    half = known[len(known) // 2].at
    assert state_at(known, half) == fold(e for e in known if e.at <= half)
    assert len(said) >= EVENTS


def _past_is_kept(case: Case, found: Replanning, rows: list[PlanActivity]) -> None:
    """What is open starts from now on, what is done ended by now, and nothing is planned twice."""
    ids = [r.id for r in rows]
    assert len(ids) == len(set(ids))
    assert not any(i.endswith("/begun") for i in ids)
    assert {a.id for a in case.network.activities} <= set(ids)
    for row in rows:
        if row.id in found.frozen:
            assert row.finish <= found.as_of
        elif row.work_minutes:
            assert row.finish >= found.as_of, row.id
