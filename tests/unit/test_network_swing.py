"""People away from the machine: who stands at the end of a run or line, and where outside work is done."""

from __future__ import annotations

from pathlib import Path

import pytest

import scenarios
from scheduler.audit import audit
from scheduler.network.derive import derive
from scheduler.network.line_ends import loose_ends
from scheduler.network.lowering import lower
from scheduler.network.model import Network, Space
from scheduler.network.plan_distance import drawn, within
from scheduler.site.files import load_site
from scheduler.site.ground import Branch
from scheduler.solve.outcome import Options
from scheduler.solve.run import solve
from scheduler.trench.checks.view import View
from scheduler.trench.open_questions import unknown
from tests.damage import prove_beside_the_machine
from tests.damaging import start_at
from tests.derived import Records, changed, network, record

BRANCHES = {"B": Branch(alignment="M", station=100.0)}


def with_mandrel(records: Records) -> None:
    record(records, "lines", "P1")["test"] = {"kind": "mandrel"}


def beside(net: Network, activity: str) -> Space:
    (space,) = [s for s in net.spaces if not s.reach and activity in dict(s.occupants)]
    return space


def machines(space: Space) -> set[str]:
    return {id_ for id_, group in space.occupants if group == "machine"}


@pytest.mark.parametrize(
    ("parts", "ends"),
    [
        ([("M", 0, 100)], [("M", 0), ("M", 100)]),
        ([("M", 0, 100), ("M", 100, 160)], [("M", 0), ("M", 160)]),
        ([("M", 0, 100), ("B", 0, 40)], [("M", 0), ("B", 40)]),
        ([("B", 0, 40), ("M", 100, 160)], [("B", 40), ("M", 160)]),
        ([("M", 0, 160), ("B", 0, 40)], [("M", 0), ("M", 160), ("B", 40)]),
        ([("M", 0, 10), ("M", 10, 0)], [("M", 0), ("M", 10)]),
    ],
)
def test_a_run_ends_where_none_of_its_parts_joins_another(
    parts: list[tuple[str, float, float]], ends: list[tuple[str, float]]
) -> None:
    assert loose_ends(parts, BRANCHES) == tuple(ends)


def test_people_who_prove_a_run_stand_at_its_ends_away_from_the_machine() -> None:
    net = network(with_mandrel)
    space = beside(net, "line/P1/prove")
    assert space.where == "Main run 0+00 and Main run 1+60"
    assert {"R1/dig", "R1:1/lifts", "R2/dig", "R2/lifts"} <= machines(space)
    assert not {"R3/dig", "R3/lifts"} & machines(space), "60 ft from either end"
    assert "within 20 ft" in space.because
    assert any("Main run 0+00" in c.words for c in lower(net).capacities if c.record == space.id)


def test_only_fill_within_the_swing_of_an_end_keeps_people_away() -> None:
    def short(r: Records) -> None:
        with_mandrel(r)
        r["limits"]["swing_ft"] = 5

    near = machines(beside(network(short), "line/P1/prove"))
    assert "R1:1/lifts" in near, "0+00 to 0+06"
    assert "R1:2/lifts" not in near, "it begins 6 ft away"


def test_a_machine_round_the_corner_of_a_branch_counts_as_near() -> None:
    def shed(r: Records) -> None:
        record(r, "lines", "L1")["pull_string"] = True
        record(r, "lines", "L1")["route"] = [{"alignment": "B", "from": 0, "to": 40}]

    near = machines(beside(network(shed), "line/L1/prove"))
    assert {"R1/dig", "R2/dig", "R3/dig"} <= near


def test_no_plan_lets_people_prove_or_pull_beside_the_machine_and_the_audit_names_who_does() -> None:
    net = network(with_mandrel)
    space = beside(net, "line/P1/prove")
    schedule = solve(net, Options(only_finish=True, finish_effort=1.0)).schedule
    assert schedule is not None
    assert audit(net, schedule) == []
    fill = schedule.dates["R2/lifts"][0]
    found = [f for f in audit(net, start_at(net, schedule, {"line/P1/prove": fill})) if f.rule == space.id]
    assert found
    assert "within the machine's swing" in found[0].text
    assert found[0].severity == "stop"


def test_a_test_over_a_whole_line_has_people_all_along_it() -> None:
    def whole(r: Records) -> None:
        record(r, "lines", "W1")["test"]["over"] = "line"
        r["inspections"].append(
            record(r, "inspections", "I1") | {"id": "I9", "stage": "pressure_test", "kinds": ["water"]}
        )

    net = network(whole)
    for reach in ("R1", "R3"):
        (space,) = [s for s in net.spaces if s.reach == reach]
        assert dict(space.occupants)["line/W1/test"] == "gc"
        assert dict(space.occupants)["look/I9/line/W1"] == "inspector"


