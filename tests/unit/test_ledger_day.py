"""What a day's record says of work: a test that failed, work not done, a note with what it belongs to."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest

from scheduler.errors import BadInput
from scheduler.ledger.day_events import NotDone, NoteKept, TestFailed
from scheduler.ledger.events import Finished, RemainingReported, Started
from scheduler.ledger.state import Actual, fold
from scheduler.ledger.store import Journal
from tests.happenings import entries
from tests.stories import at

TEN = at(8, "10:00")
HOUR = timedelta(hours=1)
FAILED = TestFailed(activity="t", faults="Lost 5 psi.", when=TEN + HOUR)


def known(*said: object) -> Actual:
    return fold(entries([(TEN + 9 * HOUR, e) for e in said]), TEN + 10 * HOUR).actual("t")


def test_a_test_that_failed_is_to_be_made_again() -> None:
    begun = Started(activity="t", when=TEN)
    assert known(begun, Finished(activity="t", when=TEN), FAILED) == Actual(failed=FAILED)
    assert known(begun, RemainingReported(activity="t", hours=1, when=TEN), FAILED) == Actual(failed=FAILED)
    after = TEN + 2 * HOUR
    again = known(FAILED, Started(activity="t", when=after), Finished(activity="t", when=after + HOUR))
    assert again == Actual(start=after, finish=after + HOUR)


def test_what_was_said_late_of_the_time_before_a_failure_changes_nothing() -> None:
    assert known(FAILED, Started(activity="t", when=TEN), Finished(activity="t", when=TEN)).failed is FAILED
    later = Finished(activity="t", when=TEN + 2 * HOUR)
    assert known(later, FAILED) == Actual(finish=later.when)


def test_not_done_stands_until_something_else_is_said() -> None:
    word = NotDone(activity="t", because="No pipe.", when=TEN)
    assert known(word) == Actual(not_done=word)
    assert known(word, Started(activity="t", when=TEN + HOUR)) == Actual(start=TEN + HOUR)
    assert known(Finished(activity="t", when=TEN - HOUR), word) == Actual(not_done=word)
    done = Finished(activity="t", when=TEN + HOUR)
    assert known(done, word) == Actual(finish=done.when)


@pytest.fixture
def journal(tmp_path) -> Journal:
    return Journal.open(tmp_path / "journal.db", site="job")


def test_a_note_belongs_to_an_entry_that_is_there_and_a_photo_that_is_kept(journal: Journal) -> None:
    moment: datetime = TEN
    with pytest.raises(BadInput, match="does not exist yet"):
        journal.append(NoteKept(words="Mud.", entry=1, when=moment), by="Ann")
    with pytest.raises(BadInput, match="is not kept in the journal"):
        journal.append(NoteKept(attachment="ab" * 32, when=moment), by="Ann")
    first = journal.append(NoteKept(words="Mud.", when=moment), by="Ann")
    assert journal.append(NoteKept(words="More.", entry=first.number, when=moment), by="Ann").number == 2
