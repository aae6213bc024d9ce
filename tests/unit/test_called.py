"""A call on record: what is refused, how it reads, and that a no is a fact for the next plan."""

from __future__ import annotations

from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

import scheduler
from scheduler import BadInput, bundled_sites
from scheduler.ledger.call_events import Called
from scheduler.ledger.event_wording import Wording
from scheduler.ledger.events import Delayed, Event, read_event
from scheduler.ledger.plausible import Writing, faults_of
from scheduler.ledger.seen import Looking
from scheduler.ledger.state import fold
from scheduler.replan.replan_records import Aim
from scheduler.situation.late_words import last_words
from tests.happenings import entries
from tests.kept_plans import kept_plan

TIE_IN = "outside/tie-in"
CASE = scheduler.load(bundled_sites()["orchard-lane"])


def at(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2027, 3, day, hour, minute, tzinfo=ZoneInfo(CASE.site.site.time_zone))


def call(**fields: object) -> Event:
    body: dict[str, object] = {"of": "tie-in", "activities": (TIE_IN,), "answer": "agreed", "when": at(9, 10)}
    return read_event("called", body | fields)


def faults(happened: Event) -> list[str]:
    writing = Writing(CASE.site, CASE.network, (), at(9, 10), "Ruth Amsel", Looking(CASE.network))
    return [f"{f.where}: {f.text}" for f in faults_of(writing, happened)]


def test_a_call_that_cannot_be_is_not_written_down() -> None:
    assert faults(call(told_start=at(18, 8))) == []
    assert faults(call(of="plumber", activities=("repair/x/1",), told_start=at(18, 8))) == []
    assert faults(call(of="nobody")) == ["Party: It is no inspection, outside work, trade or locate ticket here."]
    assert faults(call(of="plumber")) == ["Activities: This is not theirs to do."]
    assert faults(call(told_start=at(8, 8))) == ["Told start: It had passed when they were called."]
    refused = call(told_start=at(17, 8), answer="refused", offers=at(8, 8))
    assert faults(refused) == ["Offers: It had passed when they were called."]
    assert faults(call(when=at(9, 12))) == [
        "When: It has not happened yet by the clock here; what is still to come is planned or booked, not reported."
    ]


@pytest.mark.parametrize(
    "wrong", [{"offers": at(17, 8)}, {"answer": "refused"}, {"answer": "perhaps"}, {"activities": ()}]
)
def test_a_call_that_says_two_things_or_none_is_none(wrong: dict[str, object]) -> None:
    with pytest.raises(BadInput):
        call(**wrong)


def test_a_call_is_told_as_people_say_it() -> None:
    wording = Wording(CASE.site, CASE.network)
    moved = call(person="s-wirth", was=at(18, 8), told_start=at(17, 8, 45), answer="refused", offers=at(18, 8))
    assert wording.sentence(moved) == (
        "Called by phone Tue 9 Mar 10:00: Tie in at the new pole, Sam Wirth, asked for Wed 17 Mar 08:45 instead of "
        "Thu 18 Mar 08:00: Tie in at the new pole. Said no, offers Thu 18 Mar 08:00."
    )
    assert wording.sentence(call(was=at(18, 8))).startswith(
        "Called by phone Tue 9 Mar 10:00: Tie in at the new pole, told that they are not needed any more "
        "Thu 18 Mar 08:00"
    )


def test_a_no_is_word_of_a_delay_and_a_later_yes_takes_it_back() -> None:
    no = call(told_start=at(17, 8, 45), answer="refused", offers=at(22, 8), words="No crew.")
    late = Delayed(who="tie-in", not_before=at(22, 8), about=(TIE_IN,), why="No crew.")
    assert fold(entries([(at(9, 10), no)])).delays == (late,)
    yes = call(told_start=at(18, 8), when=at(9, 11))
    words = fold(entries([(at(9, 10), no), (at(9, 11), yes)])).words
    assert last_words(CASE.site, CASE.network, words[:1]) == {TIE_IN: late}
    assert last_words(CASE.site, CASE.network, words) == {}
    unanswered = call(told_start=at(18, 8), answer="no_answer", when=at(9, 11))
    assert last_words(CASE.site, CASE.network, (words[0], unanswered)) == {TIE_IN: late}  # type: ignore[arg-type]


def test_a_no_without_another_time_means_not_that_day() -> None:
    no = call(told_start=at(17, 8, 45), answer="refused")
    assert isinstance(no, Called)
    assert no.not_before == at(18, 0)
    assert no.not_before - at(17, 0) == timedelta(days=1)


