"""What a day's record says of work: a test that failed, work not done, a note with what it belongs to."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from sqlalchemy import Connection, delete, update

from scheduler.errors import BadInput
from scheduler.ledger.day_events import NotDone, NoteKept, TestFailed
from scheduler.ledger.events import Finished, RemainingReported, Started
from scheduler.ledger.journal_tables import ATTACHMENTS, ENTRIES
from scheduler.ledger.signing import own_signer
from scheduler.ledger.state import Actual, fold
from scheduler.ledger.store import Journal
from scheduler.ledger.verify import verify
from tests.happenings import entries
from tests.journals import photo
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


def _without_guards(connection: Connection) -> None:
    named = "select name from sqlite_master where type = 'trigger'"
    for trigger in connection.exec_driver_sql(named).scalars().all():
        connection.exec_driver_sql(f'drop trigger "{trigger}"')


def damaged(journal: Journal) -> str:
    return " | ".join(str(f) for f in verify(journal))


def test_a_missing_photo_of_a_note_is_named(journal: Journal) -> None:
    kept = journal.attach(photo("PNG"))
    journal.append(NoteKept(attachment=kept, when=TEN), by="Ann")
    assert verify(journal) == []
    with journal.engine.begin() as connection:
        _without_guards(connection)
        connection.execute(delete(ATTACHMENTS))
    assert "names content" in damaged(journal)


def test_entries_written_in_one_go_are_signed_chained_and_none_is_lost_unseen(journal: Journal) -> None:
    journal.signer = own_signer()
    said = [NotDone(activity=f"a{n}", because="Rain.", when=TEN) for n in range(5)]
    first, *_, last = journal.append_all(said, by="Ann")
    assert (first.number, last.number) == (1, 5)
    assert verify(journal) == []
    with journal.engine.begin() as connection:
        _without_guards(connection)
        connection.execute(update(ENTRIES).where(ENTRIES.c.number == 3).values(by="Bob"))
    assert "Entry 3" in damaged(journal)


def test_one_entry_that_cannot_be_written_writes_none(journal: Journal) -> None:
    good = NotDone(activity="a", because="Rain.", when=TEN)
    with pytest.raises(BadInput, match="does not exist yet"):
        journal.append_all([good, NoteKept(words="More.", entry=7, when=TEN)], by="Ann")
    assert journal.entries() == ()
    assert journal.append_all([], by="Ann") == ()
