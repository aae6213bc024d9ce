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
from scheduler.situation.late_words import last_words
from tests.happenings import entries

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
    assert faults(call(of="nobody")) == ["Party: It is no inspection, outside work or trade here."]
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
    before = scheduler.plan(CASE, scheduler.Options(only_finish=True)).plan
    asked = next(a.start for a in before.activities if a.id == TIE_IN)
    offers = asked + timedelta(days=4)
    no = call(told_start=asked, answer="refused", offers=offers, when=at(1, 7))
    found = scheduler.replan(CASE, entries([(at(1, 7), no)]), at(1, 7), before=before)
    assert found.alternatives
    for alternative in found.alternatives:
        (row,) = [a for a in alternative.plan.activities if a.id == TIE_IN]
        assert row.start >= offers
    assert any("Sorrel Valley Power said they cannot come before" in n for n in found.notes)
