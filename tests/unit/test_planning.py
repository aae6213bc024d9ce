"""What planning promises whoever asks: every plan it makes is audited, and what the audit finds stands in it."""

from __future__ import annotations

import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from functools import cache
from pathlib import Path

import pytest

import scheduler
from scheduler import Case, as_planned, bundled_sites
from scheduler.accepting import accept, accepted_plan, as_accepted
from scheduler.assembly import plan_of
from scheduler.audit import audit
from scheduler.errors import BadInput
from scheduler.ledger.events import PlanAccepted, Started
from scheduler.network.kind import Kind
from scheduler.network.model import Network
from scheduler.plan import Conflict, ConflictMember, Stage
from scheduler.planning import Planned, add_curve, dates_of, with_covered
from scheduler.replan.replan_records import Alternative
from scheduler.schedule import Schedule
from scheduler.solve.curve import Known
from scheduler.solve.outcome import Options, Outcome, SolvedPoint, Status
from scheduler.solve.run import solve
from tests.damage import (
    activity_left_out,
    activity_shortened,
    cover_before_release,
    dig_before_clear,
    double_booked_crew,
    look_without_visit,
    swap_two_activities,
    visit_too_full,
)
from tests.damaging import Damaged
from tests.happenings import entries

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


@pytest.mark.parametrize(
    "damage",
    [
        activity_left_out,
        activity_shortened,
        cover_before_release,
        dig_before_clear,
        double_booked_crew,
        look_without_visit,
        swap_two_activities,
        visit_too_full,
    ],
)
def test_a_plan_that_breaks_a_rule_is_handed_over_in_words_and_never_as_sound(
    damage, monkeypatch: pytest.MonkeyPatch
) -> None:
    case, _ = solved()
    outcome, rule = spoiled(damage)
    monkeypatch.setattr("scheduler.planning.solve", lambda *_: outcome)
    planned = scheduler.plan(case, with_curve=True)
    assert planned.schedule == outcome.schedule
    assert rule in {f.rule for f in planned.broken}
    assert {f.rule for f in planned.broken} <= {f.rule for f in planned.plan.findings}
    assert all(f.text for f in planned.broken)
    assert all(a.total_float_minutes is None and not a.driven_by for a in planned.plan.activities)
    assert planned.plan.calls == []
    assert planned.plan.curve == []


def test_a_sound_plan_is_called_so(monkeypatch: pytest.MonkeyPatch) -> None:
    case, outcome = solved()
    monkeypatch.setattr("scheduler.planning.solve", lambda *_: outcome)
    planned = scheduler.plan(case)
    assert planned.schedule is not None
    assert audit(case.network, planned.schedule) == []
    assert planned.broken == ()
    assert {f.rule for f in planned.plan.findings if not f.is_of_the_dates} == {f.rule for f in case.layout}


def test_an_alternative_opened_as_a_plan_is_audited_too() -> None:
    case, sound = solved()
    outcome, rule = spoiled(cover_before_release)

    def opened(schedule: Schedule | None) -> set[str]:
        fields = dict.fromkeys(Alternative.__dataclass_fields__)
        alternative = Alternative(**{**fields, "network": case.network, "schedule": schedule})  # type: ignore[arg-type]
        return {f.rule for f in as_planned(case, alternative).broken}

    assert opened(sound.schedule) == set()
    assert rule in opened(outcome.schedule)


def sound(monkeypatch: pytest.MonkeyPatch) -> Planned:
    case, outcome = solved()
    monkeypatch.setattr("scheduler.planning.solve", lambda *_: outcome)
    return scheduler.plan(case)


def test_a_plan_tells_whom_to_call_and_its_dates_are_sound_when_read_back(monkeypatch: pytest.MonkeyPatch) -> None:
    planned = sound(monkeypatch)
    assert planned.plan.calls
    assert dates_of(planned.case, planned.plan).dates == planned.schedule.dates
    assert scheduler.audit(planned.case, planned.plan) == []
    damaged = cover_before_release(planned.case.network, planned.schedule)
    assert damaged[1] in {f.rule for f in scheduler.audit(planned.case, damaged[0])}


