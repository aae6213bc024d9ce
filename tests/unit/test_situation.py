"""The site as it stands: recorded, planned, due and not reported are never mixed; the plan holds or says why not."""

from __future__ import annotations

import re
import threading
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

import scheduler
from scheduler import Case, Options, Planned, Situation, as_accepted
from scheduler.case import bundled_sites
from scheduler.cli.site_today import told
from scheduler.ledger.contradictions import contradictions
from scheduler.ledger.day_events import TrenchInspected
from scheduler.ledger.events import Delayed, Event, Finished, InspectionFailed, Refused, Started, TicketAnswered
from scheduler.ledger.ground_events import Rained, RepairReported, StopWork, UncoverReported
from scheduler.ledger.state import fold
from scheduler.ledger.store import Entry
from scheduler.ledger.trench_watch import enters
from scheduler.network.kind import Kind
from scheduler.network.model import Activity
from scheduler.situation import (
    LayerState,
    WorkState,
    before_anybody_enters,
    before_it,
    held_up,
    to_make_good,
    verdict,
    why_not,
)
from tests.happenings import as_planned, with_tie_ins_released
from tests.kept_plans import kept_plan
from tests.records import written

DENVER = ZoneInfo("America/Denver")
SHADE = "main-60/shade"


@cache
def case() -> Case:
    return scheduler.load(bundled_sites()["orchard-lane"])


@cache
def planned() -> Planned:
    return kept_plan(case(), Options(only_finish=True))


def march(day: int, hour: int = 7, minute: int = 0) -> datetime:
    return datetime(2027, 3, day, hour, minute, tzinfo=DENVER)


@cache
def by_plan(until: datetime) -> tuple[Entry, ...]:
    """The record when all has gone by the plan until a moment."""
    said = with_tie_ins_released(case(), as_planned(case(), planned().plan, until))
    return tuple(written(case().site, case().network, said))


def after(until: datetime, *more: tuple[datetime, Event]) -> list[Entry]:
    """The record as planned until a moment, then some events."""
    said = with_tie_ins_released(case(), as_planned(case(), planned().plan, until))
    return written(case().site, case().network, [*said, *more])


def stands(entries: list[Entry] | tuple[Entry, ...], at: datetime) -> Situation:
    return scheduler.today(case(), entries, at, planned())


def last_look(until: datetime) -> InspectionFailed:
    """The failure of the look that the plan had passed last before a moment, then."""
    passed = [e for _, e in as_planned(case(), planned().plan, until) if e.name == "inspection_passed"][-1]
    return InspectionFailed(
        looks=passed.looks, inspector=passed.inspector, faults="it leaks", when=until, repair_hours=2
    )


@pytest.mark.parametrize("day", range(1, 24))
@pytest.mark.parametrize("hour", [6, 10, 15])
def test_a_job_that_goes_by_its_plan_keeps_it(day: int, hour: int) -> None:
    at = march(day, hour)
    now = stands(by_plan(at), at)
    assert now.holds_still, now.breaches
    assert now.earliest_finish == planned().plan.finish
    assert not now.overdue
    assert not any(w.state in (WorkState.BLOCKED, WorkState.FAILED, WorkState.UNREPORTED) for w in now.work.values())
    assert now.open_tonight_ft == pytest.approx(_open_by_hand(at))
    assert not any(s.behind for s in now.stretches)


def _open_by_hand(at: datetime) -> float:
    rows = {a.id: a for a in planned().plan.activities}
    return sum(o.length_ft for o in case().network.openings if rows[o.opens].start < at < rows[o.closes].finish)


def test_without_a_record_nothing_is_done() -> None:
    now = stands((), march(12, 10))
    assert not [w for w in now.work.values() if w.over]
    assert now.open_tonight_ft == 0
    assert {s.recorded for s in now.stretches} == {LayerState.NOT_DUG}
    assert any(s.behind for s in now.stretches)
    assert not now.holds_still
    assert now.earliest_finish is not None
    assert now.earliest_finish > planned().plan.finish


