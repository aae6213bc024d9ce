"""Work on whole lines: crossings, order of pipe that falls, conduit runs, pulls, tests over a line."""

from __future__ import annotations

import pytest

from scheduler.network.kind import Kind
from scheduler.network.lines_work import runs_of
from scheduler.site.ground import Line, Structure
from tests.derived import Records, link, network, record, waits


def test_where_a_branch_leaves_the_lower_line_is_laid_first() -> None:
    def branch_mid_reach(r: Records) -> None:
        record(r, "alignments", "B")["leaves"] = {"alignment": "M", "station": "0+50"}
        record(r, "lines", "W1")["route"] = [{"alignment": "B", "from": 0, "to": 40}]
        record(r, "lines", "W1")["cover_in"] = 60
        record(r, "lines", "L1")["route"] = [{"alignment": "B", "from": 0, "to": 40}]

    net = network(branch_mid_reach)
    low = link(net, "R3/L0/lay-W1", "R1/L0/lay-P1")
    assert "below" in low.because
    assert waits(net, "R1/L1/lay-C1", "R3/L0/lay-W1")
    assert waits(net, "R3/L1/lay-L1", "R1/L0/lay-P1"), "and what is above on the branch comes after what it crosses"
    assert not any({k.before, k.after} == {"R3/L1/lay-L1", "R1/L1/lay-C1"} for k in net.links), "one level"


def test_lines_that_end_where_a_branch_leaves_are_not_crossed() -> None:
    def to_the_corner(r: Records) -> None:
        for line in ("P1", "C1"):
            record(r, "lines", line)["route"] = [{"alignment": "M", "from": 0, "to": 100}]
        record(r, "lines", "W1")["cover_in"] = 60

    net = network(to_the_corner)
    assert not any(k.before == "R3/L0/lay-W1" and k.after.startswith("R1/") and "/lay-" in k.after for k in net.links)


def _sewer(r: Records) -> None:
    pipe = {"id": "S", "name": "Sewer", "kind": "sewer", "trade": "gc", "material": "pvc_sewer", "size_in": 4}
    r["lines"].append(pipe | {"use": "lateral", "cover_in": 50, "route": [{"alignment": "M", "from": 0, "to": 160}]})


def test_a_pipe_that_falls_is_laid_upgrade_from_its_low_end() -> None:
    level = network(_sewer)
    assert waits(level, "R2/L0/lay-S", "R1/L0/lay-S"), "with no lower end: from the start of its route"

    def deep_end(r: Records) -> None:
        _sewer(r)
        r["lines"][-1]["route"] = [{"alignment": "M", "from": 100, "to": 160}]
        r["lines"].append(r["lines"][-1] | {"id": "T", "route": [{"alignment": "B", "from": 0, "to": 40}]})
        r["rules"] = []

    assert not waits(network(deep_end), "R3/L0/lay-T", "R2/L0/lay-S"), "two lines have no common order"
    assert not waits(network(), "R2/L0/lay-P1", "R1/L0/lay-P1"), "conduit may be laid in any order"


def _line(**more: object) -> Line:
    route = [{"alignment": "M", "from": 0, "to": 160}, {"alignment": "B", "from": 0, "to": 40}]
    base = {"id": "P1", "name": "Run", "kind": "power", "trade": "e", "material": "pvc40", "size_in": 2, "route": route}
    return Line.model_validate(base | more)


def _at(kind: str, alignment: str, station: float, lines: list[str]) -> Structure:
    place = {"alignment": alignment, "station": station, "lines": lines}
    return Structure.model_validate({"id": f"{kind}-{alignment}", "kind": kind, "name": kind} | place)


@pytest.mark.parametrize(
    ("structures", "parts"),
    [
        ([], [[("M", 0, 160), ("B", 0, 40)]]),
        ([_at("pull_box", "M", 88, ["P1"])], [[("M", 0, 88)], [("M", 88, 160), ("B", 0, 40)]]),
        ([_at("pull_box", "M", 160, ["P1"])], [[("M", 0, 160)], [("B", 0, 40)]]),
        ([_at("handhole", "B", 0, ["P1"])], [[("M", 0, 160)], [("B", 0, 40)]]),
        ([_at("riser", "M", 88, ["P1"]), _at("pull_box", "B", 9, ["other"])], [[("M", 0, 160), ("B", 0, 40)]]),
        ([_at("panel", "M", 0, ["P1"]), _at("pad", "B", 40, ["P1"])], [[("M", 0, 160), ("B", 0, 40)]]),
    ],
)
def test_a_run_of_conduit_reaches_from_pull_point_to_pull_point(
    structures: list[Structure], parts: list[list[tuple[str, float, float]]]
) -> None:
    runs = runs_of(_line(), structures)
    assert [list(run.parts) for run in runs] == parts
    assert sum(run.feet for run in runs) == 200


