"""Random records of the small site: no output disagrees with the record, and none sends anybody to cover too early."""

from __future__ import annotations

from contextlib import suppress
from datetime import datetime, timedelta
from functools import cache
from random import Random

import pytest

import scheduler
from app.figures.work import Ink
from app.stands import state_said
from scheduler import BadInput, Case, Options, Planned, Situation
from scheduler.case import bundled_sites
from scheduler.cli.site_today import told
from scheduler.ledger.cover_answer import CoverVerdict, may_cover
from scheduler.ledger.covering import CoverGround
from scheduler.ledger.hold_standing import CLEAR
from scheduler.situation import WorkStands, before_it
from tests.happenings import Chance, as_planned, with_tie_ins_released
from tests.kept_plans import kept_plan
from tests.records import Record
from tests.slices import slices

pytestmark = pytest.mark.property
RECORDS, EACH = 320, 10
"""How many records there are, and how many of them in one test."""


@cache
def case() -> Case:
    return scheduler.load(bundled_sites()["orchard-lane"])


@cache
def planned() -> Planned:
    return kept_plan(case(), Options(only_finish=True))


def random_situation(seed: int) -> Situation:
    """A job that goes by its plan for some days, then anything at all."""
    rng = Random(seed)
    first = case().network.clock.when(case().network.data_date)
    until = first + timedelta(days=rng.randint(0, 22), hours=rng.choice((6.5, 9, 10.25, 12, 14, 16)))
    record = Record(case().site, case().network)
    said = with_tie_ins_released(case(), as_planned(case(), planned().plan, until))
    for at, event in said:
        if rng.random() < 0.97:
            with suppress(BadInput):
                record.write(event, at)
    moment = until
    for at, event in Chance(case(), seed, until, 5).draw(rng.randint(0, 12)):
        with suppress(BadInput):
            record.write(event, at)
            moment = max(moment, at)
    moment += timedelta(minutes=rng.choice((0, 20, 300, 960)))
    return scheduler.today(case(), record.entries, moment, planned())


def to_cover_now(situation: Situation) -> list[WorkStands]:
    """Work that buries something, is due by now, and that nothing is shown to keep from going on."""
    return [
        w
        for w in situation.work.values()
        if w.kind.buries and not w.over and w.planned and w.planned[0] <= situation.moment and not before_it(w)
    ]


def ground_of(work: WorkStands) -> CoverGround:
    return CoverGround(work.alignment, work.from_ft, work.to_ft, only_shading=not work.kind.fills, layer=work.layer)


@pytest.mark.parametrize("first", slices(0, RECORDS, EACH, kept=12))
def test_no_random_record_makes_outputs_disagree_or_sends_anybody_to_cover_too_early(first: int) -> None:
    for seed in range(first, first + EACH):
        situation = random_situation(seed)
        for work in to_cover_now(situation):
            point = next((p for p in situation.holds if work.id in p.hold.gates and p.status not in CLEAR), None)
            assert point is None, (seed, work.name, point)
            answer = may_cover(case().site, case().network, situation.state, ground_of(work), situation.moment)
            held = [r for r in answer.reasons if r.kind in ("hold", "witness", "stop", "test", "trench")]
            assert answer.verdict is not CoverVerdict.NO or not held, (seed, work.name, held)
        _agree(seed, situation)


def _agree(seed: int, situation: Situation) -> None:
    """Hold the words of a page, the ink of the schedule and the words of the command against the record itself."""
    picture = scheduler_picture(situation)
    on_terminal = " ".join(told(situation).split())
    for row in planned().plan.activities:
        work = situation.work[row.id]
        on_page, ink = state_said(work), picture.ink(row)
        recorded = situation.state.actual(row.id).finish
        if "recorded done" in on_page and not row.kind.by_others and not row.kind.buries and row.work_minutes:
            assert recorded is not None, (seed, row.name)
            assert recorded <= situation.moment
        assert ("recorded done" in on_page) == (work.finished is not None and work.over), (seed, row.name)
        assert (ink is Ink.RECORDED) == (work.over or work.started is not None), (seed, row.name)
        for sentence in before_it(work):
            assert (
                sentence.split(":")[0].replace("$", "")[:20] in on_page.replace("\\", "")
                or work.over
                or ("**" in on_page)
            ), (seed, row.name, on_page)
    if situation.holds_still:
        assert "The plan holds." in on_terminal
    else:
        assert "The plan no longer holds." in on_terminal


def scheduler_picture(situation: Situation):
    from app.figures.work import Picture

    plan = planned()
    return Picture(plan.plan, plan.case.network, plan.case.site, situation.work)


def test_a_moment_of_the_record_is_the_same_however_often_it_is_asked() -> None:
    assert random_situation(3) == random_situation(3)
    assert isinstance(random_situation(3).moment, datetime)