def test_what_is_due_and_not_on_record_is_not_told_as_still_to_come() -> None:
    now = stands((), march(1, 16))
    late = [w for w in now.overdue if now.hours_on(w.id, now.moment.date())]
    assert late, "something was due this morning"
    blocks = {b.split("\n")[0]: " ".join(b.split()) for b in told(now).split("\n\n")}
    assert all(w.name in blocks["Due, and not on record:"] for w in late)
    listed = re.findall(r"\d\d:\d\d-\d\d:\d\d [^:]+: (.*?)(?: \[|\. |$)", blocks.get("Still to come today:", ""))
    assert not {w.name for w in late} & {name.strip(". ") for name in listed}


def test_nothing_tells_the_crew_to_cover_what_failed_the_day_before() -> None:
    """After a look that failed the day before, the shading over that line is held, and the plan holds no more."""
    rows = {a.id: a for a in planned().plan.activities}
    looks = [a for a in planned().plan.activities if a.kind is Kind.INSPECT]
    look = next(k for k in looks if "under pressure" in k.name)
    failed = InspectionFailed(looks=(look.id,), inspector="c-dunn", faults="it leaks", when=look.finish, repair_hours=2)
    said = [p for p in as_planned(case(), planned().plan, look.finish) if getattr(p[1], "looks", ()) != (look.id,)]
    said = [p for p in said if p[1].name != "hold_released" or p[0] < look.finish]
    entries = written(case().site, case().network, [*said, (look.finish, failed)])
    next_morning = (look.finish + timedelta(days=1)).replace(hour=6, minute=30)
    now = stands(entries, next_morning)
    hold = next(h for h in case().network.holds if h.look == look.id)
    covering = [g for g in hold.gates if case().network.by_id[g].kind.covers]
    assert covering
    for gate in covering:
        assert now.work[gate].state is WorkState.BLOCKED, rows[gate].name
        assert any("failed" in sentence for sentence in before_it(now.work[gate]))
    assert "no longer holds" in verdict(now)
    assert "failed" in why_not(now)[0]
    good = to_make_good(now)
    assert any("failed" in t.lower() and look.name in t for t in good)
    assert any("tested again" in t for t in good), "mended, it is tested again before it is looked at"
    stretch = next(s for s in now.stretches if look.id in s.failed)
    assert stretch.recorded is not LayerState.COVERED


def test_every_difference_from_the_plan_is_named() -> None:
    half_hour = timedelta(minutes=30)
    long = (a for a in planned().plan.activities if a.trade and a.finish - a.start > half_hour)
    late = next(a for a in long if a.start >= march(5, 7))
    at = late.start + half_hour
    rows = [a for a in planned().plan.activities if a.start >= at and a.trade]
    person = next(p for p in case().site.people if p.role == "trade")
    ticket = case().site.locate_tickets[0].id
    owner = case().site.existing[0].owner
    hold = case().network.holds[-1].id
    cases: list[tuple[str, tuple[datetime, Event]]] = [
        ("failed", (at, last_look(at))),
        ("word", (at, Delayed(who=person.id, not_before=march(30), about=(rows[0].id,)))),
        ("stop work", (at, StopWork(who="d-okoro", why="gas smell", when=at))),
        ("ticket", (at, TicketAnswered(ticket=ticket, who=owner, answer="not_complete", when=at))),
        ("refused", (at, Refused(asked="hold_released", about=hold, who="t-bell", reason="not theirs"))),
        ("rain", (at, Rained(start=at - timedelta(hours=1), until=at))),
    ]
    for kind, event in cases:
        now = stands(after(at, event), at)
        assert kind in {b.kind for b in now.breaches}, kind
        assert not now.holds_still
    later = late.finish + timedelta(hours=2)
    now = stands([*after(at)], later)
    assert "not reported" in {b.kind for b in now.breaches}
    entries = after(at, (later, Finished(activity=late.id, when=later)))
    assert "late finish" in {b.kind for b in stands(entries, later).breaches}


