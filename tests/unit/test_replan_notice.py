"""Nothing is moved to sooner than its people hear of it: trades by their notice, own crews by the next start of work.

Small invented site: Sample Ditching's own crew Monday to Friday 7:00-15:30; Sample Electric, same hours, asks for two
working days. Friday 19 June and Friday 3 July are holidays.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta

import pytest

import scheduler
from scheduler import Case
from scheduler.audit import audit
from scheduler.ledger.events import Delayed, Event, InspectionFailed, VisitBooked
from scheduler.network.model import DateRole
from scheduler.plan import Plan
from scheduler.replan.replan_records import Aim, Move, Replanning
from scheduler.situation.job import job_of
from scheduler.situation.trade_notice import with_trade_notice
from tests.happenings import entries
from tests.small_site import damaged
from tests.unit.test_replan_events import QUICK, Story, june, rows


@pytest.fixture(scope="module")
def story(tmp_path_factory: pytest.TempPathFactory) -> Story:
    return Story(tmp_path_factory.mktemp("small"))


def later(plan: Plan, days: int) -> Plan:
    """Return a plan with everything so many days later: the night before there is plenty to pull forward."""
    shift = timedelta(days=days)
    moved = [a.model_copy(update={"start": a.start + shift, "finish": a.finish + shift}) for a in plan.activities]
    return plan.model_copy(update={"activities": moved})


def again(case: Case, before: Plan, as_of: datetime, *events: Event) -> Replanning:
    found = scheduler.replan(case, entries((as_of, e) for e in events), as_of, before=before, options=QUICK)
    for alternative in found.alternatives:
        assert audit(alternative.network, alternative.schedule) == []
    return found


def test_work_is_pulled_forward_only_to_when_its_people_have_heard(story: Story) -> None:
    """Told on Thursday at noon, the own crew knows on Friday at 7:00, the electricians on Monday at 7:00."""
    found = again(story.case, later(story.before, 7), june(11, 12))
    soonest = rows(found, Aim.SOONEST)
    assert soonest["R1/dig"].start == june(12, 7), "as soon as the own crew can hear of it"
    assert min(a.start for a in soonest.values() if a.trade == "elec") >= june(15, 7)
    assert not any(m.short_notice for a in found.alternatives for m in a.moves)
    dug = next(d for d in found.alternatives[0].network.dates if d.id == "told/R1/L0/lay-P1")
    assert dug.role is DateRole.NOTICE
    assert dug.because == "Sample Electric needs 2 working days of notice to come at another time, counted from " + (
        "Thu 11 Jun 12:00."
    )


def on_site(plan: Plan, trade: str) -> set[date]:
    """The days on which a trade was told to be on site."""
    mine = [a for a in plan.activities if a.trade == trade]
    return {d.date() for a in mine for d in (a.start, a.finish)}


def in_time(move: Move, story: Story, as_of: datetime, known: datetime, *, own: bool) -> bool:
    """Whether a move of Sample Electric's, or of the own crew, leaves time to hear of it."""
    if move.now >= known or move.activity in {a.id for a in story.before.activities if a.start < as_of}:
        return True
    if move.was is None:
        return own or move.now.date() in on_site(story.before, "elec")
    stays = move.was < known and move.now >= move.was
    return stays and (own or move.now.date() in on_site(story.before, "elec"))


@pytest.mark.parametrize(
    ("as_of", "known", "event"),
    [
        (june(15, 12), june(17, 7), Delayed(who="gc", not_before=june(17, 7))),
        (june(16, 9, 30), june(18, 7), Delayed(who="elec", not_before=june(22, 7))),
        (
            june(17, 9),
            june(22, 7),
            InspectionFailed(
                looks=("look/I1/R1/L1",), inspector="eye", faults="joint dry", repair_hours=3, when=june(17, 9)
            ),
        ),
    ],
)
def test_every_move_of_every_way_leaves_time_to_hear_of_it(
    story: Story, as_of: datetime, known: datetime, event: Event
) -> None:
    """`known`: by hand, two working days of the electricians' after the moment."""
    without = ("I1/R1/L1",) if event.name == "inspection_failed" else ()
    found = story.after(as_of, event, without=without)
    next_morning = (as_of + timedelta(days=1)).replace(hour=7, minute=0)
    trades = {a.id: a.trade for a in found.alternatives[0].plan.activities}
    for alternative in found.alternatives:
        for move in alternative.moves:
            if trades[move.activity] == "elec":
                assert in_time(move, story, as_of, known, own=False), move
            if trades[move.activity] == "gc":
                assert in_time(move, story, as_of, next_morning, own=True), move


def test_mending_by_people_who_are_not_on_site_waits_for_their_notice(story: Story) -> None:
    """On Wednesday the 17th the electricians are expected on Thursday and Monday; before, it was fixed at once."""
    failed = InspectionFailed(
        looks=("look/I1/R1/L1",), inspector="eye", faults="joint dry", repair_hours=3, when=june(17, 9)
    )
    found = story.after(june(17, 9), failed, without=("I1/R1/L1",))
    for aim in Aim:
        if found.serving(aim):
            assert rows(found, aim)["repair/I1/R1/L1/1"].start >= june(18, 7)


def test_where_no_plan_gives_the_notice_one_without_says_so(tmp_path_factory: pytest.TempPathFactory) -> None:
    """Nine working days after Thursday 18 June is 2 July; the utility comes, firm, on 30 June, after the conduits."""
    slow = Story(
        tmp_path_factory.mktemp("slow"), damaged(("    notice_days: 2\n    lays", "    notice_days: 9\n    lays"))
    )
    before = later(slow.before, 14)
    booked = VisitBooked(visit="tie", of="U1", start=june(30, 9), firm=True)
    found = again(slow.case, before, june(18, 12), booked)
    assert not found.conflicts
    assert any("the notice they need" in n for n in found.notes)
    for alternative in found.alternatives:
        short = [m for m in alternative.moves if m.short_notice]
        assert short
        assert all(m.trade in ("Sample Electric", "Sample Ditching") for m in short)
    free = again(slow.case, before, june(18, 12))
    assert not any("the notice they need" in n for n in free.notes)
    assert not any(m.short_notice for a in free.alternatives for m in a.moves)


def test_what_is_planned_within_the_notice_may_stay(story: Story) -> None:
    """With nothing reported late, the rest of the plan keeps every rule as it is, on any day."""
    for day in (12, 15, 16, 17, 18, 22, 23):
        as_of = june(day, 9, 50)
        job = job_of(story.case.site, story.case.network, story.said(as_of), as_of, story.before)
        told = with_trade_notice(job.going_on()).with_firm(())
        starts = job.starts_before()
        stays = [a for a in told.activities if a.id in starts and not a.happened and a.id not in job.facts.begun]
        for activity in stays:
            window = told.calendars[activity.calendar].window_at(starts[activity.id])
            assert not activity.work or window is not None, activity.id
            assert all(d.at <= starts[activity.id] for d in told.dates if d.id == f"told/{activity.id}")
