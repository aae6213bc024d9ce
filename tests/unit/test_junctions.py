"""Where lines join: the branch is laid, joined, seen and tested before the main is covered there."""

from __future__ import annotations

from pathlib import Path

import pytest

import scenarios
from scheduler.cli.looked import looked_at as told
from scheduler.explain.rules import rules_of
from scheduler.network.derive import derive
from scheduler.network.kind import Kind
from scheduler.network.network_check import check_network
from scheduler.site.files import load_site
from scheduler.trench.junctions import Junction, junctions, misplaced, unjoined
from scheduler.trench.looked_at import look
from tests.derived import Records, changed, hold, link, network, record, waits

FOLDER = Path(scenarios.__file__).parent


def _shed(r: Records, **more: object) -> None:
    """Let the water of the shed be a line of its own that joins the main at 0+40, in the middle of a reach."""
    record(r, "alignments", "B")["leaves"] = {"alignment": "M", "station": "0+40"}
    main = record(r, "lines", "W1")
    branch = main | {"id": "W2", "name": "Shed water", "use": "branch"}
    branch["route"] = [{"alignment": "B", "from": 0, "to": 40}]
    main["route"] = [{"alignment": "M", "from": 0, "to": 100}]
    r["lines"].append(branch | more)
    r["inspections"][0]["kinds"] = ["power", "water"]


def test_a_main_is_not_covered_before_the_branch_that_joins_it_is_laid_and_tested() -> None:
    net = network(_shed)
    joined = link(net, "R3/L0/lay-W2", "R1:2/L0/shade")
    assert (
        joined.because
        == "Shed water joins Water to shed at Main run 0+40 by a tee: laid and joined before the main is covered there."
    )
    tested = link(net, "R3/L0/test-W2", "R1:2/L0/shade")
    assert tested.lag == net.clock.ticks(hours=0.25)
    assert not waits(net, "R3/L0/shade", "R1/L0/lay-W1"), "the first feet of the branch lie in the trench of the main"
    assert check_network(net) == []


def test_what_joins_a_main_is_tested_and_seen_with_it() -> None:
    net = network(_shed)
    for after in ("R1/L0/test-W1", "look/I1/R1/L0"):
        assert waits(net, after, "R3/L0/lay-W2")
    assert "R1:2/L0/shade" in hold(net, "hold/I1/R3/L0").gates, "and the look at the branch's end holds the cover too"


def test_a_line_that_runs_on_into_a_branch_is_laid_there_before_its_corner_is_covered() -> None:
    net = network()
    corner = link(net, "R3/L0/lay-W1", "R1:2/L0/shade")
    assert corner.because.startswith("Water to shed runs on into the branch at Main run 1+00: laid on both sides")
    assert not any(k.before == "R3/L0/lay-W1" and k.after == "R1:1/L0/shade" for k in net.links), "only at the corner"


def test_a_joint_with_work_of_its_own_is_made_when_both_lines_are_laid() -> None:
    net = network(lambda r: _shed(r, joins=[{"line": "W1", "kind": "tap", "hours": 2}]))
    join = net.by_id["R1:2/join-W2-to-W1"]
    assert (join.kind, join.work, join.reach, join.lines) == (Kind.JOIN, net.clock.ticks(hours=2), "R1", ("W2", "W1"))
    for before in ("R1/L0/lay-W1", "R3/L0/lay-W2"):
        assert waits(net, join.id, before)
    for after in ("R1:2/L0/shade", "R1/L0/test-W1", "look/I1/R1/L0"):
        assert waits(net, after, join.id)


def test_a_line_may_join_another_kind_or_nothing_by_what_the_file_says() -> None:
    assert [(j.line, j.into) for j in junctions(changed(_shed))] == [("W2", "W1")]
    alone = changed(lambda r: _shed(r, joins=[]))
    assert junctions(alone) == []
    assert [line.id for line, _ in unjoined(alone)] == []
    other = changed(lambda r: _shed(r, joins=[{"line": "P1"}]))
    assert [(j.line, j.into) for j in junctions(other)] == [("W2", "P1")]
    assert list(misplaced(other)) == []

    def short_of_it(r: Records) -> None:
        _shed(r, joins=[{"line": "W1"}])
        record(r, "lines", "W1")["route"] = [{"alignment": "M", "from": 0, "to": 30}]

    away = changed(short_of_it)
    assert junctions(away) == []
    assert [(line.id, joint.line) for line, joint in misplaced(away)] == [("W2", "W1")]


def test_check_names_the_joints_it_looked_at_and_the_lines_that_join_nothing() -> None:
    looked = look(changed(_shed))
    assert [j.text for j in looked.joints] == ["Shed water joins Water to shed at Main run 0+40 by a tee."]
    assert looked.at("R1").joints == looked.at("R3").joints == looked.joints
    assert looked.at("R2").joints == ()
    head = (
        "Where lines join: laid and joined before the main is covered there; tested and seen where the file asks for it"
    )
    assert head in told(changed(_shed), looked)

    def stranger(r: Records) -> None:
        _shed(r)
        record(r, "lines", "W2")["kind"] = "gas"

    open_ = [q for q in look(changed(stranger)).uncovered if "joins nothing" in q.text]
    assert [(q.about, q.reaches) for q in open_] == [("Shed water", ("R3",))]


def test_a_main_that_must_be_covered_before_the_branch_is_told_instead_of_held() -> None:
    def over_the_other(r: Records) -> None:
        _shed(r)
        record(r, "lines", "W1")["cover_in"] = 60
        record(r, "lines", "C1")["cover_in"] = 30

    net = network(over_the_other)
    assert check_network(net) == [], "nothing waits in a circle"
    assert any(k.before == "R3/L0/lay-W2" and net.by_id[k.after].kind.buries for k in net.links)


@pytest.mark.parametrize(("name", "count"), [("orchard-lane", 3), ("lantern-street", 40)])
def test_every_joint_of_the_bundled_sites_holds_the_main(name: str, count: int) -> None:
    site = load_site(FOLDER / f"{name}.yaml")
    found: list[Junction] = junctions(site)
    assert len(found) == count
    assert list(unjoined(site)) == list(misplaced(site)) == []
    net = derive(site)
    assert not any("junction" in n.finding.rule or "riser" in n.finding.rule for n in net.notes)
    told = [r for r in rules_of(net) if r.kind == "junction"]
    assert len({r.because for r in told}) >= count
