"""Plans made on the way, damaged one way at a time: what they say had happened, work begun, slack, gates, finish."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime, timedelta
from functools import cache
from typing import Any

import pytest

import scheduler
from scheduler import BadInput, Case, Finding
from scheduler.ledger.events import Delayed
from scheduler.plan import Plan, plan_json, plan_read
from tests.happenings import as_planned, entries
from tests.unit.test_plan_check import QUICK, moved, sound

Json = dict[str, Any]


def _at_work(plan: Plan, trade: str, moment: datetime) -> bool:
    return any(a.trade == trade and a.start < moment < a.finish for a in plan.activities)


@cache
def again() -> tuple[Case, str]:
    """Return the small site half way, the job as it stood then, with the text of a plan made again."""
    case, text = sound()
    before = plan_read(text)
    long = sorted((a.start, a.finish) for a in before.activities if (a.work_minutes or 0) >= 60 and a.trade)
    moments = (s + timedelta(minutes=30) for s, f in long[len(long) // 2 :] if f - s >= timedelta(hours=1))
    as_of = next(m for m in moments if not _at_work(before, "electrician", m))  # who is away leaves nothing half done
    away = Delayed(who="electrician", not_before=as_of + timedelta(days=4))
    said = entries([*as_planned(case, before, as_of), (as_of, away)])
    chosen = scheduler.replan(case, said, as_of, before=before, options=QUICK).alternatives[0]
    return scheduler.as_planned(case, chosen).case, plan_json(chosen.plan)


def found_in(plan: Json, case: Case | None = None) -> list[Finding]:
    try:
        return scheduler.audit(case or again()[0], plan_read(json.dumps(plan)))
    except BadInput as refused:
        return list(refused.findings)


def done(plan: Json) -> Json:
    """Return a piece of work in the middle of what is done."""
    rows = [a for a in plan["activities"] if any(r["kind"] == "record" for r in a["driven_by"]) and a["work_minutes"]]
    return rows[len(rows) // 2]


def begun(plan: Json) -> Json:
    at = datetime.fromisoformat(plan["data_date"])
    return next(
        a
        for a in plan["activities"]
        if datetime.fromisoformat(a["start"]) < at < datetime.fromisoformat(a["finish"])
        and all(r["kind"] != "record" for r in a["driven_by"])
    )


def ahead(plan: Json) -> Json:
    """Return a piece of work to come that has slack and is not called critical."""
    at = datetime.fromisoformat(plan["data_date"])
    rows = (a for a in plan["activities"] if datetime.fromisoformat(a["start"]) > at and a["kind"] != "milestone")
    return next(a for a in rows if a["total_float_minutes"] and not a["critical"])


def shift(row: Json, *edges: str, **by: float) -> None:
    for edge in edges:
        row[edge] = moved(row[edge], **by)


KINDS: dict[str, tuple[Callable[[Json], object], str]] = {
    "a piece of history moved a day sooner": (lambda p: shift(done(p), "start", "finish", days=-1), "plan/history"),
    "the start of a piece of history moved": (lambda p: shift(done(p), "start", hours=-1), "plan/history"),
    "the end of a piece of history moved": (lambda p: shift(done(p), "finish", minutes=15), "plan/history"),
    "a piece of history moved into time to come": (lambda p: shift(done(p), "finish", days=30), "plan/history"),
    "a piece of history no longer called done": (lambda p: done(p).update(driven_by=[]), "plan/history"),
    "a piece of history called critical": (lambda p: done(p).update(critical=True), "plan/history"),
    "work to come called done": (
        lambda p: ahead(p).update(driven_by=[{"kind": "record", "ref": "x", "because": "It was reported finished."}]),
        "plan/history",
    ),
    "a begun piece with its start changed": (lambda p: shift(begun(p), "start", hours=-1), "plan/history"),
    "a begun piece that ends before the plan was made": (
        lambda p: begun(p).update(finish=moved(p["data_date"], minutes=-15)),
        "plan/history",
    ),
    "the data date before what had happened": (lambda p: shift(p, "data_date", days=-3), "plan/history"),
    "total float that lies": (
        lambda p: ahead(p).update(total_float_minutes=ahead(p)["total_float_minutes"] + 15),
        "plan/slack",
    ),
    "free float that lies": (lambda p: ahead(p).update(free_float_minutes=99_000), "plan/slack"),
    "work with slack called critical": (lambda p: ahead(p).update(critical=True), "plan/slack"),
    "a finish that lies": (lambda p: shift(p, "finish", days=-1), "plan/finish"),
    "emptied gates": (lambda p: [h.update(gates=[]) for h in p["holds"]], "plan/holds"),
    "work to come moved into the past": (lambda p: shift(ahead(p), "start", "finish", days=-21), "plan/history"),
}


@pytest.mark.parametrize("kind", KINDS)
def test_each_kind_of_damage_to_a_plan_made_on_the_way_is_named(kind: str) -> None:
    plan = json.loads(again()[1])
    damage, rule = KINDS[kind]
    damage(plan)
    found = [f for f in found_in(plan) if f.rule == rule]
    assert found, kind
    assert all(f.where and f.found and f.required for f in found)


def test_a_sound_plan_made_on_the_way_has_no_fault_with_or_without_its_job_as_it_stood() -> None:
    plan = json.loads(again()[1])
    assert begun(plan)
    assert found_in(plan) == []
    assert found_in(plan, sound()[0]) == []


@pytest.mark.parametrize(
    "kind",
    [
        "a piece of history moved into time to come",
        "a begun piece that ends before the plan was made",
        "a piece of history called critical",
        "the data date before what had happened",
    ],
)
def test_without_the_journal_what_a_plan_says_against_itself_is_named_all_the_same(kind: str) -> None:
    plan = json.loads(again()[1])
    damage, rule = KINDS[kind]
    damage(plan)
    assert any(f.rule == rule for f in found_in(plan, sound()[0]))