def test_a_plan_of_another_job_is_refused_with_twenty_of_the_names_that_are_not_known(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    planned = sound(monkeypatch)
    rows = [planned.plan.activities[0].model_copy(update={"id": f"other/{n}"}) for n in range(25)]
    rows = [*rows, *planned.plan.activities]
    visit = planned.plan.visits[0].model_copy(update={"covers": ["hold/other"]})
    for change, where, found in (
        ({"activities": rows}, "activities", [f"other/{n}" for n in range(20)]),
        ({"visits": [visit]}, "visits", ["hold/other"]),
        ({"renewals": ["other"]}, "renewals", ["other"]),
    ):
        with pytest.raises(BadInput) as refused:
            dates_of(planned.case, planned.plan.model_copy(update=change), file="plan.json")
        assert [(f.where, f.found, f.file) for f in refused.value.findings] == [(where, i, "plan.json") for i in found]


def test_without_a_plan_the_conflict_is_the_smallest_that_can_be_told(monkeypatch: pytest.MonkeyPatch) -> None:
    case, outcome = solved()
    refused = replace(outcome, status=Status.INFEASIBLE, schedule=None, conflict=(("target", "Too early."),))
    told = [Conflict(id="c", members=[ConflictMember(ref="crew", because="Away.")], minimal=True)]
    monkeypatch.setattr("scheduler.planning.solve", lambda *_: refused)
    asked: list[bool] = []

    def explained(*_: object, proved: bool) -> list[Conflict]:
        asked.append(proved)
        return answers.pop(0)

    answers: list[list[Conflict]] = [told, []]
    monkeypatch.setattr("scheduler.planning.explained_conflicts", explained)
    for ref in ("crew", "target"):
        planned = scheduler.plan(case)
        assert (planned.plan.status, planned.schedule) == ("infeasible", None)
        assert [m.ref for c in planned.plan.conflicts for m in c.members] == [ref]
        assert planned.broken == ()
        assert planned.plan.calls == []
    assert asked == [False, False], "all rules are told only where the solver names none"


def test_a_curve_begins_from_the_plan_at_hand_where_that_is_its_first_point(monkeypatch: pytest.MonkeyPatch) -> None:
    planned = sound(monkeypatch)
    stage = Stage(name="exposure", value=40.0, bound=30.0, bound_kind="", unit="", gap=0.25, proved=False, seconds=0)
    staged = replace(planned, plan=planned.plan.model_copy(update={"stages": [stage]}))
    begun: list[Known | None] = []

    def curve(network: Network, slack_days: tuple[float, ...], options: Options, stop: object, known: Known | None, *_):
        begun.append(known)
        assert slack_days == tuple(sorted(set(slack_days)))
        assert (slack_days[0], slack_days[-1]) == (0.0, 2.0), "from the best finish to two days after it"
        return [SolvedPoint(0.0, planned.schedule.finish, 40.0, 30.0, proved=False)]

    monkeypatch.setattr("scheduler.planning.curve", curve)
    made = [add_curve(staged), add_curve(staged, Options(slack_days=1.0)), add_curve(planned)]
    assert begun == [Known(planned.schedule, 40.0, 30.0), None, None]
    assert all([p.exposure_ft_nights for p in m.plan.curve] == [40.0] for m in made)
    stop = threading.Event()
    stop.set()
    assert add_curve(staged, stop=stop) is staged
    undated = replace(planned, schedule=None)
    assert add_curve(undated) is undated
    assert len(begun) == 3


def test_a_plan_is_accepted_kept_and_read_back_and_what_cannot_be_read_is_none(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    planned = sound(monkeypatch)
    fields = dict.fromkeys(Alternative.__dataclass_fields__)
    alternative = Alternative(**{**fields, "plan": planned.plan, "calls": ()})  # type: ignore[arg-type]
    with scheduler.journal(planned.case, str(tmp_path / "job.db")) as journal:
        assert accepted_plan(journal, journal.entries()) is None
        kept = accept(journal, alternative, by="Ruth Amsel", why="As agreed.")
        (entry,) = journal.entries()
        assert (entry.event.plan, entry.event.data_date, entry.event.why) == (
            kept,
            planned.plan.data_date,
            "As agreed.",
        )
        assert accepted_plan(journal, journal.entries()) == planned.plan
        back = as_accepted(planned.case, journal.entries(), entry.event, planned.plan)
        assert back is not None
        assert back.schedule.dates == planned.schedule.dates
        assert back.broken == ()
        other = planned.plan.model_copy(update={"activities": planned.plan.activities[1:]})
        assert as_accepted(planned.case, journal.entries(), entry.event, other) is None
        unread = journal.keep_plan("{}")
        journal.append(PlanAccepted(plan=unread, data_date=planned.plan.data_date), by="Ruth Amsel")
        assert accepted_plan(journal, journal.entries()) is None


def test_a_plan_is_solved_as_asked_and_has_its_curve_only_then(monkeypatch: pytest.MonkeyPatch) -> None:
    case, outcome = solved()
    asked: list[object] = []
    monkeypatch.setattr("scheduler.planning.solve", lambda _, options, *rest: asked.append((options, *rest)) or outcome)
    monkeypatch.setattr("scheduler.planning.curve", lambda *_: [SolvedPoint(0.0, 96, 40.0, 30.0, proved=False)])
    stop, heard = threading.Event(), list[object]()
    assert scheduler.plan(case).plan.curve == []
    assert len(scheduler.plan(case, QUICK, progress=heard.append, stop=stop, with_curve=True).plan.curve) == 1
    first_its_finish = [o for options in (Options(), QUICK) for o in (replace(options, only_finish=True), options)]
    assert [a[0] for a in asked] == first_its_finish
    assert [a[1:3] for a in asked[2:]] == [(heard.append, stop)] * 2
    assert asked[3][3] is outcome, "what was found for the finish is taken over"


def test_what_lies_covered_stands_first_in_a_plan(monkeypatch: pytest.MonkeyPatch) -> None:
    planned = sound(monkeypatch)
    reach = next(a for a in planned.case.network.activities if a.kind is Kind.SHADE)
    moment = planned.plan.data_date + timedelta(days=1)
    early = Started(activity=reach.id, when=planned.plan.data_date)
    told, covered = with_covered(planned, entries([(moment, early)]), moment)
    assert covered
    assert {f.rule for f in covered} == {"hold/covered"}
    assert [f.rule for f in told.plan.findings[: len(covered)]] == ["hold/covered"] * len(covered)
    assert told.plan.findings[len(covered) :] == planned.plan.findings
    assert with_covered(planned, (), moment) == (planned, [])


def test_a_site_may_be_a_file_its_text_or_a_record() -> None:
    path = bundled_sites()["orchard-lane"]
    from_file, from_text = scheduler.load(path), scheduler.load(path.read_text(encoding="utf-8"), path=path)
    from_record = scheduler.load(from_file.site)
    assert from_text == from_file
    assert (from_record.site, from_record.network) == (from_file.site, from_file.network)
    assert from_record.path == path.with_name("site.yaml"), "beside the file it was read from"
    assert scheduler.check(from_record) == scheduler.check(from_file)
    with pytest.raises(scheduler.BadInput) as bad:
        scheduler.load("site: {name: A}\nlines: 3\n", path=path)
    assert len(bad.value.findings) > 2
    assert {f.file for f in bad.value.findings} == {str(path)}


def test_dates_and_papers_of_another_site_are_refused() -> None:
    case, outcome = solved()
    assert outcome.schedule is not None
    made = plan_of(case.network, outcome, site=case.reference)
    assert scheduler.audit(case, made) == scheduler.audit(case, outcome.schedule) == []
    strange = made.model_copy(update={"activities": [made.activities[0].model_copy(update={"id": "no-such-work"})]})
    with pytest.raises(scheduler.BadInput, match="no-such-work"):
        scheduler.audit(case, strange)
    other = made.model_copy(update={"site": made.site.model_copy(update={"sha256": "0" * 64, "content": ""})})
    with pytest.raises(scheduler.BadInput, match="not made from this site"):
        scheduler.export(case, other)