def test_outside_work_without_a_place_is_at_what_is_kept_open_for_it_else_at_the_ends_of_its_lines() -> None:
    def moved(r: Records, **more: object) -> None:
        work = record(r, "outside_work", "U1")
        work.pop("at", None)
        work.update(more)

    net = network(moved)
    (space,) = [s for s in net.spaces if s.reach == "R1"]
    assert "outside/U1" in dict(space.occupants), "0+00 to 0+06 is kept open for it"

    def free(r: Records) -> None:
        moved(r)
        r["keep_open"] = []

    assert beside(network(free), "outside/U1").where == "Main run 0+00 and Main run 1+60"

    def inside(r: Records) -> None:
        free(r)
        moved(r, not_at_trench="In the house")

    assert not any("outside/U1" in dict(s.occupants) for s in network(inside).spaces)


def test_outside_work_that_could_be_anywhere_is_asked_about() -> None:
    def nowhere(r: Records) -> None:
        work = record(r, "outside_work", "U1")
        work.pop("at", None)
        work["lines"] = []
        r["keep_open"] = []

    (asked,) = [q for q in unknown(View.of(changed(nowhere))) if "swing" in q.text]
    assert "cannot be checked" in asked.text
    assert "not_at_trench" in asked.fill_in

    def house(r: Records) -> None:
        nowhere(r)
        record(r, "outside_work", "U1")["not_at_trench"] = "In the house"

    assert not [q for q in unknown(View.of(changed(house))) if "swing" in q.text]


def beside_each_other(apart_ft: float) -> Records:
    """Return paths by which the shed branch runs beside the main run, though it leaves it far from there."""
    return {"M": [[0, 0], [160, 0]], "B": [[100, 0], [100, apart_ft], [60, apart_ft]]}


@pytest.mark.parametrize(("apart_ft", "near"), [(4, True), (19, True), (21, False)])
def test_trenches_that_run_side_by_side_are_near_in_plan(apart_ft: float, near: bool) -> None:
    def drawn(r: Records) -> None:
        for id_, path in beside_each_other(apart_ft).items():
            record(r, "alignments", id_)["path"] = path
        record(r, "reaches", "R3").update({"from": 25, "to": 40})
        record(r, "lines", "W1")["route"][1:] = []
        record(r, "lines", "L1")["route"] = [{"alignment": "B", "from": 25, "to": 40}]

    (space,) = [s for s in network(drawn).spaces if s.reach == "R1"]
    assert ("R3/dig" in dict(space.occupants)) is near


@pytest.mark.parametrize(
    ("one", "other", "distance", "near"),
    [
        ([(0.0, 0.0), (10.0, 0.0)], [(5.0, -5.0), (5.0, 5.0)], 0.1, True),
        ([(0.0, 0.0), (10.0, 0.0)], [(13.0, 4.0)], 5.1, True),
        ([(0.0, 0.0), (10.0, 0.0)], [(13.0, 4.0)], 5.0, False),
        ([(0.0, 0.0), (10.0, 0.0)], [(4.0, 3.0), (6.0, 3.0)], 3.0, False),
        ([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0)], [(14.0, 9.0), (20.0, 9.0)], 4.1, True),
    ],
)
def test_how_near_two_stretches_come_in_plan(
    one: list[tuple[float, float]], other: list[tuple[float, float]], distance: float, near: bool
) -> None:
    assert within(one, other, distance) is near
    assert within(other, one, distance) is near


def test_part_of_a_path_has_its_bends_and_ends() -> None:
    path = [(0.0, 0.0), (100.0, 0.0), (100.0, 50.0)]
    assert drawn(path, 90, 120) == [(90, 0), (100, 0), (100, 20)]
    assert drawn(path, 100, 100) == [(100, 0)]
    assert drawn(path, 140, 200) == [(100, 40), (100, 50)]


def test_whoever_makes_the_final_look_stands_at_the_ends_of_its_lines() -> None:
    def final(r: Records) -> None:
        look = record(r, "inspections", "I1") | {"id": "F", "stage": "final", "kinds": ["power"]}
        r["inspections"].append(look)

    assert beside(network(final), "look/F/all").where == "Main run 0+00 and Main run 1+60"


@pytest.mark.parametrize("name", ["orchard-lane", "lantern-street"])
def test_proving_beside_the_machine_is_named_on_the_bundled_sites(name: str) -> None:
    net = derive(load_site(Path(scenarios.__file__).parent / f"{name}.yaml"))
    schedule = solve(net, Options(only_finish=True, start_effort=0.1, finish_effort=0.1)).schedule
    assert schedule is not None
    damaged = prove_beside_the_machine(net, schedule)
    assert damaged is not None
    assert damaged[1].startswith("beside/line/")
    assert damaged[1] in {f.rule for f in audit(net, damaged[0])}