def _boxed(r: Records) -> None:
    box = {"id": "BX", "kind": "pull_box", "name": "Box", "alignment": "M", "station": 100, "trade": "elec"}
    r["structures"].append(box | {"lines": ["P1"]})
    record(r, "lines", "P1").update(test={"kind": "mandrel", "set_up_hours": 0.5})


def test_each_run_is_proved_once_it_is_complete_and_shaded_save_where_kept_open() -> None:
    net = network(_boxed)
    first, second = "line/P1/prove-1", "line/P1/prove-2"
    assert net.by_id[first].kind is Kind.PROVE
    assert "mandrel" in net.by_id[first].name
    assert "pull string" in net.by_id[first].name
    for done in ("R1/L0/lay-P1", "R1:2/L0/shade", "R2/set-BX"):
        assert waits(net, first, done)
    assert not waits(net, first, "R1:1/L0/shade"), "the loose end stays open"
    assert not waits(net, first, "R2/L0/shade")
    assert waits(net, second, "R2/L0/shade")
    assert waits(net, second, "R2/set-BX")


def test_a_pull_string_alone_needs_no_shading() -> None:
    net = network()
    assert waits(net, "line/P1/prove", "R2/L0/lay-P1")
    assert not waits(net, "line/P1/prove", "R2/L0/shade")
    assert "mandrel" not in net.by_id["line/P1/prove"].name


def test_no_string_is_left_where_conductors_go_in_or_none_is_wanted() -> None:
    def some(r: Records) -> None:
        record(r, "lines", "P1")["conductors"] = [{"count": 3, "size": "4/0"}]
        record(r, "lines", "C1")["pull_string"] = False

    net = network(some)
    assert "line/P1/prove" not in net.by_id
    assert "line/C1/prove" not in net.by_id


def test_conductors_are_pulled_after_cover_and_after_proof_and_before_the_tie_in() -> None:
    def cable(r: Records) -> None:
        _boxed(r)
        record(r, "lines", "P1")["conductors"] = [{"count": 3, "size": "4/0"}]

    net = network(cable)
    for run, cover in (("1", "R1:2/lifts"), ("2", "R2/lifts")):
        assert waits(net, f"line/P1/pull-{run}", cover)
        assert waits(net, f"line/P1/pull-{run}", f"line/P1/prove-{run}")
        assert waits(net, "outside/U1", f"line/P1/pull-{run}")
    assert not waits(net, "line/P1/pull-1", "R1:1/lifts"), "the loose end stays open"
    assert net.by_id["line/P1/pull-1"].one_window


def test_conductors_that_the_utility_pulls_are_not_pulled_twice() -> None:
    def theirs(r: Records) -> None:
        record(r, "lines", "P1")["conductors"] = [{"count": 3, "size": "4/0"}]
        record(r, "outside_work", "U1")["kind"] = "pull_service"

    assert not any(a.kind is Kind.PULL for a in network(theirs).activities)


def test_a_continuity_test_comes_after_cover_and_before_outside_work_that_wants_it_covered() -> None:
    def tested(r: Records) -> None:
        record(r, "lines", "P1").update(test={"kind": "continuity"})
        record(r, "outside_work", "U1")["lines_state"] = "covered"

    net = network(tested)
    assert waits(net, "line/P1/continuity", "R2/lifts")
    kept = network(lambda r: (tested(r), record(r, "keep_open", "K1").update(to=100)))
    assert waits(kept, "line/P1/continuity", "R1/L0/lay-P1"), "kept open all along, it is laid at least"
    assert not waits(kept, "line/P1/continuity", "R1/lifts")
    assert waits(net, "outside/U1", "line/P1/continuity")


def test_a_test_over_the_whole_line_holds_the_cover_of_all_of_it_and_is_seen_once() -> None:
    def whole(r: Records) -> None:
        record(r, "lines", "W1").update(joint_cure_hours=1, test={"kind": "pressure", "hold_hours": 2, "over": "line"})
        look = record(r, "inspections", "I1")
        r["inspections"].append(look | {"id": "I2", "stage": "pressure_test", "kinds": ["water"]})

    net = network(whole)
    assert "R1/L0/test-W1" not in net.by_id
    for lay in ("R1/L0/lay-W1", "R3/L0/lay-W1"):
        assert link(net, lay, "line/W1/test").lag == 4
    for shade in ("R1:2/L0/shade", "R3/L0/shade"):
        assert link(net, "line/W1/test", shade).lag == 8
        assert waits(net, shade, "look/I2/line/W1")
    assert link(net, "line/W1/test", "look/I2/line/W1").lag == 8
    assert not any(a.id.startswith("look/I2/R") for a in net.activities)
    reach_by_reach = network()
    assert not waits(reach_by_reach, "R3/L0/shade", "R1/L0/lay-W1"), "by reach, each is covered on its own"