def test_work_that_starts_late_is_named_while_it_goes_on() -> None:
    first = min((a for a in planned().plan.activities if a.work_minutes), key=lambda a: a.start)
    at = first.start + timedelta(minutes=45)
    entries = written(case().site, case().network, [(at, Started(activity=first.id, when=at))])
    now = stands(entries, at)
    assert [b.kind for b in now.breaches if b.ref == first.id] == ["late start"]
    assert now.work[first.id].state is WorkState.BEGUN


def test_a_place_dug_open_again_blocks_what_was_released() -> None:
    at = march(12, 12)
    shaded = next(a for a in planned().plan.activities if a.kind is Kind.SHADE and a.finish < at)
    place = {"alignment": shaded.alignment, "from_ft": shaded.from_ft, "to_ft": shaded.to_ft}
    now = stands(after(at, (at, UncoverReported(**place, depth="shading", when=at))), at)
    assert "pass" in {b.kind for b in now.breaches}
    assert now.work[shaded.id].state is not WorkState.DONE


def test_what_is_due_and_not_reported_is_neither_done_nor_planned() -> None:
    first = min((a for a in planned().plan.activities if a.work_minutes), key=lambda a: a.start)
    now = stands((), first.start + timedelta(minutes=5))
    assert now.work[first.id].state is WorkState.UNREPORTED
    assert not now.work[first.id].overdue, "it may be written down until it was to be finished"
    assert stands((), first.finish).work[first.id].overdue


def test_the_same_moment_gives_the_same_situation() -> None:
    at = march(9, 12)
    assert stands(by_plan(at), at) == stands(by_plan(at), at)


def test_a_layer_only_ever_gets_further_while_all_goes_by_the_plan() -> None:
    order, before = list(LayerState), [0] * len(stands((), march(1, 6)).stretches)
    for day in range(1, 30, 2):
        now = stands(by_plan(march(day, 17)), march(day, 17))
        reached = [order.index(s.recorded) for s in now.stretches]
        assert all(a <= b for a, b in zip(before, reached, strict=True))
        assert reached == [order.index(s.planned) for s in now.stretches]
        before = reached
    assert set(before) == {order.index(LayerState.COVERED)}


def test_a_layer_is_laid_tested_and_seen_when_that_is_on_record() -> None:
    """The water line at 1+60 to 2+20 of the invented site, by hand: dug, laid, tested, looked at, shaded."""
    rows = {a.id: a for a in planned().plan.activities}
    lay = next(a for a in rows.values() if a.kind is Kind.LAY and "Water line" in a.name and a.from_ft == 160)
    reach = [a for a in rows.values() if a.reach == lay.reach and set(a.lines) & set(lay.lines)]
    over = [a for a in rows.values() if a.alignment == lay.alignment and set(a.lines) & set(lay.lines)]
    over = [a for a in over if a.from_ft is not None and a.to_ft is not None and a.from_ft <= 160 < 220 <= a.to_ft]
    test = next(a for a in over if a.kind is Kind.TEST)
    look = next(a for a in over if a.kind is Kind.INSPECT)
    shade = next(a for a in reach if a.kind is Kind.SHADE)
    dig = next(a for a in rows.values() if a.kind is Kind.DIG and a.reach == lay.reach)
    for last, state in (
        (dig, LayerState.DUG),
        (lay, LayerState.LAID),
        (test, LayerState.TESTED),
        (look, LayerState.SEEN),
        (shade, LayerState.COVERED),
    ):
        now = stands(by_plan(last.finish), last.finish)
        mine = next(s for s in now.stretches if s.reach == lay.reach and s.layer == lay.layer)
        assert mine.recorded is state
        alone = next(s for s in stands((), last.finish).stretches if s.reach == lay.reach and s.layer == lay.layer)
        assert alone.recorded is LayerState.NOT_DUG, "what is planned is not recorded"
        assert alone.planned is state