def test_the_plan_after_a_no_keeps_what_was_said() -> None:
    before = kept_plan(CASE, scheduler.Options(only_finish=True)).plan
    asked = next(a.start for a in before.activities if a.id == TIE_IN)
    offers = asked + timedelta(days=4)
    no = call(told_start=asked, answer="refused", offers=offers, when=at(1, 7))
    found = scheduler.replan(CASE, entries([(at(1, 7), no)]), at(1, 7), before=before)
    assert found.alternatives
    for alternative in found.alternatives:
        (row,) = [a for a in alternative.plan.activities if a.id == TIE_IN]
        assert row.start >= offers
    assert any("Sorrel Valley Power said they cannot come before" in n for n in found.notes)


def plumbing(**fields: object) -> Called:
    said = call(of="plumber", **{"activities": (PLUMBING[1],), "answer": "refused", "when": at(1, 8)} | fields)
    assert isinstance(said, Called)
    return said


PLUMBING = [a.id for a in CASE.network.activities if a.trade == "plumber" and a.work]
NO = plumbing(told_start=at(3, 7), offers=at(4, 7))


@pytest.mark.parametrize(
    ("words", "begun", "bound"),
    [
        ([NO], [], PLUMBING),
        ([NO], PLUMBING[2:], PLUMBING[:2]),
        ([plumbing(told_start=at(2, 7), activities=PLUMBING[:1], answer="agreed"), NO], [], PLUMBING[1:]),
        ([plumbing(told_start=at(3, 7), activities=PLUMBING[:1], answer="agreed"), NO], [], PLUMBING),
        ([NO, plumbing(told_start=at(3, 9), answer="agreed")], [], []),
        ([NO, plumbing(told_start=at(3, 9), activities=PLUMBING[:1], answer="agreed")], [], [PLUMBING[1]]),
        ([NO, plumbing(told_start=at(2, 7), activities=PLUMBING[:1], answer="agreed")], [], PLUMBING[1:]),
        ([NO, plumbing(told_start=at(4, 7), answer="agreed")], [], PLUMBING),
    ],
    ids=["all its work", "not what is begun", "not what it comes for before", "what it was to come for then",
         "comes sooner after all", "comes sooner for other work", "comes before that time", "comes as it offered"],
)  # fmt: skip
def test_the_no_of_a_trade_binds_all_of_its_work(words: list[Called], begun: list[str], bound: list[str]) -> None:
    assert len(PLUMBING) > 3
    last = last_words(CASE.site, CASE.network, words, begun=begun)
    assert sorted(last) == sorted(bound)
    assert {w.not_before for w in last.values()} <= {at(4, 7)}


def test_the_no_of_a_trade_brings_no_other_work_of_it_forward() -> None:
    pipe = Delayed(who="plumber", not_before=at(9, 7), about=(PLUMBING[0],), why="No pipe.")
    assert last_words(CASE.site, CASE.network, [pipe, NO])[PLUMBING[0]] == pipe


@pytest.mark.benchmark
def test_a_plan_after_the_no_of_a_trade_has_it_on_site_for_nothing_sooner() -> None:
    before = kept_plan(CASE, scheduler.Options(only_finish=True)).plan
    first = min((a for a in before.activities if a.trade == "plumber"), key=lambda a: a.start)
    offers = first.start + timedelta(days=1)
    no = plumbing(activities=(first.id,), told_start=first.start, offers=offers, when=at(1, 7))
    found = scheduler.replan(CASE, entries([(at(1, 7), no)]), at(1, 7), before=before)
    assert found.alternatives
    for alternative in found.alternatives:
        assert min(a.start for a in alternative.plan.activities if a.trade == "plumber") >= offers


def test_a_booked_appointment_that_the_plan_before_moved_is_counted_and_named() -> None:
    """Booked Thursday 18 March 8:00 in the site file; no call tells of the Wednesday that the plan wants."""
    before = kept_plan(CASE, scheduler.Options(only_finish=True)).plan
    sooner = at(17, 11)
    moved = [
        a.model_copy(update={"start": sooner, "finish": sooner + (a.finish - a.start)}) if a.id == TIE_IN else a
        for a in before.activities
    ]
    before = before.model_copy(update={"activities": moved})
    found = scheduler.replan(CASE, (), at(1, 6, 30), before=before)
    named = "The plan before moved 1 booked appointment: Tie in at the new pole, Thu 18 Mar 08:00. "
    for aim, told in ((Aim.KEEP, "Every other appointment is kept. "), (Aim.CALLS, "No other appointment must move. ")):
        serving = found.serving(aim)
        assert serving is not None
        assert any(c.of == "tie-in" and c.kind == "moved" for c in serving.calls)
        assert serving.proofs[aim].startswith(named + told)
