"""'All as planned until now, except …': planned times, nothing that is never assumed, all of it or nothing."""

from __future__ import annotations

import shutil
from datetime import timedelta
from pathlib import Path

import pytest

from scheduler.case import bundled_sites, load
from scheduler.cli.main import main
from scheduler.errors import BadInput
from scheduler.ledger import Journal, fold, place_of, write_all
from scheduler.ledger.contradictions import contradictions
from scheduler.ledger.day_events import NotDone
from scheduler.ledger.events import Event, Finished, InspectionFailed, InspectionPassed, Started
from scheduler.ledger.ground_events import StopWork
from scheduler.network.kind import Kind
from scheduler.situation import AsPlanned, Wanted, all_as_planned
from tests.papers import facts_of
from tests.records import Record

CASE = facts_of("orchard-lane")
PLAN = CASE.plan
WORK = {a.id: a for a in PLAN.activities}
FIRST_DIG = min((a for a in PLAN.activities if a.kind is Kind.DIG), key=lambda a: a.start)
SECOND_DAY = FIRST_DIG.start.replace(hour=18) + timedelta(days=3)


def found(record: Record, wanted: Wanted | None = None, until=SECOND_DAY) -> AsPlanned:
    return all_as_planned(CASE.site, CASE.network, fold(record.entries, until), PLAN, until, wanted)


def empty() -> Record:
    return Record(CASE.site, CASE.network)


def ids(events: tuple[Event, ...]) -> set[str]:
    return {e.activity for e in events}  # type: ignore[union-attr]


def test_it_has_planned_times_and_nothing_that_is_never_assumed() -> None:
    got = found(empty())
    assert got.events
    for event in got.events:
        planned_at = WORK[event.activity]
        assert event.when == (planned_at.start if isinstance(event, Started) else planned_at.finish) <= SECOND_DAY
        assert not planned_at.kind.only_if_reported
    due = {a.id for a in PLAN.activities if a.kind.takes_time and a.work_minutes and a.start < SECOND_DAY}
    assert due == ids(got.events) | ({s.ref for s in got.still_to_say} & due)
    never = {i for i in due if WORK[i].kind.only_if_reported}
    assert never
    assert never <= {s.ref for s in got.still_to_say}


def test_written_down_it_contradicts_nothing_and_leaves_nothing_more_to_take() -> None:
    record = empty()
    for event in found(record).events:
        assert contradictions(CASE.site, CASE.network, fold(record.entries, SECOND_DAY), event) == ()
        record.write(event, SECOND_DAY)
    assert found(record).events == ()


def test_what_follows_something_not_done_is_not_taken_as_done() -> None:
    got = found(empty(), Wanted(not_done={FIRST_DIG.id: "The excavator broke."}))
    (word,) = [e for e in got.events if isinstance(e, NotDone)]
    assert (word.activity, word.when) == (FIRST_DIG.id, SECOND_DAY)
    bed = f"{FIRST_DIG.reach}/bed"
    assert bed not in ids(got.events)
    (left,) = [s for s in got.still_to_say if s.ref == bed]
    assert f"{FIRST_DIG.name} is not on record as finished by then." in left.because


def test_other_times_are_taken_where_they_are_said() -> None:
    later = FIRST_DIG.start + timedelta(hours=1)
    got = found(empty(), Wanted(started={FIRST_DIG.id: later}))
    assert Started(activity=FIRST_DIG.id, when=later) in got.events
    assert not [e for e in got.events if isinstance(e, Finished) and e.activity == FIRST_DIG.id]
    assert any(s.ref == FIRST_DIG.id and "later than planned" in s.because for s in got.still_to_say)
    done = FIRST_DIG.finish + timedelta(minutes=15)
    got = found(empty(), Wanted(started={FIRST_DIG.id: later}, finished={FIRST_DIG.id: done}))
    assert Finished(activity=FIRST_DIG.id, when=done) in got.events


def test_filters_by_trade_and_stretch() -> None:
    trade = FIRST_DIG.trade
    got = found(empty(), Wanted(trade=trade))
    assert {WORK[i].trade for i in ids(got.events)} == {trade}
    stretch = (FIRST_DIG.alignment, FIRST_DIG.from_ft, FIRST_DIG.to_ft)
    machine_there = empty()
    for a in (a for a in PLAN.activities if not a.reach and a.finish <= FIRST_DIG.start):
        machine_there.write(Finished(activity=a.id, when=a.finish), SECOND_DAY)
    got = found(machine_there, Wanted(stretch=stretch))
    assert ids(got.events)
    for id_ in ids(got.events):
        assert WORK[id_].alignment == stretch[0]
        assert WORK[id_].from_ft < stretch[2]
        assert WORK[id_].to_ft > stretch[1]