def test_the_open_trench_is_to_be_inspected_each_morning_and_nobody_enters_one_found_unsafe() -> None:
    at = march(9, 6, 30)
    assert before_anybody_enters(stands(by_plan(at), at))
    place = next(s for s in stands(by_plan(at), at).to_inspect)
    said = {"alignment": place.alignment, "from_ft": place.from_ft, "to_ft": place.to_ft, "who": "d-okoro", "when": at}
    safe = stands(after(at, (at, TrenchInspected(**said, safe=True))), at)
    assert place not in safe.to_inspect
    unsafe = stands(after(at, (at, TrenchInspected(**said, safe=False, words="The side is cracked."))), at)
    kept = [w for w in unsafe.work.values() if any(b.kind == "unsafe" for b in w.blocked_by)]
    assert kept
    assert "unsafe" in {b.kind for b in unsafe.breaches}


def test_nothing_is_covered_where_the_trench_was_found_unsafe_though_nobody_goes_in_for_it() -> None:
    network = case().network
    fills = (a for a in network.activities if a.kind.buries and a.alignment and not enters(a))
    fill = min(fills, key=lambda a: planned().schedule.dates[a.id])
    at = network.clock.when(planned().schedule.dates[fill.id][0])
    before = [w for w in stands(by_plan(at), at).work.values() if w.id == fill.id]
    said = {"alignment": fill.alignment, "from_ft": fill.from_ft, "to_ft": fill.to_ft, "who": "d-okoro", "when": at}
    unsafe = stands(after(at, (at, TrenchInspected(**said, safe=False, words="The side is cracked."))), at)
    assert "unsafe" not in {b.kind for w in before for b in w.blocked_by}
    assert "unsafe" in {b.kind for b in unsafe.work[fill.id].blocked_by}


def test_what_holds_work_up_is_said_in_whole_sentences_once_each() -> None:
    look = next(a for a in planned().plan.activities if a.id.startswith("look/water-test/"))
    at = look.finish
    inspector = next(h.released_by for h in case().network.holds if h.look == look.id)
    failed = InspectionFailed(looks=(look.id,), inspector=inspector, faults="it leaks", when=at, repair_hours=2)
    said = held_up(stands(after(look.start, (at, failed)), at))
    assert any(" is to be done again. " in s for s in said), said
    assert not any(s.startswith("It ") for s in said), "each names what it is about"
    assert len(said) == len(set(said))
    assert all("wait for that, first " in s or "waits for that, first " in s for s in said)


def test_digging_one_reach_says_nothing_of_the_others_along_the_same_trench() -> None:
    at = march(3, 8, 30)
    dug = by_its_place("dig", reach="lane-verge")
    alone = written(case().site, case().network, [(at, Finished(activity=dug.id, when=at))])
    due = stands(alone, march(4, 6, 30)).to_inspect
    assert [(d.from_ft, d.to_ft) for d in due] == [(dug.from_ft, dug.to_ft)], "the rest is not dug"
    bed = by_its_place("bed", reach="barn-drive")
    started = Started(activity=bed.id, when=march(4, 7))
    against = contradictions(case().site, case().network, fold(alone, march(4, 7)), started)
    assert any("Dig" in said and "not on record as finished" in said for said in against)


def test_filling_one_reach_leaves_the_others_to_be_inspected() -> None:
    first, other = (by_its_place("dig", reach=r) for r in ("lane-verge", "orchard-row"))
    filled = by_its_place("lifts", reach="lane-verge")
    said = [
        (march(2, 8 + n), Finished(activity=a.id, when=march(2, 8 + n))) for n, a in enumerate((first, other, filled))
    ]
    due = stands(written(case().site, case().network, said), march(3, 6, 30)).to_inspect
    assert [d.reach for d in due] == ["orchard-row"]


def test_work_in_a_trench_whose_digging_nobody_wrote_down_has_it_inspected_too() -> None:
    bed = by_its_place("bed", reach="barn-drive")
    begun = written(case().site, case().network, [(march(4, 7), Started(activity=bed.id, when=march(4, 7)))])
    now = stands(begun, march(4, 7, 30))
    assert [d.reach for d in now.to_inspect] == ["barn-drive"]
    assert sum(d.to_ft - d.from_ft for d in now.to_inspect) == pytest.approx(now.open_tonight_ft)


