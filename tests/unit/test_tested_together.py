"""How far one test goes: the whole line where all of it can stand open, else parts, with the joints between them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

import scenarios
from scheduler.case import Case, load
from scheduler.findings import Severity
from scheduler.network.derive import derive, setting_of
from scheduler.network.kind import Kind
from scheduler.network.network_check import check_network
from scheduler.network.open_at_once import open_together
from scheduler.site.files import load_site
from tests.derived import Records, changed, hold, link, network, record, waits

FOLDER = Path(scenarios.__file__).parent


def _main(r: Records, **more: object) -> None:
    """Let the water line run along the main run alone, and an inspector read its test."""
    record(r, "lines", "W1")["route"] = [{"alignment": "M", "from": 0, "to": 160}]
    record(r, "lines", "W1")["test"] = {"kind": "pressure", "hold_hours": 2} | more
    r["limits"] = {}
    look = record(r, "inspections", "I1")
    r["inspections"].append(look | {"id": "I2", "stage": "pressure_test", "kinds": ["water"]})


def _sections(change: Callable[[Records], object]) -> list[tuple[str, ...]]:
    return [t.reaches for t in setting_of(changed(change)).tests.of_line["W1"]]


def test_a_line_is_tested_over_its_whole_length_unless_the_file_says_otherwise() -> None:
    net = network(_main)
    assert _sections(_main) == [("R1", "R2")]
    for shade in ("R1:2/L0/shade", "R2/L0/shade"):
        assert link(net, "line/W1/test", shade).lag == net.clock.ticks(hours=2)
        assert waits(net, shade, "look/I2/line/W1")
    assert net.notes == ()


def _tight(r: Records, **more: object) -> None:
    _main(r, **more)
    r["limits"] = {"open_trench_ft": 165}


def test_what_cannot_stand_open_at_once_is_tested_in_parts_and_the_joint_between_is_checked_by_itself() -> None:
    net = network(_tight)
    assert _sections(_tight) == [("R1",), ("R2",)], "200 ft with the branch that the lighting runs on into"
    joint = net.by_id["line/W1/joint-M-100"]
    assert (joint.kind, joint.reach) == (Kind.TEST, "R2")
    for lay in ("R1/L0/lay-W1", "R2/L0/lay-W1"):
        assert waits(net, joint.id, lay)
    assert waits(net, "R2/L0/shade", joint.id)
    assert not waits(net, "R1:2/L0/shade", "R2/L0/lay-W1"), "the first part can be covered, save its end"
    (note,) = net.notes
    assert (note.finding.rule, note.finding.severity, note.reaches) == ("joint-not-tested", Severity.NOTE, ("R1", "R2"))
    assert "200 ft would stand open at once, of 165 ft that may" in note.finding.text
    assert check_network(net) == []
    assert open_together(net) == []


def test_a_line_tested_in_parts_of_several_reaches_is_seen_once_for_each() -> None:
    net = derive(load_site(FOLDER / "lantern-street.yaml"))
    test = net.by_id["line/water-main/test-1"]
    assert (test.reach, test.alignment, test.from_ft, test.to_ft) == ("", "street", 0, 195)
    look = hold(net, "hold/water-test-look/line/water-main-1")
    assert {net.by_id[g].reach for g in look.gates} == {"west-end", "lots-1-2", "lots-3-4", "mews-crossing"}
    where = sorted(n.finding.where for n in net.notes)
    assert where == ["Lantern Street joint trench 0+08", *3 * ["Lantern Street joint trench 1+95"]], "sewer, water, gas"


def test_a_joint_between_reaches_that_are_each_tested_alone_is_checked_by_itself_before_its_cover() -> None:
    def by_reach(r: Records) -> None:
        _main(r, over="reach")

    net = network(by_reach)
    assert "R1/L0/test-W1" in net.by_id
    joint = net.by_id["line/W1/joint-M-100"]
    assert (joint.kind, joint.reach) == (Kind.TEST, "R2")
    assert waits(net, "R2/L0/shade", joint.id)
    (note,) = net.notes
    assert note.finding.severity is Severity.NOTE
    assert "It is made and checked by itself." in note.finding.text
    assert "the file asks for a test of each reach by itself" in note.finding.text


def test_a_way_that_is_filled_the_same_day_is_tested_by_itself() -> None:
    def drive(r: Records) -> None:
        _main(r)
        access = {"what": "Barn drive", "closed_only": "09:00-15:00", "at_night": "filled"}
        record(r, "reaches", "R2").update(surface="gravel", access=access)

    assert _sections(drive) == [("R1",), ("R2",)]
    assert "Barn drive is dug and filled the same day" in network(drive).notes[0].finding.text


def test_all_lines_across_one_joint_keep_the_order_of_the_pipe_that_falls() -> None:
    def sewer(r: Records) -> None:
        _tight(r)
        pipe = {"id": "S", "name": "Sewer", "kind": "sewer", "trade": "gc", "material": "pvc_sewer", "size_in": 4}
        pipe |= {"use": "lateral", "route": [{"alignment": "M", "from": 0, "to": 160}], "offset_in": 0}
        r["lines"].append(pipe | {"cover_in": 50, "test": {"kind": "leak"}})
        r["rules"] = []

    net = network(sewer)
    gated = {a.lines[0]: a.reach for a in net.activities if "/joint-" in a.id}
    assert len(gated) == 2
    assert len(set(gated.values())) == 1


def test_check_names_the_joints_that_no_test_takes_in() -> None:
    case: Case = load(FOLDER / "orchard-lane.yaml")
    told = [q for q in case.looked.uncovered if "No test takes in the joint" in q.text]
    assert [(q.about, q.reaches) for q in told] == [("Main drive trench 0+84", ("barn-drive", "orchard-row"))]
    assert told[0] in case.looked.at("orchard-row").uncovered
    assert told[0] not in case.looked.at("lane-verge").uncovered


@pytest.mark.parametrize("name", ["orchard-lane", "lantern-street"])
def test_no_joint_is_covered_before_the_test_or_the_check_over_it(name: str) -> None:
    site = load_site(FOLDER / f"{name}.yaml")
    net, tests = derive(site), setting_of(site).tests
    held: dict[str, set[str]] = {}
    for k in net.links:
        if net.by_id[k.before].kind is Kind.TEST and net.by_id[k.after].kind is Kind.SHADE:
            held.setdefault(k.before, set()).add(net.by_id[k.after].reach)
    together = {frozenset(s.reaches) for sections in tests.of_line.values() for s in sections if len(s.reaches) > 1}
    assert together
    over_a_line = [reaches for id_, reaches in held.items() if id_.startswith("line/")]
    assert all(any(reaches >= part for reaches in over_a_line) for part in together)
    for joint in tests.untested:
        ends = {a.id for a in net.activities if a.lines == (joint.line,) and "/joint-" in a.id}
        (check,) = [id_ for id_ in ends if id_.endswith(f"-{joint.stations[1]:g}")]
        assert held[check] == {joint.laid_in_order[1]}


def test_the_joint_with_what_is_laid_later_is_checked_once_both_sides_are_tested() -> None:
    net = derive(load_site(FOLDER / "lantern-street.yaml"))
    check = "line/gas-main/joint-street-8"
    before = {k.before for k in net.links if k.after == check}
    tests = {a.id for a in net.activities if a.kind is Kind.TEST and a.lines == ("gas-main",)}
    assert len(before & tests) == 2
    shades = [net.by_id[k.after] for k in net.links if k.before == check]
    assert shades
    assert all(s.kind is Kind.SHADE and (s.from_ft, s.to_ft) == (0.0, 8.0) for s in shades)
