"""A limit on open trench that the order of the work alone cannot keep: the reasons are told, and what to do."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from random import Random

import pytest

import scheduler
from scheduler import Options
from scheduler.cli.main import main
from scheduler.explain.conflicts import conflicts
from scheduler.explain.repairs import repairs
from scheduler.ledger.events import Finished
from scheduler.network.derive import derive
from scheduler.network.model import Network
from scheduler.network.open_at_once import open_together
from tests.benchmarks.site_generator import random_small_site
from tests.derived import Records, changed, network, record
from tests.happenings import entries
from tests.kept_plans import kept_plan
from tests.small_site import damaged, line_of


def _tested_whole(limit_ft: float, hold_hours: float = 0.25) -> Network:
    """Return the small site with water over all its 200 ft, tested over its whole length, and a limit."""

    def change(r: Records) -> None:
        r["limits"]["open_trench_ft"] = limit_ft
        water = record(r, "lines", "W1")
        water["test"].update(over="line", hold_hours=hold_hours)
        water["route"] = [{"alignment": "M", "from": 0, "to": 160}, {"alignment": "B", "from": 0, "to": 40}]

    return network(change)


@pytest.mark.parametrize(("limit_ft", "too_much"), [(199, True), (200, False), (100, True), (201, False)])
def test_what_stands_open_for_a_test_over_the_whole_line_is_counted(limit_ft: float, too_much: bool) -> None:
    assert bool(open_together(_tested_whole(limit_ft))) is too_much


def test_reaches_that_can_be_done_one_after_another_are_not_counted_together() -> None:
    assert not open_together(network())
    assert not open_together(network(lambda r: r["limits"].update(open_trench_ft=100)))
    assert open_together(network(lambda r: r["limits"].update(open_trench_ft=99)))


def test_reaches_open_at_once_are_counted_too() -> None:
    def two(r: Records) -> None:
        r["limits"] = {"reaches_open": 2}
        record(r, "lines", "W1")["test"].update(over="line")
        record(r, "lines", "W1")["route"] = [
            {"alignment": "M", "from": 0, "to": 160},
            {"alignment": "B", "from": 0, "to": 40},
        ]

    assert open_together(network(two))


def _two_lines_tested_whole(r: Records) -> None:
    """Let each stretch of the main run wait, for its cover, for a test of a line that goes on into the branch."""
    water = record(r, "lines", "W1")
    water["test"]["over"] = "line"
    route = [{"alignment": "M", "from": 100, "to": 160}, {"alignment": "B", "from": 0, "to": 40}]
    r["lines"].append(water | {"id": "W2", "name": "Water to house", "offset_in": 0, "route": route})


def test_what_is_dug_already_stands_open_during_all_that_is_still_to_come() -> None:
    case = scheduler.load(changed(_two_lines_tested_whole))
    before = kept_plan(case, Options(only_finish=True)).plan
    assert before.status == "optimal", "the main run is dug, tested and covered a stretch at a time"
    when = case.network.clock.when(case.network.data_date) + timedelta(days=1, hours=7)
    dug = [Finished(activity=f"{reach}/dig", when=when) for reach in ("R1", "R2")]
    found = scheduler.replan(case, entries((when, e) for e in dug), when + timedelta(hours=1), before=before)
    (conflict,) = found.conflicts
    (told,) = [m.because for m in conflict.members if m.because.startswith("At most 160 ft")]
    assert "By what has been dug and the order of the work alone 200 ft stand open at one time" in told
    assert "Let 200 ft of trench stand open at once, instead of 160." in {r.text for r in conflict.repairs}


@pytest.mark.parametrize("hold_hours", [0.25, 0.0])
def test_a_test_over_more_trench_than_may_stand_open_has_its_reasons_and_ways_out(hold_hours: float) -> None:
    net = _tested_whole(180, hold_hours)
    (found,) = conflicts(net)
    assert found.minimal
    assert {r.kind for r in found.rules} == {"open limit", "whole test"}
    said = [r.because for r in found.rules]
    assert "At most 180 ft of trench may stand open." in said
    assert any("Water to shed is tested over its whole length: all 200 ft of it stay uncovered" in s for s in said)
    (ways,) = repairs(net, [found])
    told = {w.text for w in ways}
    assert "Let 200 ft of trench stand open at once, instead of 180." in told
    assert any("test each reach alone before it is covered, its ends capped" in text for text in told)


def test_a_plan_that_cannot_be_says_why_whatever_the_search_has_time_for() -> None:
    case = scheduler.load(changed())
    impossible = scheduler.plan(
        scheduler.Case(case.path, case.sha256, case.site, _tested_whole(180), case.layout),
        Options(only_finish=True, finish_effort=0.01, conflict_effort=0.001),
    )
    assert impossible.plan.status == "infeasible"
    (conflict,) = impossible.plan.conflicts
    assert conflict.minimal
    assert len(conflict.members) == 2
    assert conflict.members[0].because == (
        "At most 180 ft of trench may stand open. By the order of the work alone 200 ft stand open at one time, during "
        '"Pressure test of Water to shed, whole length": R1, R2, R3.'
    )
    assert len(conflict.repairs) == 2


def test_no_site_that_can_be_planned_is_counted_out() -> None:
    rng = Random(11)
    for _ in range(12):
        assert not open_together(derive(random_small_site(rng)))


def test_the_command_ends_with_3_and_the_reason_and_check_names_the_line_of_a_reach_that_is_too_long(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    tested = damaged(
        ("open_trench_ft: 160", "open_trench_ft: 180"),
        ("hold_hours: 0.25, over: reach}", "hold_hours: 0.25, over: line}"),
        (
            "- {alignment: M, from: 0+00, to: 1+00}\n      - {alignment: B",
            "- {alignment: M, from: 0+00, to: 1+60}\n      - {alignment: B",
        ),
    )
    site = tmp_path / "site.yaml"
    site.write_text(tested, encoding="utf-8")
    assert main(["plan", str(site), "--out", str(tmp_path / "out")]) == 3
    said = " ".join(capsys.readouterr().out.split())
    assert (
        "At most 180 ft of trench may stand open. By the order of the work alone 200 ft stand open at one time" in said
    )
    assert "Let 200 ft of trench stand open at once, instead of 180, finished" in said
    short = damaged(("open_trench_ft: 160", "open_trench_ft: 80"))
    site.write_text(short, encoding="utf-8")
    assert main(["check", str(site)]) == 2
    told = capsys.readouterr().err
    assert f"site.yaml:{line_of(short, 'id: R1, alignment > to:')}: reaches[1] 'R1' to:" in told
    assert "Split the reach at 0+50, or raise `open_trench_ft` to 100 or more." in told
