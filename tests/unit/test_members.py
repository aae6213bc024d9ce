"""Crews that split: whom each kind of work takes, what may go on at once, and what is said of it."""

from __future__ import annotations

from typing import get_args

import pytest

from scheduler.audit import audit
from scheduler.costs.charges import charges
from scheduler.errors import BadInput
from scheduler.network.kind import Kind
from scheduler.network.model import Network
from scheduler.schedule import Schedule
from scheduler.site.files import read_site
from scheduler.site.work_kinds import WorkKind
from scheduler.solve.outcome import Options
from scheduler.solve.run import solve
from scheduler.steadiness import who_takes
from tests.damaging import start_at
from tests.derived import Records, network, only_own_work, record, split_crew
from tests.small_site import FILE, damaged


def needs(net: Network, activity: str) -> dict[str, int]:
    return dict(net.by_id[activity].needs)


def proved(net: Network) -> Schedule:
    outcome = solve(net, Options(only_finish=True, workers=1))
    assert outcome.schedule is not None
    assert outcome.schedule.finish == outcome.finish_bound
    assert audit(net, outcome.schedule) == []
    return outcome.schedule


def test_each_kind_of_work_takes_its_members_and_one_that_is_not_named_the_whole_crew() -> None:
    net = network(split_crew)
    assert needs(net, "R2/dig") == {"crew/gc": 0, "machine/digger": 1, "crew/gc/operator": 1}
    assert needs(net, "R2/bed") == {"crew/gc": 0, "crew/gc/pipe_layer": 2}
    assert needs(net, "R2/L0/shade") == {"crew/gc": 0, "crew/gc/pipe_layer": 1}
    assert needs(net, "R2/lifts") == {
        "crew/gc": 0, "machine/digger": 1, "crew/gc/operator": 1, "crew/gc/pipe_layer": 2
    }  # fmt: skip
    assert needs(net, "R2/L0/lay-P1") == {"crew/elec": 1}, "another trade, whose members are not given"
    (note,) = [n.finding for n in net.notes if n.finding.rule == "whole-crew"]
    assert note.where == "Sample Ditching"
    assert "fill" in note.text
    assert "dig" not in note.text


def test_a_member_whom_no_work_takes_is_told() -> None:
    def surveyor(r: Records) -> None:
        split_crew(r)
        gc = record(r, "trades", "gc")
        gc["members"].append({"skill": "surveyor"})
        rest = sorted({a.kind.value for a in network().activities if "crew/gc" in dict(a.needs)})
        named = {k for need in gc["work_needs"] for k in need["work"]}
        gc["work_needs"].append({"work": [k for k in rest if k not in named], "members": [{"skill": "operator"}]})

    (note,) = [n.finding for n in network(surveyor).notes if n.finding.where == "Sample Ditching"]
    assert (note.rule, note.text) == ("member-idle", "No work here takes them, so they bind no date: surveyor.")


def test_two_crews_have_twice_the_members() -> None:
    def two(r: Records) -> None:
        split_crew(r)
        record(r, "trades", "gc")["crews"] = 2

    found = {r.id: (r.name, r.capacity, r.kind.value, r.because) for r in network(two).resources if "crew/gc/" in r.id}
    assert found == {
        "crew/gc/operator": (
            "Sample Ditching, operator", 2, "member", "Sample Ditching has 1 operator in each of its 2 crews."
        ),
        "crew/gc/pipe_layer": (
            "Sample Ditching, pipe layer", 4, "member", "Sample Ditching has 2 pipe layers in each of its 2 crews."
        ),
    }  # fmt: skip


def test_without_members_nothing_of_a_network_changes() -> None:
    def alone(r: Records) -> None:
        record(r, "trades", "gc").update(members=[], work_needs=[])

    assert network(alone) == network()
    assert not any(r.kind.value == "member" for r in network().resources)


def test_what_a_crew_costs_is_counted_by_its_days_at_work_as_before() -> None:
    def costs(net: Network) -> dict[str, object]:
        return {c.id: c for c in charges(net) if "crew/gc" in c.id}

    assert costs(network(split_crew)) == costs(network())


