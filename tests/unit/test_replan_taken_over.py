"""Another firm takes the open work of a trade over: its own first day, notice, cost and name; and a test that failed.

Small invented site: Sample Electric has two working days of notice, Monday to Friday 7:00-15:30; 19 June is a holiday.
"""

from __future__ import annotations

from itertools import pairwise

import pytest

from scheduler.ledger.day_events import TestFailed
from scheduler.ledger.events import Delayed, Finished
from scheduler.ledger.trade_events import TakenOver
from scheduler.replan.replan_records import Aim
from tests.unit.test_replan_events import Story, june, rows

TEST, SHADE = "R1/L0/test-W1", "R1:2/L0/shade"


@pytest.fixture(scope="module")
def story(tmp_path_factory: pytest.TempPathFactory) -> Story:
    return Story(tmp_path_factory.mktemp("small"))


def test_the_new_firm_does_all_that_is_open_from_its_first_day_on(story: Story) -> None:
    """Agreed on Wednesday the 17th at noon with three working days of notice: the 18th, the 22nd and the 23rd."""
    as_of = june(17, 12)
    away = Delayed(who="elec", not_before=june(30, 7), why="bankrupt")
    taken = TakenOver(
        trade="elec", firm="Lamp and Daughters", since=june(22, 7), notice_days=3, mobilisation_cost=700, when=as_of
    )
    found = story.after(as_of, away, taken)
    before = {a.id: a for a in story.before.activities}
    for aim in Aim:
        now = rows(found, aim)
        left = [a for a in now.values() if a.trade == "elec" and a.start >= as_of]
        assert len(left) > 5
        assert june(23, 7) <= min(a.start for a in left) < june(30, 7), "what the old firm said counts no longer"
        assert all(now[a].start == before[a].start for a in ("R1/L0/lay-P1", "R1/L1/lay-C1")), "done by the old firm"
        alternative = found.serving(aim)
        assert alternative is not None
        theirs = [m for m in alternative.moves if now[m.activity].trade == "elec"]
        assert {m.trade for m in theirs} == {"Lamp and Daughters"}
        assert any("Lamp and Daughters said they cannot come before Tue 23 Jun 07:00" in m.buys for m in theirs)
        assert "Lamp and Daughters" in alternative.differences.people_moved
        parties = {m.name: m for m in alternative.network.mobilisations}
        assert parties["Lamp and Daughters"].cost == 700
        assert set(parties["Lamp and Daughters"].activities) >= {a.id for a in left}
        assert not set(parties["Sample Electric"].activities) & {a.id for a in left}
    gone = story.after(as_of, away)
    assert min(a.start for a in rows(gone).values() if a.trade == "elec" and a.start >= as_of) >= june(30, 7)


def test_a_later_word_of_the_new_firm_counts(story: Story) -> None:
    as_of = june(17, 12)
    taken = TakenOver(trade="elec", firm="Lamp and Daughters", since=june(22, 7), when=as_of)
    found = story.after(as_of, taken, Delayed(who="elec", not_before=june(24, 7)))
    assert min(a.start for a in rows(found).values() if a.trade == "elec" and a.start >= as_of) >= june(24, 7)


def test_a_test_that_failed_is_mended_and_tested_again_and_what_was_looked_at_is_looked_at_again(story: Story) -> None:
    look = "look/I1/R1/L0"
    as_of = story.planned(look).finish
    failed = TestFailed(activity=TEST, faults="loses 5 psi", repair_hours=2, when=as_of)
    found = story.after(as_of, failed)
    assert TEST not in found.frozen
    assert look not in found.frozen, "it was looked at before it failed"
    for aim in Aim:
        now = rows(found, aim)
        order = [now[f"repair/{TEST}/1"], now[TEST], now[look], now[SHADE]]
        assert all(a.finish <= b.start for a, b in pairwise(order))
        assert order[0].trade == "gc"
        assert order[0].work_minutes == 120
    held = Finished(activity=TEST, when=as_of.replace(hour=13))
    later = as_of.replace(hour=14)
    again = story.after(later, failed, held, without=(SHADE, "R1:2/L0/fill", "I1/R1/L0"))
    assert TEST in again.frozen
    assert f"repair/{TEST}/1" not in rows(again)
