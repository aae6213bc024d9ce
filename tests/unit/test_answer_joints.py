"""A main is not covered where a branch is missing, nor a joint before its test: the answer, and the oracle's."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import cache
from zoneinfo import ZoneInfo

import pytest

import scheduler
from scheduler import Case, bundled_sites
from scheduler.cli import hold_points, main
from scheduler.ledger.cover_answer import CoverAnswer, CoverVerdict, may_cover
from scheduler.ledger.covering import CoverGround
from scheduler.ledger.events import Event, Finished, HoldReleased, InspectionPassed
from scheduler.ledger.state import fold
from tests.oracle.facts import Question
from tests.oracle.oracle import Oracle
from tests.records import written

DONE = datetime(2027, 3, 8, 12, tzinfo=ZoneInfo("America/Denver"))
LOOKED = DONE + timedelta(days=2, hours=-2)
ASKED = LOOKED + timedelta(hours=2)


@cache
def case() -> Case:
    return scheduler.load(bundled_sites()["orchard-lane"])


def verdict(missing: set[str], ground: CoverGround) -> CoverVerdict:
    return answered(missing, ground).verdict


def answered(missing: set[str], ground: CoverGround) -> CoverAnswer:
    """Answer when all work and looks in the open trench are done and released, save some."""
    site, network = case().site, case().network
    said: list[tuple[datetime, Event]] = [
        (DONE, Finished(activity=a.id, when=DONE))
        for a in network.activities
        if a.kind.needs_open_trench and a.id not in missing
    ]
    for hold in network.holds:
        inspection = next((i for i in site.inspections if hold.look.startswith(f"look/{i.id}/")), None)
        if inspection is not None and inspection.stage in ("lines_laid", "pressure_test") and hold.look not in missing:
            who, when = inspection.released_by or "", LOOKED
            said.append((when, InspectionPassed(looks=(hold.look,), inspector=who, when=when)))
            said.append(
                (when, HoldReleased(hold=hold.id, person=who, role="inspector", evidence="Seen on site.", when=when))
            )
    entries = written(site, network, said)
    answer = may_cover(site, network, fold(entries), ground, ASKED, asked=ASKED)
    question = Question(ground.alignment, ground.from_ft, ground.to_ft, ground.only_shading, ground.layer, ASKED, ASKED)
    assert Oracle([(e, site) for e in entries], site, network, question).verdict() == answer.verdict
    return answer


YARD = CoverGround("main", 0, 60, only_shading=True, layer=0)
ROW = CoverGround("main", 84, 160, only_shading=True, layer=0)
VERGE = CoverGround("main", 160, 220, only_shading=True, layer=0)
CORNER = CoverGround("main", 84, 160, only_shading=True)


GARDEN, MAIN, POLE = (
    "look/water-test/line/garden-water",
    "look/water-test/line/water-2",
    "look/conduit-look/pole-hedge/L0",
)


@pytest.mark.parametrize(
    ("missing", "ground"),
    [
        ({"kitchen-garden/L0/lay-garden-water", GARDEN}, YARD),
        ({"line/garden-water/test", GARDEN}, YARD),
        ({GARDEN}, YARD),
        ({"line/water/test-2", MAIN}, ROW),
        ({MAIN}, ROW),
        ({MAIN}, VERGE),
        ({"line/water/joint-main-84"}, ROW),
        ({"pole-hedge/L0/lay-service", POLE}, CORNER),
    ],
)
def test_what_joins_a_stretch_or_is_tested_with_it_is_waited_for(missing: set[str], ground: CoverGround) -> None:
    assert missing <= case().network.by_id.keys()
    assert verdict(set(), ground) is CoverVerdict.YES
    assert verdict(missing, ground) is CoverVerdict.NO


def test_a_look_at_the_end_of_a_branch_that_a_line_runs_on_into_is_not_waited_for() -> None:
    assert verdict({POLE}, CORNER) is CoverVerdict.YES, "the corner is laid on both sides"


def test_a_yes_says_which_end_of_a_line_stays_out_of_the_cover_until_its_joint_is_made() -> None:
    joint = "line/water/joint-main-84"
    name = case().network.by_id[joint].name
    drive = CoverGround("main", 60, 84, only_shading=True, layer=0)
    answer = answered({joint}, drive)
    assert answer.verdict is CoverVerdict.YES
    assert answer.left_open == (f'Leave the end of the line there uncovered until this is on record: "{name}".',)
    assert answered({joint}, CoverGround("main", 62, 70, only_shading=True, layer=0)).left_open == ()
    assert answered(set(), drive).left_open == (), "the joint is made"
    assert answered({joint}, ROW).left_open == (), "this side waits for the joint"


def test_the_terminal_says_it_below_the_yes(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    answer = answered({"line/water/joint-main-84"}, CoverGround("main", 60, 84, only_shading=True, layer=0))
    monkeypatch.setattr(hold_points, "may_cover", lambda *_, **__: answer)
    site = str(bundled_sites()["orchard-lane"])
    assert main(["holds", site, "--at", "main:0+60", "--to", "0+84", "--shading", "--layer", "0"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert said.startswith("Yes. Nothing on record stands against covering there")
    assert "- Leave the end of the line there uncovered until this is on record: " in said
