"""What goes with the answer to 'may this be covered?': rights, corrections, alarms, how far the journal was written."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.errors import BadInput
from scheduler.ledger.cover_answer import CoverVerdict, no_answer
from scheduler.ledger.covered_early import covered_unreleased
from scheduler.ledger.events import Refused
from scheduler.ledger.heads import head_of
from scheduler.ledger.rights import right_findings
from scheduler.ledger.state import fold
from tests.stories import TRUE, Story, at, told, variant

YES, NO, ASK = CoverVerdict.YES, CoverVerdict.NO, CoverVerdict.ASK_AGAIN


@pytest.mark.parametrize("kind", ["hold_released", "pass_stands"])
def test_what_is_written_without_a_right_clears_nothing(kind: str) -> None:
    """A stranger's program may write what was seen; without the right found here, it counts for nothing."""
    story = told("TRUE; 11 09:20 rain until 11 09:40; 11 09:50 word that shading stands by j-pace")
    assert story.answer().verdict is YES
    entries = story.record.entries
    n = next(i for i in reversed(range(len(entries))) if entries[i].event.name == kind)
    event = entries[n].event
    seen = tuple(s.model_copy(update={"right": ""}) for s in event.seen)  # type: ignore[union-attr]
    entries[n] = replace(entries[n], event=event.model_copy(update={"seen": seen}))
    assert story.answer().verdict is (NO if kind == "hold_released" else ASK)


def test_something_old_is_written_down_with_its_reason() -> None:
    last = told("TRUE; 1 09:20 mended 100-110 [written 11 09:50, late: Found in the diary.]").record.entries[-1]
    assert last.event.late_because == "Found in the diary."  # type: ignore[union-attr]


def test_the_contractor_takes_back_what_a_trade_wrote() -> None:
    mended = "TRUE; 11 09:30 mended 100-110 [by Tom Bell]"
    assert told(mended).answer().verdict is NO
    assert told(f"{mended}; 11 09:35 takes back the last repair_reported").answer().verdict is YES


@pytest.mark.parametrize("change", ["contractor to release", "nobody to release"])
def test_nobody_releases_where_nobody_of_the_authority_may(change: str) -> None:
    look = "conduit by r-amsel" if change == "contractor to release" else "shading by i-haas"
    last = told(f"TRUE; site: {change}; 11 09:30 releases {look}").record.entries[-1].event
    assert isinstance(last, Refused)
    assert "nobody is named in the site file who may" in last.reason


@pytest.mark.parametrize(
    "change", ["inspector replaced", "Dunn leaves on the 9th", "contractor to release", "service larger"]
)
def test_what_was_released_and_covered_is_no_alarm_when_the_site_file_changes(change: str) -> None:
    story = told(f"TRUE; 11 09:30 finished ribbon; site: {change}")
    record = story.record
    assert covered_unreleased(record.site, record.network, fold(record.entries), at(20, "10:00")) == []


def test_an_answer_says_how_far_the_journal_was_written() -> None:
    story = told("TRUE")
    answer, last = story.answer(), story.record.entries[-1]
    assert (answer.entry, answer.moment) == (last.number, story.moment)
    assert answer.head == str(head_of([last]))


def test_a_reason_names_the_work_who_does_it_and_since_when_it_goes_on() -> None:
    begun = TRUE.replace("9 15:00 finished L1/lay-telephone", "9 15:00 begun L1/lay-telephone")
    (reason,) = told(begun).answer().reasons
    assert (reason.kind, reason.ref, reason.since) == ("work", "orchard-row/L1/lay-telephone", at(9, "15:00"))
    trade = next(t for t in variant("as it is")[0].trades if t.id == variant("as it is")[1].by_id[reason.ref].trade)
    assert (reason.who, reason.earliest, reason.ask) == (trade.name, None, False)


def test_of_a_journal_without_entries_the_answer_is_a_no_from_entry_none() -> None:
    answer = Story().answer()
    assert (answer.verdict, answer.entry, answer.head) == (NO, 0, "")


def test_a_journal_that_cannot_be_read_is_a_no() -> None:
    with pytest.raises(BadInput) as refused:
        told("TRUE; 12 09:30 fails conduit by c-dunn [written 11 09:30]")
    answer = no_answer(refused.value, at(11, "10:00"))
    assert (answer.verdict, [r.kind for r in answer.reasons]) == (NO, ["journal"])


def test_a_stretch_that_runs_off_the_trench_is_no_question() -> None:
    story = told("TRUE; 11 10:00 ask 84-300")
    with pytest.raises(BadInput, match="nowhere"):
        story.answer()


def test_an_unlike_site_is_unlike() -> None:
    """The variants that the table tells of do change the site."""
    assert variant("service deeper")[0] != variant("as it is")[0]


def test_check_names_the_hold_points_that_nobody_may_release() -> None:
    assert list(right_findings(*variant("as it is"))) == []
    (wrong,) = right_findings(*variant("contractor to release"))
    assert "Ruth Amsel is to release it, but is of Amsel Site Works" in wrong.text
    assert wrong.required == "a person of Sorrel County Trades Inspection"
    (nobody, *_) = right_findings(*variant("nobody to release"))
    assert "Nobody may release it" in nobody.text
