"""Contingency: who gets it, how it is shared out, and that a plan's margin is checked by the audit."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from random import Random

import pytest

import scheduler
from scheduler import BadInput, Case, bundled_sites
from scheduler.cli import main
from scheduler.network.contingency import shared_out, takes_contingency, with_contingency
from scheduler.network.kind import Kind
from scheduler.plan import plan_json, plan_read, write_plan
from scheduler.solve.outcome import Options

QUICK = Options(start_effort=0.3, finish_effort=0.3, exposure_effort=0.05, money_effort=0.05, conflict_effort=0.1)


@cache
def small() -> Case:
    return scheduler.load(bundled_sites()["orchard-lane"])


@cache
def with_margin() -> str:
    """Return the text of a plan of the small site with a margin of 10 %."""
    return plan_json(scheduler.plan(small().with_margin(10), QUICK).plan)


def test_shares_are_in_proportion_and_none_shrinks_when_there_is_more_to_share():
    assert shared_out([4, 4, 8], 4) == [1, 1, 2]
    assert shared_out([1, 1, 1, 1], 2) == [1, 1, 0, 0]
    assert shared_out([], 3) == []
    rng = Random(5)
    for _ in range(50):
        works = [rng.randint(1, 20) for _ in range(rng.randint(1, 8))]
        shares = [shared_out(works, total) for total in range(sum(works))]
        assert [sum(s) for s in shares] == list(range(sum(works)))
        assert all(a <= b for one, more in pairwise(shares) for a, b in zip(one, more, strict=True))
        for total, share in enumerate(shares):
            due = [w * total / sum(works) for w in works]
            assert all(abs(s - d) < 1 + max(works) / min(works) for s, d in zip(share, due, strict=True))


@pytest.mark.parametrize("name", ["orchard-lane", "lantern-street"])
def test_each_partys_work_of_each_kind_gets_its_percentage_rounded_up_and_nobody_elses_is_touched(name: str):
    plain = scheduler.load(bundled_sites()[name]).network
    wide = with_contingency(plain, 15)
    assert wide.margin_percent == 15
    totals: dict[tuple[str, Kind], list[int]] = {}
    for before, after in zip(plain.activities, wide.activities, strict=True):
        assert after.work == before.work + after.contingency
        if takes_contingency(before):
            total = totals.setdefault((before.trade, before.kind), [0, 0])
            total[0] += before.work
            total[1] += after.contingency
            assert ("Contingency:" in after.because) == (after.contingency > 0)
        else:
            assert after == before
    assert totals
    assert all(extra == -(-work * 15 // 100) for work, extra in totals.values())
    assert not any(kind.by_others for _, kind in totals)


def test_more_percent_never_shortens_anything_and_less_changes_nothing():
    plain = small().network
    stages = [with_contingency(plain, p) for p in range(0, 55, 5)]
    for less, more in pairwise(stages):
        assert all(a.work <= b.work for a, b in zip(less.activities, more.activities, strict=True))
        # From the one that is stretched already, or from the plain one: the same durations.
        again = with_contingency(less, more.margin_percent)
        assert [a.work for a in again.activities] == [a.work for a in more.activities]
        assert [a.because for a in again.activities] == [a.because for a in more.activities]
    assert with_contingency(stages[4], 10) is stages[4]


def test_a_plan_says_its_margin_and_the_audit_judges_its_dates_by_it():
    plan = plan_read(with_margin())
    assert plan.margin_percent == 10
    assert sum(a.contingency_minutes for a in plan.activities) > 0
    assert not any(a.contingency_minutes for a in plan.activities if a.kind.by_others)
    assert scheduler.audit(small(), plan) == []
    assert scheduler.dates_of(small(), plan).finish == small().network.clock.tick(plan.finish)  # type: ignore[arg-type]


def test_a_plan_that_claims_more_margin_or_less_than_its_dates_have_is_found_out():
    for claimed in (0, 5, 15, 40):
        data = json.loads(with_margin())
        data["margin_percent"] = claimed
        found = scheduler.audit(small(), plan_read(json.dumps(data)))
        assert {f.rule for f in found} & {"activity/duration", "plan/work"}, claimed
        assert any(f.rule == "plan/work" and "contingency minutes" in f.found for f in found), claimed
    data = json.loads(with_margin())
    row = next(a for a in data["activities"] if a["contingency_minutes"])
    row["contingency_minutes"] += 30
    assert [f.rule for f in scheduler.audit(small(), plan_read(json.dumps(data)))] == ["plan/work"]


def test_a_margin_that_nobody_plans_is_refused_with_its_place(tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    for margin in (-5, 10**9, "much"):
        data = json.loads(with_margin())
        data["margin_percent"] = margin
        file = tmp_path / "plan.json"
        file.write_text(json.dumps(data), encoding="utf-8")
        assert main(["audit", str(bundled_sites()["orchard-lane"]), str(file)]) == 2
        assert "margin_percent" in capsys.readouterr().err


def test_whoever_reads_a_plan_with_margin_takes_the_work_as_long_as_the_plan_has_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
):
    case, plan = small(), plan_read(with_margin())
    file = tmp_path / "plan.json"
    write_plan(plan, file)
    site = str(bundled_sites()["orchard-lane"])
    assert main(["audit", site, str(file)]) == 0, capsys.readouterr()
    moment = plan.data_date.replace(hour=12)
    found = scheduler.replan(case, [], moment, before=plan, options=QUICK)
    assert found.alternatives
    for alternative in found.alternatives:
        assert alternative.plan.margin_percent == 10
        assert scheduler.as_planned(case, alternative).broken == ()
        late = {a.id: a.work_minutes for a in alternative.plan.activities}
        assert all(late[a.id] == a.work_minutes for a in plan.activities)
    situation = scheduler.today(case, [], moment, scheduler.Planned(case.fitting(plan), plan, None, ()))
    assert situation.network is case.with_margin(10).network


def test_a_site_that_wants_no_more_than_it_has_is_the_same_case():
    case = small()
    assert case.with_margin(0) is case
    assert case.with_margin(15) is case.with_margin(15)
    with pytest.raises(BadInput):
        scheduler.audit(case, plan_read(with_margin()).model_copy(update={"activities": []}))


def test_a_site_file_may_want_margin_by_trade_and_by_kind_and_says_so_of_every_plan():
    wanted = "margin: {percent: 10, by_trade: {electrician: 20}, by_kind: {dig: 30}}\n"
    text = bundled_sites()["orchard-lane"].read_text(encoding="utf-8")
    case = scheduler.load(text + wanted)
    assert case.network.margin_percent == 10
    work: dict[tuple[str, Kind], list[int]] = {}
    for before, after in zip(small().network.activities, case.network.activities, strict=True):
        if takes_contingency(before):
            both = work.setdefault((before.trade, before.kind), [0, 0])
            both[0] += before.work
            both[1] += after.contingency
    for (trade, kind), (plain, extra) in work.items():
        percent = 30 if kind is Kind.DIG else 20 if trade == "electrician" else 10
        assert extra == -(-plain * percent // 100), (trade, kind)
    more = case.with_margin(25).network
    assert more.margin_percent == 25
    digs = [a for a in more.activities if a.kind is Kind.DIG]
    assert sum(a.contingency for a in digs) == sum(a.contingency for a in case.network.activities if a.kind is Kind.DIG)
    plan = scheduler.plan(case, replace(QUICK, only_finish=True)).plan
    assert plan.margin_percent == 10
    assert scheduler.audit(case, plan) == []


def test_margin_for_no_work_of_the_site_is_refused():
    text = bundled_sites()["orchard-lane"].read_text(encoding="utf-8")
    for wanted in ("by_trade: {plumbers: 10}", "by_kind: {inspect: 10}", "by_kind: {painting: 5}"):
        with pytest.raises(BadInput) as bad:
            scheduler.load(f"{text}margin: {{{wanted}}}\n")
        assert [f.rule for f in bad.value.findings] == ["margin.unknown-work"]