def test_an_operator_who_digs_leaves_the_others_free_and_the_plan_is_shorter() -> None:
    def whole(r: Records) -> None:
        only_own_work(r)

    def apart(r: Records) -> None:
        whole(r)
        split_crew(r)

    net = network(apart)
    before, after = proved(network(whole)), proved(net)
    assert after.finish < before.finish
    busy = [(a, after.dates[a.id]) for a in net.activities if dict(a.needs).get("crew/gc") == 0]
    digs = [span for a, span in busy if a.kind is Kind.DIG]
    by_hand = [span for a, span in busy if a.kind in (Kind.BED, Kind.LAY, Kind.SHADE)]
    assert any(d[0] < h[1] and h[0] < d[1] for d in digs for h in by_hand), "the operator digs while others work"


def test_the_audit_names_a_member_who_is_in_two_places() -> None:
    net = network(split_crew)
    schedule = solve(net, Options(only_finish=True, finish_effort=0.1)).schedule
    assert schedule is not None
    damaged_plan = start_at(net, schedule, dict.fromkeys(("R1/dig", "R2/dig"), schedule.dates["R2/dig"][0]))
    found = next(f for f in audit(net, damaged_plan) if f.rule == "crew/gc/operator")
    assert '"Sample Ditching, operator" is needed in too many places at once' in found.text
    assert found.remedy == "Let one of them wait, or bring in one more member."


def test_whoever_takes_a_piece_is_told_of_members_as_of_crews() -> None:
    net = network(split_crew)
    schedule = solve(net, Options(only_finish=True, finish_effort=0.1)).schedule
    assert schedule is not None
    layers = net.resource_by_id["crew/gc/pipe_layer"]
    assert who_takes(net, layers, schedule.dates)["R2/bed"] == (0, 1)


def test_the_kinds_of_a_site_file_are_those_of_the_jobs_own_work() -> None:
    others = {k for k in Kind if k.by_others} | {Kind.MILESTONE, Kind.PLAIN}
    assert set(get_args(WorkKind)) == {k.value for k in Kind if k not in others}


MEMBERS = """\
    members:
      - {skill: operator}
      - {skill: pipe_layer, count: 2}
    work_needs:
      - work: [dig, bed]
        members: [{skill: operator, count: 1}]
"""


@pytest.mark.parametrize(
    ("old", "new", "marks", "rule", "said"),
    [
        ("operator, count: 1", "operater", "operater", "site.reference", "did you mean 'operator'?"),
        ("operator, count: 1", "operator, count: 2", "operator, count: 2", "site.value", "than one crew"),
        ("1}]", "1}, {skill: operator}]", "1}, {skill", "site.twice", "stands twice"),
        ("skill: pipe_layer, count: 2", "skill: operator", "- {skill: operator", "site.twice", "stands twice"),
        ("[dig, bed]", "[dig, dig]", "[dig, dig]", "site.twice", "said twice"),
        ("[dig, bed]", "[digg]", "[digg]", "site.value", "did you mean 'dig'?"),
    ],
)  # fmt: skip
def test_faults_of_members_are_told_at_their_line(old: str, new: str, marks: str, rule: str, said: str) -> None:
    wrong = MEMBERS.replace(old, new)
    assert wrong != MEMBERS
    text = damaged(("    day_rate: 900\n", "    day_rate: 900\n" + wrong))
    with pytest.raises(BadInput) as raised:
        read_site(text, file=FILE)
    (found,) = raised.value.findings
    assert found.rule == rule
    assert said in found.text
    assert (found.file, found.line) == (FILE, max(n for n, row in enumerate(text.splitlines(), 1) if marks in row))


def test_needs_without_members_are_a_fault() -> None:
    text = damaged(
        ("    day_rate: 900\n", "    day_rate: 900\n    work_needs: [{work: [dig], members: [{skill: operator}]}]\n")
    )
    with pytest.raises(BadInput) as raised:
        read_site(text, file=FILE)
    (found,) = raised.value.findings
    assert (found.rule, found.required) == ("site.missing", "members beside it")