def test_nothing_is_taken_as_done_behind_a_hold_a_stop_or_before_a_look() -> None:
    end = PLAN.finish
    assert end is not None
    got = found(empty(), until=end)
    gates = {g for h in CASE.network.holds for g in h.gates}
    assert not gates & ids(got.events)
    record = empty()
    first = min(a.start for a in PLAN.activities)
    record.write(StopWork(who="d-okoro", why="A crack.", when=first), first)
    assert not [e for e in found(record).events if isinstance(e, Started | Finished)]
    laid, look = next(
        (CASE.network.by_id[k.before], k.after)
        for k in CASE.network.links
        if CASE.network.by_id[k.after].kind.is_look and CASE.network.by_id[k.before].kind is Kind.LAY
    )
    record, early = empty(), WORK[laid.id].finish - timedelta(minutes=15)
    record.add(InspectionPassed(looks=(look,), inspector="c-dunn", when=early), early)
    got = found(record, until=end)
    assert not [e for e in got.events if e.activity == laid.id and isinstance(e, Finished)]


def test_a_failed_look_is_still_to_be_said() -> None:
    look = next(a for a in PLAN.activities if a.kind.is_look)
    record = empty()
    record.write(InspectionFailed(looks=(look.id,), inspector="c-dunn", faults="Dry.", when=look.finish), look.finish)
    got = found(record, until=look.finish + timedelta(days=1))
    assert look.id in {s.ref for s in got.still_to_say}


@pytest.fixture
def site(tmp_path: Path) -> Path:
    return Path(shutil.copy(bundled_sites()["orchard-lane"], tmp_path))


def entries_of(site: Path) -> tuple[object, ...]:
    place = place_of(load(site).site, site)
    return Journal.open(place.where, site=place.job.id).entries() if place.made and place.job else ()


def test_it_is_written_in_one_go_or_not_at_all(site: Path) -> None:
    place = place_of(CASE.site, site)
    journal = place.open()
    events = found(empty()).events
    future = Started(activity=FIRST_DIG.id, when=SECOND_DAY + timedelta(days=30))
    with pytest.raises(BadInput, match="has not happened yet"):
        write_all(journal, CASE.site, CASE.network, [*events, future], at=SECOND_DAY, by="Ann")
    assert journal.entries() == ()
    with pytest.raises(BadInput, match="has later entries by now"):
        write_all(journal, CASE.site, CASE.network, events, at=SECOND_DAY, by="Ann", after=3)
    assert journal.entries() == ()
    written = write_all(journal, CASE.site, CASE.network, events, at=SECOND_DAY, by="Ann", after=0)
    assert journal.entries() == written
    assert [e.number for e in written] == list(range(1, len(events) + 1))
    assert {e.at for e in written} == {SECOND_DAY}


@pytest.mark.benchmark
def test_the_command_shows_it_first_and_writes_it_then(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    now = f"{SECOND_DAY:%Y-%m-%d %H:%M}"
    asked = ["report", str(site), "as-planned", "--now", now, "--by", "Ann", "--except", f"{FIRST_DIG.id}=It broke."]
    assert main([*asked, "--dry-run"]) == 0
    shown = capsys.readouterr().out
    assert "would be written; nothing is yet:" in shown
    assert "Because: It broke." in " ".join(shown.split())
    assert "Still to be said" in shown
    assert entries_of(site) == ()
    assert main(asked) == 0
    assert "written, all in one go:" in capsys.readouterr().out
    assert entries_of(site)
    assert main(["report", str(site), "as-planned", "--now", now, "--finished", "nothing/here=2027-03-01 10:00"]) == 2
    assert main(["report", str(site), "as-planned", "--now", now, "--trade", "nobody"]) == 2
    assert main(["report", str(site), "as-planned", "--now", now, "--leave", "nothing/here"]) == 2
    assert main(["report", str(site), "as-planned", "--now", now, "--except", f"{FIRST_DIG.id}="]) == 2
