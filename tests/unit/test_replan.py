"""A utility slips four working days with the trench half dug: alternatives, the past, appointments, calls."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

import pytest

import scheduler
from scheduler import Case, as_planned, bundled_sites
from scheduler.audit import audit
from scheduler.ledger.events import Delayed, PlanAccepted
from scheduler.ledger.store import Entry
from scheduler.plan import Plan, PlanActivity, plan_json, plan_read
from scheduler.replan.replan_records import Aim, Alternative, Replanning
from scheduler.situation.job import job_of
from scheduler.situation.reopened import reopened
from scheduler.solve.outcome import Options, Status
from scheduler.solve.run import solve
from tests.happenings import as_planned as happened_as_planned
from tests.happenings import entries

QUICK = Options(start_effort=0.3, finish_effort=0.5, exposure_effort=0.1, money_effort=0.1)
TIE_IN = "outside/tie-in"


class Slip:
    """The small site, its plan, what was reported until half the trench was dug, and the answer."""

    def __init__(self) -> None:
        self.case: Case = scheduler.load(bundled_sites()["orchard-lane"])
        self.before: Plan = scheduler.plan(self.case, QUICK).plan
        digs = sorted((a for a in self.before.activities if a.kind == "dig"), key=lambda a: a.start)
        middle = digs[len(digs) // 2].start
        dig = min((d for d in digs if not self._at_work_beside(d)), key=lambda d: abs(d.start - middle))
        self.as_of: datetime = dig.start + timedelta(minutes=20, seconds=7)
        self.tie_in = next(a for a in self.before.activities if a.id == TIE_IN).start
        self.not_before = self.tie_in + timedelta(days=6)  # Wednesday to Tuesday: four working days of Mon-Thu crews
        late = Delayed(who="s-wirth", not_before=self.not_before, about=(TIE_IN,), why="storm work elsewhere")
        said = [*happened_as_planned(self.case, self.before, self.as_of), (self.as_of, late)]
        self.entries: list[Entry] = entries(said)
        self.found: Replanning = scheduler.replan(
            self.case, self.entries, self.as_of, before=self.before, options=QUICK
        )

    def _at_work_beside(self, dig: PlanActivity) -> list[str]:
        """Return what else is in hand 20 minutes after a dig began: its rest would be moved too."""
        when = dig.start + timedelta(minutes=20)
        return [a.id for a in self.before.activities if a.id != dig.id and a.start <= when < a.finish]

    def serving(self, aim: Aim) -> Alternative:
        found = self.found.serving(aim)
        assert found is not None
        return found


@pytest.fixture(scope="module")
def slip() -> Slip:
    return Slip()


def test_every_aim_is_served_by_a_plan_that_audits_clean(slip: Slip) -> None:
    assert not slip.found.conflicts
    assert not slip.found.impossible
    assert sorted(aim for a in slip.found.alternatives for aim in a.aims) == sorted(Aim)
    for alternative in slip.found.alternatives:
        assert audit(alternative.network, alternative.schedule) == []
        assert as_planned(slip.case, alternative).broken == ()
    schedules = [a.schedule for a in slip.found.alternatives]
    assert all(a != b for i, a in enumerate(schedules) for b in schedules[:i])
    merged = [aim for a in slip.found.alternatives for aim in a.aims[1:]]
    assert all(any(f"'{aim}' comes to the same plan" in n for n in slip.found.notes) for aim in merged)


def test_the_past_is_what_was_reported_to_the_second(slip: Slip) -> None:
    reported: dict[str, dict[str, datetime]] = {}
    for entry in slip.entries:
        if entry.event.name in ("started", "finished"):
            reported.setdefault(entry.event.activity, {})[entry.event.name] = entry.event.when  # type: ignore[union-attr]
    assert sum("finished" in r for r in reported.values()) > 10
    for alternative in slip.found.alternatives:
        rows = {a.id: a for a in alternative.plan.activities}
        for id_, times in reported.items():
            assert rows[id_].start == times["started"]
            if "finished" in times:
                assert rows[id_].finish == times["finished"]
                assert id_ in slip.found.frozen
        for row in alternative.plan.activities:
            if row.id not in reported and row.id not in slip.found.frozen and row.work_minutes:
                assert row.start >= slip.as_of, row.id
        assert alternative.plan.data_date == slip.as_of


def test_a_plan_read_back_from_its_file_keeps_every_rule_of_the_job_as_the_journal_tells_it(slip: Slip) -> None:
    for alternative in slip.found.alternatives:
        accepted = PlanAccepted(plan="0" * 64, data_date=alternative.plan.data_date)
        last = Entry(len(slip.entries) + 1, slip.as_of, "test", accepted, "", "")
        plan = plan_read(plan_json(alternative.plan))
        found = reopened(slip.case.site, slip.case.network, [*slip.entries, last], accepted, plan)
        assert found is not None
        assert audit(*found) == []
        assert found[1].finish == alternative.schedule.finish


def test_keeping_every_booking_moves_none_that_can_still_be_kept(slip: Slip) -> None:
    """What the delayed tie-in leads to must move; the appointments of everybody else stay where they were."""
    keep = slip.serving(Aim.KEEP)
    now = {a.id: a.start for a in keep.plan.activities}
    led_to = _all_after(slip, TIE_IN) | {TIE_IN}
    others = [
        a
        for a in slip.before.activities
        if a.kind in ("inspect", "outside work", "cutover", "remove") and a.start > slip.as_of and a.id not in led_to
    ]
    assert len(others) >= 5
    for activity in others:
        if activity.kind == "inspect":
            assert now[activity.id].date() == activity.start.date(), activity.name
        else:
            assert now[activity.id] == activity.start, activity.name
    assert keep.proved[Aim.KEEP]
    assert now[TIE_IN] >= slip.not_before


def _all_after(slip: Slip, activity: str) -> set[str]:
    waits = [(k.before, k.after) for k in slip.case.network.links]
    waits += [(h.look, g) for h in slip.case.network.holds for g in h.gates]
    found, fresh = set(), {activity}
    while fresh:
        fresh = {b for a, b in waits if a in fresh} - found
        found |= fresh
    return found


def test_fewest_calls_is_least_because_each_that_moves_must_move_in_any_plan(slip: Slip) -> None:
    calls = slip.serving(Aim.CALLS)
    job = job_of(slip.case.site, slip.case.network, slip.entries, slip.as_of, slip.before)
    moved = [c for c in calls.calls if c.was is not None and c.of in {p.of for p in job.parties}]
    known = {a.id: a for a in [*(f.appointment for f in job.fallen), *job.standing]}
    assert [c.about for c in moved] == ["Tie in at the new pole"]
    assert calls.proved[Aim.CALLS]
    for call in moved:
        appointment = known[call.id.removeprefix("move/")]
        alone = replace(job.network, bookings=(appointment.booking(job.network, firm=True),))
        assert solve(alone, Options(only_finish=True)).status is Status.INFEASIBLE
    for alternative in slip.found.alternatives:
        assert len([c for c in alternative.calls if c.was is not None and c.on_record]) >= len(moved)


def test_the_other_aims_get_what_they_ask_for(slip: Slip) -> None:
    soonest, cheapest = slip.serving(Aim.SOONEST), slip.serving(Aim.COST)
    assert all(soonest.finish <= a.finish for a in slip.found.alternatives)
    assert all(cheapest.cost <= a.cost for a in slip.found.alternatives)
    assert soonest.proved[Aim.SOONEST]
    for a in slip.found.alternatives:
        assert slip.before.finish is not None
        assert a.later_by_minutes == (a.finish - slip.before.finish).total_seconds() / 60


def test_nothing_moves_without_a_reason_and_most_stays_where_only_dates_must_hold(slip: Slip) -> None:
    for alternative in slip.found.alternatives:
        before = {a.id: (a.start, a.finish) for a in slip.before.activities}
        moved = {m.activity for m in alternative.moves}
        assert all(m.buys for m in alternative.moves)
        for row in alternative.plan.activities:
            if row.work_minutes and row.id not in slip.found.frozen:
                assert (row.id in moved) == (before[row.id] != (row.start, row.finish)), row.id
    # By hand: the tie-in, two pieces of work on the stretch kept open for it with their look between and the lifts,
    # the final look, meter, power, cutover and removal follow it; the rest of the dig in hand may be read as moved.
    assert len(slip.serving(Aim.KEEP).moves) <= 14


def test_the_call_to_make_says_who_from_when_to_when(slip: Slip) -> None:
    (call,) = [c for c in slip.serving(Aim.KEEP).calls if c.was is not None and c.of == "tie-in"]
    assert call.to.startswith("Sam Wirth, Sorrel Valley Power")
    assert call.was == slip.tie_in.replace(day=18, hour=8, minute=0), (
        "what they know is the booking, not what a plan made of it"
    )
    assert call.now is not None
    assert call.now >= slip.not_before
    # By hand: a call on Wednesday 10 March leaves the 11th, 15th, 16th, 17th and, from 7:00 on, Thursday the 18th.
    assert call.in_notice == (slip.as_of.day > 10)
    assert "said they cannot come before" in call.text


def test_the_same_question_has_the_same_answer_and_later_entries_do_not_change_it(slip: Slip) -> None:
    later = Delayed(who="s-wirth", not_before=slip.not_before + timedelta(days=9), about=(TIE_IN,))
    after = Entry(len(slip.entries) + 1, slip.as_of + timedelta(seconds=1), "test", later, "", "")
    again = scheduler.replan(slip.case, [*slip.entries, after], slip.as_of, before=slip.before, options=QUICK)
    assert [plan_json(a.plan) for a in again.alternatives] == [plan_json(a.plan) for a in slip.found.alternatives]
    assert [a.moves for a in again.alternatives] == [a.moves for a in slip.found.alternatives]
    assert again.notes == slip.found.notes


def test_where_not_all_appointments_can_stay_every_aim_has_a_plan_that_says_what_gave(slip: Slip) -> None:
    monday = slip.before.data_date.replace(day=8, hour=7)
    noon = slip.before.data_date.replace(day=2, hour=12)
    late = Delayed(who="plumber", not_before=monday, why="their pipe is late")
    said = [*happened_as_planned(slip.case, slip.before, noon), (noon, late)]
    found = scheduler.replan(slip.case, entries(said), noon, before=slip.before, options=QUICK)
    assert not found.impossible
    for alternative in found.alternatives:
        assert audit(alternative.network, alternative.schedule) == []
        plumber = [a for a in alternative.plan.activities if a.trade == "plumber" and a.start >= noon]
        assert min(a.start for a in plumber) >= monday
    keep = found.serving(Aim.KEEP)
    assert keep is not None
    assert "Not all can be kept. What had to give: " in keep.proofs[Aim.KEEP]
    assert "planned visit" in keep.proofs[Aim.KEEP], "the look at water that has no plumber yet"
