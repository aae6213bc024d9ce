"""How each way differs from the plan before, counted once more from the two plans alone."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from types import SimpleNamespace
from typing import cast

import pytest

from scheduler.cli.replan import different
from scheduler.costs import bill
from scheduler.ledger.events import Delayed, InspectionFailed
from scheduler.network.parties import Party
from scheduler.plan import Plan
from scheduler.replan.looking_again import again_left_out, fees_again
from scheduler.replan.replan_records import Aim, Alternative, Replanning
from scheduler.schedule import Schedule
from scheduler.situation.job import StandingJob
from scheduler.worktime.calendar import Calendar
from tests.unit.test_replan_events import Story, june


@pytest.fixture(scope="module")
def story(tmp_path_factory: pytest.TempPathFactory) -> Story:
    return Story(tmp_path_factory.mktemp("small"))


@pytest.fixture(scope="module")
def late(story: Story) -> Replanning:
    """The utility comes two days later than planned, told on Wednesday the 17th at noon."""
    return story.after(june(17, 12), Delayed(who="Sample Power", not_before=june(24, 13), about=("outside/U1",)))


def days_paid(story: Story, alternative: Alternative, plan: Plan) -> float:
    """Dollars for the days at work of all crews and machines that a plan has of what is left in an alternative."""
    network, tick = alternative.network, story.case.network.clock.tick
    rows = {a.id: (tick(a.start), tick(a.finish, up=True)) for a in plan.activities}
    now = tick(alternative.plan.data_date, up=True)
    dates = {
        a.id: network.calendar_of(a.id).windows[0] if a.happened else rows.get(a.id, (now, now))
        for a in network.activities
    }
    lines = bill(network, Schedule(dates)).lines
    return sum(line.amount for line in lines if line.id.startswith("days/"))


def ft_nights(story: Story, plan: Plan, since: datetime) -> float:
    """Feet of trench times nights still to come, by hand: from the start of a dig to the finish of its fill."""
    rows = {a.id: a for a in plan.activities}
    first: date = since.date()
    total = 0.0
    for o in story.case.network.openings:
        opens, closes = max(rows[o.opens].start.date(), first), rows[o.closes].finish.date()
        total += o.length_ft * max(0, (closes - opens).days)
    return total


def test_every_number_is_the_one_plan_less_the_other(story: Story, late: Replanning) -> None:
    before, as_of = story.before, june(17, 12)
    assert len(late.alternatives) > 1
    old = {a.id: a.start for a in before.activities}
    for alternative in late.alternatives:
        d, plan = alternative.differences, alternative.plan
        assert before.finish is not None
        assert d.later_minutes == (alternative.finish - before.finish).total_seconds() / 60 > 0
        assert d.open_ft_nights == pytest.approx(ft_nights(story, plan, as_of) - ft_nights(story, before, as_of), abs=1)
        ahead = [[v for v in p.visits if v.start >= as_of] for p in (plan, before)]
        assert d.visits == len(ahead[0]) - len(ahead[1])
        moved = [a for a in plan.activities if a.work_minutes and a.start >= as_of and a.start != old[a.id]]
        assert d.moved == len(moved)
        assert d.new == 0
        doers = {"gc": "Sample Ditching", "elec": "Sample Electric", "": "City of Sample"}
        people = {"Sample Power" if a.id == "outside/U1" else doers[a.trade] for a in moved}
        assert d.people_moved == tuple(sorted(people))
        assert set(d.people_called) == {c.to for c in alternative.calls}
        assert str(d.moved) in different(d)


def test_from_the_moment_named_on_everything_is_as_before(story: Story, late: Replanning) -> None:
    ends = {a.id: a.finish for a in story.before.activities}
    old = {a.id: a.start for a in story.before.activities}
    for alternative in late.alternatives:
        moment = alternative.differences.as_before_from
        moved = [a for a in alternative.plan.activities if a.work_minutes and a.start != old[a.id]]
        last = max(max(a.finish, ends[a.id]) for a in moved)
        assert (moment or max(alternative.finish, *ends.values())) == last
        words = "To the end something is" if moment is None else "on everything is as before"
        assert words in different(alternative.differences)


def test_the_work_of_a_short_delay_matches_up_again(story: Story) -> None:
    """The electricians are away for one afternoon; by the evening of the next day all is as planned again."""
    found = story.after(june(18, 8), Delayed(who="elec", not_before=june(18, 9, 15), about=("R2/L0/lay-P1",)))
    least = found.serving(Aim.LEAST_MOVED)
    assert least is not None
    assert least.differences.moved >= 1
    assert least.differences.as_before_from is not None
    assert least.differences.as_before_from <= june(19, 16)
    assert least.differences.later_minutes == 0


def test_nothing_differs_where_all_goes_by_the_plan(story: Story) -> None:
    (keep,) = [a for a in story.after(june(17, 12)).alternatives if Aim.LEAST_MOVED in a.aims]
    d = keep.differences
    assert (d.later_minutes, d.cost, d.open_ft_nights, d.visits, d.moved, d.new, d.people_moved) == (
        0,
        0,
        0,
        0,
        0,
        0,
        (),
    )
    assert d.as_before_from == june(17, 12) or d.as_before_from is not None


def test_looking_again_and_new_work_are_counted(story: Story) -> None:
    look = "look/I1/R1/L1"
    as_of = story.planned(look).finish
    failed = InspectionFailed(looks=(look,), inspector="eye", faults="joint dry", repair_hours=3, when=as_of)
    found = story.after(as_of, failed, without=(look.removeprefix("look/"),))
    for alternative in found.alternatives:
        assert alternative.differences.new == 1
        saved = days_paid(story, alternative, story.before) - days_paid(story, alternative, alternative.plan)
        assert alternative.differences.cost + saved >= 90 + 400, "the fee for looking again, and a day at least"
        assert alternative.differences.later_minutes >= timedelta(days=1).total_seconds() / 60


@pytest.mark.parametrize(("fee", "paid"), [(90.0, 180.0), (0.0, 0.0), (None, 0.0)])
def test_a_fee_for_looking_again_that_is_not_given_is_named(fee: float | None, paid: float) -> None:
    hours = Calendar("city", "city", ())
    looks = Party("I1", "Trench bottom", "City", "", 1, hours, ("look/a", "look/b", "look/c"), reinspection_fee=fee)
    other = Party("I2", "Final", "City", "", 1, hours, ("look/d",), reinspection_fee=None)
    facts = SimpleNamespace(failed={"look/a": 1, "look/c": 1, "a test": 1})
    job = cast("StandingJob", SimpleNamespace(facts=facts, parties=(looks, other)))
    assert fees_again(job) == paid
    said = (
        "Trench bottom, looking again, 2 looks: no rate given (inspections, I1: reinspection_fee); left out of the sum."
    )
    assert again_left_out(job) == ((said,) if fee is None else ())
