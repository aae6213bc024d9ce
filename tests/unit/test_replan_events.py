"""What each kind of event does to the plan that follows, on the small invented site; dates worked out by hand.

Crew Monday to Friday 7:00-15:30; the city looks on Monday, Wednesday and Friday mornings and asks for a
working day of notice; the power utility works Monday to Thursday and asks for three.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from importlib import import_module
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

import scheduler
from scheduler import Case
from scheduler.assembly import plan_of
from scheduler.audit import audit
from scheduler.dates_csv import read_dates
from scheduler.ledger.events import (
    Delayed,
    Event,
    Finished,
    HoldReleased,
    InspectionFailed,
    InspectionPassed,
    RemainingReported,
    Started,
    TicketAnswered,
    VisitBooked,
    VisitCancelled,
)
from scheduler.ledger.ground_events import CoverReported, Rained
from scheduler.ledger.store import Entry
from scheduler.plan import Plan, PlanActivity
from scheduler.replan.least_moved import least_moved
from scheduler.replan.replan_records import Aim, Replanning
from scheduler.schedule import Schedule
from scheduler.solve.outcome import Options, Outcome, StageReport, Status
from tests.happenings import as_planned, entries
from tests.small_site import SMALL_SITE, SMALL_SITE_DATES, damaged

QUICK = Options(start_effort=0.05, finish_effort=0.2, exposure_effort=0.02, money_effort=0.02, free_margin=0)


def june(day: int, hour: int = 0, minute: int = 0) -> datetime:
    return datetime(2026, 6, day, hour, minute, tzinfo=ZoneInfo("America/Denver"))


class Story:
    """A site with its plan, and what is reported on it.

    The plan is one of many good ones, kept in a file: what is worked out by hand below must not
    depend on which of them is found.
    """

    def __init__(self, folder: Path, text: str = SMALL_SITE) -> None:
        (folder / "small.yaml").write_text(text, encoding="utf-8")
        self.case: Case = scheduler.load(folder / "small.yaml")
        network = self.case.network
        if text == SMALL_SITE:
            outcome = Outcome(Status.FEASIBLE, read_dates(SMALL_SITE_DATES, network))
            assert outcome.schedule is not None
            assert audit(network, outcome.schedule) == []
            self.before: Plan = plan_of(network, outcome, site=self.case.reference)
        else:
            self.before = scheduler.plan(self.case, QUICK).plan

    def planned(self, activity: str) -> PlanActivity:
        return next(a for a in self.before.activities if a.id == activity)

    def said(self, as_of: datetime) -> list[Entry]:
        """Return the journal when all went by the plan until a moment."""
        return entries(as_planned(self.case, self.before, as_of))

    def after(self, as_of: datetime, *more: Event, without: tuple[str, ...] = ()) -> Replanning:
        """Plan again when all went by the plan, but for events left out that name some ids, and some more."""
        said = [(at, e) for at, e in as_planned(self.case, self.before, as_of) if not any(w in str(e) for w in without)]
        found = scheduler.replan(
            self.case, entries([*said, *((as_of, e) for e in more)]), as_of, before=self.before, options=QUICK
        )
        for alternative in found.alternatives:
            assert audit(alternative.network, alternative.schedule) == []
        assert bool(found.alternatives) != bool(found.conflicts)
        return found


@pytest.fixture(scope="module")
def story(tmp_path_factory: pytest.TempPathFactory) -> Story:
    return Story(tmp_path_factory.mktemp("small"))


def rows(found: Replanning, aim: Aim = Aim.SOONEST) -> dict[str, PlanActivity]:
    alternative = found.serving(aim)
    assert alternative is not None
    return {a.id: a for a in alternative.plan.activities}


def test_when_all_goes_by_the_plan_nothing_moves_and_nothing_is_gained(story: Story) -> None:
    found = story.after(june(17, 12))
    (keep,) = [a for a in found.alternatives if Aim.KEEP in a.aims]
    assert keep.moves == ()
    assert keep.later_by_minutes == 0


def test_a_failed_look_is_mended_and_looked_at_again_after_notice(story: Story) -> None:
    look = "look/I1/R1/L1"
    as_of = story.planned(look).finish
    failed = InspectionFailed(looks=(look,), inspector="eye", faults="joint dry", repair_hours=3, when=as_of)
    found = story.after(as_of, failed, without=(look.removeprefix("look/"),))
    for aim in Aim:
        now = rows(found, aim)
        repair = now["repair/I1/R1/L1/1"]
        assert repair.work_minutes == 180
        assert repair.start >= as_of
        assert now[look].start >= max(repair.finish, june(19, 8)), "the next city morning after a day of notice"
        assert now["R1:2/L1/shade"].start >= now[look].finish
    assert "joint dry" in next(m.buys for m in found.alternatives[0].moves if m.activity == look)


def test_after_rain_the_competent_person_looks_before_anyone_goes_in(story: Story) -> None:
    """29 CFR 1926.651(k)(1): inspections are made after every rainstorm, before exposure of employees."""
    as_of = june(17, 7)
    found = story.after(as_of, Rained(start=june(16, 16), until=june(17, 5)))
    now = rows(found)
    for reach in ("R1", "R3"):
        look = now[f"rain/{reach}"]
        assert look.start >= as_of
        assert "1926.651(k)(1)" in look.source
        inside = [a for a in now.values() if a.reach == reach and a.start >= as_of and a.id != look.id]
        assert len(inside) > 3
        assert all(a.start >= look.finish for a in inside)
    assert "rain/R2" not in now, "not dug yet"
    done = story.after(
        as_of, Rained(start=june(16, 16), until=june(17, 5)), Finished(activity="rain/R1", when=june(17, 6, 50))
    )
    assert "rain/R1" not in rows(done)
    assert "rain/R3" in rows(done)


def test_a_pass_without_its_release_asks_for_the_release(story: Story) -> None:
    hold = "hold/I1/R1/L0"
    as_of = story.planned("look/I1/R1/L0").finish
    found = story.after(as_of, without=(hold,))
    calls = [c for c in found.alternatives[0].calls if c.id == f"release/{hold}"]
    assert len(calls) == 1
    assert calls[0].to.startswith("V. Sample")
    (point,) = [h for h in found.alternatives[0].plan.holds if h.id == hold]
    assert point.planned_release is not None
    assert point.planned_release >= as_of
    given = HoldReleased(hold=hold, person="eye", role="inspector", evidence="seen", when=as_of)
    assert not [c for c in story.after(as_of, given).alternatives[0].calls if c.id.startswith("release/")]


def test_digging_waits_where_an_owner_has_not_finished_marking(story: Story) -> None:
    as_of = june(12, 6, 30)
    answer = TicketAnswered(ticket="T1", who="Sample Gas", answer="not_complete", when=as_of)
    now = rows(story.after(as_of, answer))
    assert all(now[f"{r}/dig"].start >= june(15, 7) for r in ("R1", "R2", "R3"))
    clear = TicketAnswered(ticket="T1", who="Sample Gas", answer="clear", when=as_of)
    assert rows(story.after(as_of, answer, clear))["R1/dig"].start == june(12, 7)


def test_a_firm_booking_holds_in_every_alternative_and_vanishes_when_called_off(story: Story) -> None:
    as_of = june(17, 12)
    booked = VisitBooked(visit="tie", of="U1", start=june(24, 9), firm=True)
    found = story.after(as_of, booked)
    assert all(rows(found, aim)["outside/U1"].start == june(24, 9) for aim in Aim)
    freed = story.after(as_of, booked, VisitCancelled(visit="tie"))
    assert rows(freed)["outside/U1"].start < june(24, 9) or rows(freed)["outside/U1"].start > june(24, 9)


def test_an_appointment_inside_its_notice_stays_and_a_new_one_waits_for_the_notice(story: Story) -> None:
    """On Wednesday the 17th three working days reach to Tuesday the 23rd; the one on Monday the 22nd stands."""
    as_of = june(17, 12)
    assert story.planned("outside/U1").start == june(22, 11, 30)
    assert rows(story.after(as_of), Aim.KEEP)["outside/U1"].start == june(22, 11, 30)
    late = Delayed(who="Sample Power", not_before=june(22, 13), about=("outside/U1",))
    told = VisitBooked(visit="BK1", of="U1", start=june(22, 11, 30))
    moved = story.after(as_of, told, late)
    assert all(rows(moved, aim)["outside/U1"].start >= june(23, 8) for aim in Aim)
    calls = [c for c in moved.alternatives[0].calls if c.about == "Tie-in at the pole"]
    assert [c.in_notice for c in calls] == [True]
    assert any("cannot come before Mon 22 Jun 13:00" in n for n in moved.notes)
    untold = story.after(as_of, late)
    assert all(rows(untold, aim)["outside/U1"].start >= june(23, 8) for aim in Aim)
    calls = [c for c in untold.alternatives[0].calls if c.about == "Tie-in at the pole"]
    assert [(c.was, c.in_notice) for c in calls] == [(june(30, 9), False)], "nobody told them of the 22nd"


def test_what_lies_covered_before_its_release_stands_in_every_plan(story: Story) -> None:
    as_of = june(17, 7, 30)
    early = CoverReported(alignment="M", from_ft=0, to_ft=100, when=as_of)
    found = story.after(as_of, early)
    for alternative in found.alternatives:
        assert any(f.rule == "hold/covered" and f.severity == "stop" for f in alternative.plan.findings)
    assert not any(f.rule == "hold/covered" for a in story.after(as_of).alternatives for f in a.plan.findings)


def test_work_in_progress_keeps_its_start_and_what_is_left_of_it(story: Story) -> None:
    as_of = june(18, 7, 30)
    left = RemainingReported(activity="R2/dig", hours=2, when=as_of)
    now = rows(story.after(as_of, left), Aim.KEEP)["R2/dig"]
    assert (now.start, now.finish) == (june(18, 7), june(18, 9, 30))
    now = rows(story.after(as_of), Aim.KEEP)["R2/dig"]
    assert (now.start, now.finish) == (june(18, 7), story.planned("R2/dig").finish)


def test_what_came_before_work_that_has_begun_is_taken_as_done_but_never_a_look(story: Story) -> None:
    as_of = june(17, 12)
    found = story.after(as_of, without=("R1/bed", "look/I1/R1/L0", "hold/I1/R1/L0"))
    assert "R1/bed" in found.frozen
    assert [(t.activity, t.trade) for t in found.taken_as_done] == [("R1/bed", "Sample Ditching")]
    assert "Bed Main run" in found.taken_as_done[0].name
    assert not any("Taken as done" in n for n in found.notes), "said once, and first"
    assert "look/I1/R1/L0" not in found.frozen
    assert rows(found)["look/I1/R1/L0"].start >= as_of


def test_reports_that_make_no_sense_are_named_and_stop_nothing(story: Story) -> None:
    as_of = june(18, 12)
    found = story.after(
        as_of,
        Finished(activity="R2/bed", when=june(18, 8)),
        Started(activity="R2/bed", when=june(18, 9)),
        Finished(activity="no/such", when=june(18, 8)),
        Started(activity="R2/L0/lay-P1", when=june(25, 8)),
        Finished(activity="look/I1/R2/L0", when=june(18, 9)),
        VisitBooked(visit="v", of="nobody", start=june(25, 8)),
        Delayed(who="somebody", not_before=june(25, 8)),
    )
    text = "\n".join(found.notes)
    for words in ("lies after its finish", "'no/such'", "a time after this moment", "no result is reported"):
        assert words in text
    assert "nothing in this job is theirs" in text
    assert "nothing is left for it" in text


def test_a_pass_that_lapses_while_the_crew_is_away_is_looked_at_again(tmp_path: Path) -> None:
    story = Story(tmp_path, damaged(("    fee: 120\n", "    fee: 120\n    pass_valid_days: 3\n")))
    look = "look/I1/R1/L0"
    as_of = story.planned(look).finish
    found = story.after(as_of, Delayed(who="gc", not_before=june(26, 7)))
    now = rows(found)
    assert now[look].start > june(22)
    assert "lapses" in next(m.buys for m in found.alternatives[0].moves if m.activity == look)


def test_a_target_that_cannot_be_kept_is_named_and_planned_past(story: Story) -> None:
    late = Delayed(who="wire", not_before=datetime(2026, 7, 21, 8, tzinfo=ZoneInfo("America/Denver")))
    found = story.after(june(17, 12), late)
    assert any("cannot be kept any more" in n for n in found.notes)
    assert all(a.finish > datetime(2026, 7, 21, tzinfo=ZoneInfo("America/Denver")) for a in found.alternatives)


def test_where_there_is_no_plan_the_rules_that_clash_are_named(story: Story) -> None:
    never = Delayed(who="wire", not_before=datetime(2027, 7, 21, 8, tzinfo=ZoneInfo("America/Denver")))
    found = story.after(june(17, 12), never)
    assert "said they cannot come before" in " ".join(m.because for c in found.conflicts for m in c.members)
    past = story.after(datetime(2027, 7, 21, 8, tzinfo=ZoneInfo("America/Denver")))
    assert "Working hours are known until" in past.conflicts[0].members[0].because


def test_the_second_look_costs_its_fee(story: Story) -> None:
    """The site asks 90 for looking again; the plans are otherwise measured alike."""
    look = "look/I1/R1/L1"
    as_of = story.planned(look).finish
    names = (look.removeprefix("look/"),)
    failed = InspectionFailed(looks=(look,), inspector="eye", faults="wet", when=as_of)
    passed = InspectionPassed(looks=(look,), inspector="eye", when=as_of)
    released = HoldReleased(hold="hold/I1/R1/L1", person="eye", role="inspector", evidence="seen", when=as_of)
    again, once = story.after(as_of, failed, without=names), story.after(as_of, passed, released, without=names)
    assert again.serving(Aim.COST).cost >= once.serving(Aim.COST).cost + 90  # type: ignore[union-attr]


def test_a_plan_that_the_audit_finds_broken_is_not_handed_out(story: Story, monkeypatch: pytest.MonkeyPatch) -> None:
    """One aim's search is made to return damaged dates; every alternative is audited, and that one does not come."""
    as_of = june(17, 12)
    damaged_plans: list[Schedule] = []

    def broken(*arguments: Any) -> tuple[Schedule, list[StageReport]]:
        plan, stages = least_moved(*arguments)
        first = max(plan.dates, key=lambda a: plan.dates[a])
        start, finish = plan.dates[first]
        damaged_plans.append(replace(plan, dates={**plan.dates, first: (start - 400, finish - 400)}))
        return damaged_plans[-1], stages

    monkeypatch.setattr(import_module("scheduler.replan.aims"), "least_moved", broken)
    found = story.after(as_of, Delayed(who="elec", not_before=june(22, 7)))
    assert damaged_plans
    assert all(audit(a.network, p) for a in found.alternatives for p in damaged_plans)
    assert not any(a.schedule in damaged_plans for a in found.alternatives)
    assert found.alternatives