def by_its_place(what: str, reach: str) -> Activity:
    return case().network.by_id[f"{reach}/{what}"]


def test_a_piece_that_was_forgotten_and_is_taken_as_done_still_ends_that_the_plan_holds() -> None:
    at = march(3, 12)
    said = as_planned(case(), planned().plan, at)
    dig = next(
        e.activity for _, e in said if isinstance(e, Finished) and case().network.by_id[e.activity].kind is Kind.DIG
    )
    entries = written(case().site, case().network, [p for p in said if getattr(p[1], "activity", "") != dig])
    now = stands(entries, at)
    assert now.work[dig].state is WorkState.TAKEN
    assert dig in now.taken_as_done
    assert [b.kind for b in now.breaches if b.ref == dig] == ["not reported"]


def test_a_plan_accepted_after_a_failure_has_it_mended_and_holds(tmp_path: Path) -> None:
    at = march(9, 15, 30)
    with scheduler.journal(case(), str(tmp_path / "job.db")) as journal:
        for entry in after(at, (at, last_look(at))):
            journal.append(entry.event, at=entry.at, by="Ruth Amsel")
        before = journal.entries()
        assert "failed" in {b.kind for b in stands(before, at).breaches}
        quick = Options(start_effort=0.1, finish_effort=0.2, exposure_effort=0.05, money_effort=0.05)
        ways = scheduler.replan(case(), before, at, before=planned().plan, options=quick, stop=threading.Event())
        way = ways.alternatives[0]
        scheduler.accept(journal, way, by="Ruth Amsel", at=at, why="it is mended first")
        entries = journal.entries()
    accepted = fold(entries).plan
    assert accepted is not None
    in_force = as_accepted(case(), entries, accepted, way.plan)
    assert in_force is not None
    later = at + timedelta(minutes=5)
    now = scheduler.today(case(), entries, later, in_force)
    assert now.holds_still, now.breaches
    assert any(w.state is WorkState.FAILED for w in now.work.values()), "it is still to be mended"
    assert "failed" in {b.kind for b in stands(entries, later).breaches}, "the plan before has nothing of the kind"


def test_what_buries_ground_further_waits_for_the_hold_below_it() -> None:
    fill = next(a for a in planned().plan.activities if a.name == "Fill in lifts to grade, Pole branch 0+46 to 0+52")
    hold = next(h for h in case().network.holds if h.id == "hold/loose-at-pole")
    assert fill.id not in hold.gates, "the hold names the work below it only"
    assert hold.id in [p.hold.id for p in stands((), march(2)).work[fill.id].holds]


@pytest.mark.parametrize("mended", [False, True])
def test_a_test_after_a_failure_counts_once_the_mending_is_on_record(mended: bool) -> None:
    look = next(a for a in planned().plan.activities if a.kind is Kind.INSPECT and "under pressure" in a.name)
    said = [p for p in as_planned(case(), planned().plan, look.finish) if getattr(p[1], "looks", ()) != (look.id,)]
    said = [p for p in said if p[1].name != "hold_released" or p[0] < look.finish]
    failed = InspectionFailed(looks=(look.id,), inspector="c-dunn", faults="it leaks", when=look.finish, repair_hours=2)
    test = next(
        a.id
        for a in case().network.activities
        if a.kind is Kind.TEST and a.reach == look.reach and a.lines == tuple(look.lines)
    )
    at = look.finish + timedelta(hours=20)
    place = {"alignment": look.alignment, "from_ft": look.from_ft, "to_ft": look.to_ft}
    repair = RepairReported(**place, what="The joint.", when=at - timedelta(hours=2))
    more: list[tuple[datetime, Event]] = [(look.finish, failed), *([(repair.when, repair)] if mended else [])]
    entries = written(case().site, case().network, [*said, *more, (at, Finished(activity=test, when=at))])
    state = stands(entries, at + timedelta(hours=1)).work[test].state
    assert state is (WorkState.DONE if mended else WorkState.AGAIN)
