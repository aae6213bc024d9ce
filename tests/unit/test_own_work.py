"""A user's own steps: between two stages, in a reach or once, by anybody, and holding what follows."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from pathlib import Path
from random import Random
from zoneinfo import ZoneInfo

import pytest

from scheduler.audit import audit
from scheduler.cli import main
from scheduler.ledger.cover_answer import may_cover
from scheduler.ledger.covering import CoverGround
from scheduler.ledger.state import State
from scheduler.network.derive import derive
from scheduler.network.kind import Kind
from scheduler.network.model import Network
from scheduler.schedule import Schedule
from scheduler.site.files import read_site
from scheduler.site.own_work import STAGES
from scheduler.solve.outcome import Options
from scheduler.solve.run import solve
from tests.small_site import SMALL_SITE, damaged, faults_in

QUICK = Options(workers=1, only_finish=True, start_effort=0.01, finish_effort=0.02)


def with_steps(*steps: str) -> str:
    return SMALL_SITE + "\nown_work:\n" + "".join(f"  - {{{step}}}\n" for step in steps)


def network(*steps: str) -> Network:
    return derive(read_site(with_steps(*steps), file="job.yaml"))


def steps_in(net: Network) -> list[str]:
    return [a.id for a in net.activities if a.id.startswith("own/")]


def before(net: Network, id_: str) -> set[str]:
    return {k.before for k in net.links if k.after == id_}


def after(net: Network, id_: str) -> set[str]:
    return {k.after for k in net.links if k.before == id_}


def planned(net: Network) -> Schedule:
    schedule = solve(net, QUICK).schedule
    assert schedule is not None
    assert [str(f) for f in audit(net, schedule)] == []
    return schedule


def test_a_step_between_dig_and_bed_stands_in_every_reach() -> None:
    net = network("id: geo, name: Look at the soil, after: dig, before: bed, hours: 0.5")
    assert steps_in(net) == ["own/geo/R1", "own/geo/R2", "own/geo/R3"]
    step = net.by_id["own/geo/R2"]
    assert (step.kind, step.reach, step.trade, step.from_ft, step.to_ft) == (Kind.SITE, "R2", "gc", 100, 160)
    assert before(net, "own/geo/R2") == {"R2/dig"}
    assert after(net, "own/geo/R2") == {"R2/bed"}
    assert any(("own/geo/R2", "gc") in s.occupants for s in net.spaces)
    planned(net)


def test_a_step_before_cover_stands_once_for_each_layer_of_lines() -> None:
    net = network("id: photo, name: Photographs, after: lay, before: shade, feet_per_hour: 120, reaches: [R2]")
    layers = sorted({a.layer for a in net.activities if a.reach == "R2" and a.kind is Kind.LAY})
    assert steps_in(net) == [f"own/photo/R2/L{k}" for k in layers]
    for k in layers:
        id_ = f"own/photo/R2/L{k}"
        assert before(net, id_) == {a.id for a in net.activities if a.id.startswith(f"R2/L{k}/lay-")}
        assert after(net, id_) == {f"R2/L{k}/shade"}
        assert net.by_id[id_].work * net.clock.tick_minutes == 30
    planned(net)


def test_a_step_of_some_lines_stands_only_where_they_lie() -> None:
    net = network("id: wire, name: Check the wire, after: lay, before: shade, hours: 1, lines: [W1]")
    assert {net.by_id[s].reach for s in steps_in(net)} == {"R1", "R3"}
    assert all("W1" in net.by_id[s].lines for s in steps_in(net))


def test_a_reach_without_the_stage_goes_by_the_nearest() -> None:
    net = network("id: x, name: Step, after: expose, before: protect, hours: 1, reaches: [R3]")
    assert before(net, "own/x/R3") == set()  # nothing marked, no pavement
    assert after(net, "own/x/R3") == {"R3/bed"}
    net = network("id: x, name: Step, after: test, before: inspect, hours: 1, reaches: [R3]")
    assert all(before(net, s) for s in steps_in(net))


def test_a_kept_open_piece_has_a_step_of_its_own_after_cover() -> None:
    net = network("id: seed, name: Rake and seed, after: fill, hours: 1, reaches: [R1]")
    assert steps_in(net) == ["own/seed/R1", "own/seed/R1:1"]
    assert before(net, "own/seed/R1:1") == {"R1:1/lifts"}
    planned(net)


def test_a_step_once_for_the_site_waits_for_all_reaches() -> None:
    net = network("id: fence, name: Fence the yard, before: dig, hours: 3, once: true, in_trench: false")
    assert steps_in(net) == ["own/fence"]
    assert after(net, "own/fence") == {"R1/dig", "R2/dig", "R3/dig"}
    assert net.by_id["own/fence"].reach == ""
    schedule = planned(net)
    assert all(schedule.dates[f"{r}/dig"][0] >= schedule.dates["own/fence"][1] for r in ("R1", "R2", "R3"))


def test_a_stranger_with_a_machine_works_by_the_hours_of_all() -> None:
    net = network(
        "id: core, name: Core the wall, after: dig, before: lay, hours: 1, by: Core Drillers, calendar: utility, "
        "machine: digger, reaches: [R2]"
    )
    step = net.by_id["own/core/R2"]
    assert dict(step.needs) == {"crew/gc": 1, "outside/Core Drillers": 1, "machine/digger": 1}
    assert set(step.calendar.split("&")) == {"utility", "crew", "no rain days"}
    assert "outside/Core Drillers" in net.resource_by_id
    planned(net)


def test_a_gate_with_a_releaser_is_a_hold_point() -> None:
    net = network("id: ok, name: Engineer's yes, after: bed, before: lay, hours: 1, released_by: boss, reaches: [R2]")
    hold = next(h for h in net.holds if h.look == "own/ok/R2")
    assert hold.released_by == "boss"
    assert (
        set(hold.gates)
        == after(net, "own/ok/R2")
        == {a.id for a in net.activities if a.reach == "R2" and a.kind is Kind.LAY}
    )
    assert net.by_id["own/ok/R2"].kind is Kind.CHECK
    schedule = planned(net)
    gate = hold.gates[0]
    early = replace(schedule, dates={**schedule.dates, gate: schedule.dates["own/ok/R2"]})
    assert {f"own/ok/R2 > {gate}", hold.id} <= {f.rule for f in audit(net, early)}


def test_cover_waits_until_a_gate_is_on_record() -> None:
    text = with_steps("id: photo, name: Photographs, after: lay, before: shade, hours: 1, gate: true, reaches: [R2]")
    site = read_site(text, file="job.yaml")
    net = derive(site)
    when = datetime(2026, 6, 20, 12, tzinfo=ZoneInfo("America/Denver"))
    ground = CoverGround("M", 100, 160)
    answer = may_cover(site, net, State(), ground, when)
    assert any("Photographs" in r.text for r in answer.reasons)


def test_a_step_is_on_papers_told_by_why_and_reported_like_other_work(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("JOINTTRENCH_HOME", str(tmp_path / "home"))
    file, step = tmp_path / "job.yaml", "own/core/R2"
    core = "id: core, name: Core the wall, after: dig, before: lay, hours: 1, by: Core Drillers, calendar: utility"
    file.write_text(with_steps(core), encoding="utf-8")

    def run(*words: str) -> str:
        assert main(list(words)) == 0, capsys.readouterr().err
        return capsys.readouterr().out

    run("plan", str(file), "--out", str(tmp_path / "out"))
    plan = str(tmp_path / "out" / "plan.json")
    assert "Core the wall comes after this." in run("why", plan, step)
    run("export", plan, "--site", str(file), "--out", str(tmp_path / "papers"))
    assert (tmp_path / "papers" / "calendar Core Drillers.ics").exists()
    assert "Core Drillers" in (tmp_path / "papers" / "table of work.csv").read_text(encoding="utf-8")
    when = ("--now", "2026-06-10 10:00", "--by", "boss", "--despite", "a test")
    run("report", str(file), "started", step, "--when", "2026-06-10 08:00", *when)
    assert "Finished Wed 10 Jun 09:00: Core the wall" in run(
        "report", str(file), "finished", step, "--when", "2026-06-10 09:00", *when
    )


def test_a_stretch_in_which_nothing_waits_for_a_step_is_named() -> None:
    bare = damaged(("{id: R3, alignment: B,", "{id: R3, surface: bare, alignment: B,"))
    step = "{id: a, name: Soil report, after: fill, before: compaction, hours: 1}"
    net = derive(read_site(f"{bare}\nown_work: [{step}]\n", file="job.yaml"))
    assert after(net, "own/a/R2") == {"R2/restore"}  # no compaction test; the next stage there
    told = {(n.reaches, n.finding.text) for n in net.notes if n.finding.rule == "own-work-not-awaited"}
    said = "Nothing waits for Soil report here: neither the stage 'compaction' nor a later one comes."
    assert told == {(("R3",), said)}


@pytest.mark.parametrize(
    ("step", "text"),
    [
        ("id: a, name: A, after: lay, before: dig, hours: 1", "comes before the one that it follows"),
        ("id: a, name: A, after: lay, before: lay, hours: 1", "comes before the one that it follows"),
        ("id: a, name: A, after: lay", "is not given. Found nothing; expected hours or feet_per_hour."),
        ("id: a, name: A, after: lay, hours: 1, feet_per_hour: 3", "given twice"),
        ("id: a, name: A, after: lay, hours: 1, by: X", "hours are not given. Found nothing; expected calendar."),
        ("id: a, name: A, after: lay, hours: 1, by: X, trade: gc, calendar: crew", "not by both"),
        ("id: a, name: A, after: lay, hours: 1, reaches: [R9]", "There is no reach 'R9'"),
        ("id: a, name: A, after: lay, hours: 1, machine: crane", "There is no machine 'crane'"),
        (
            "id: a, name: A, after: fill, hours: 1, released_by: boss",
            "`released_by` needs `before`: name the stage that",
        ),
        (
            "id: a, name: A, after: fill, hours: 1, gate: true",
            "`gate` needs `before`: name the stage that waits for it",
        ),
        (
            "id: a, name: A, after: lay, before: final, hours: 1",
            "Nothing ever waits for it: neither this stage nor a later one comes in any of its reaches. Found 'final'; "
            "expected an inspection of stage 'final'.",
        ),
        ("id: a, name: A, after: laying, hours: 1", "This word is not known here"),
    ],
)
def test_a_step_that_cannot_be_is_a_fault_at_its_line(step: str, text: str) -> None:
    found = faults_in(with_steps(step))
    assert len(found) == 1, found
    assert text in str(found[0]), found
    assert found[0].line == with_steps(step).rstrip().count("\n") + 1


def drawn_step(rng: Random, n: int) -> str:
    """Return one step drawn at random that some plan can keep."""
    last = STAGES.index("restore")
    first = rng.randrange(-1, last)
    then = rng.randrange(first + 1, last + 2)
    once = rng.random() < 0.2
    if once:  # between layers of several stretches at once there may be no order at all
        first, then = rng.choice([(-1, STAGES.index("dig")), (last, last + 1), (STAGES.index("fill"), last + 1)])
    said = [f"id: s{n}, name: Step {n}, hours: {rng.choice((0.5, 2))}, once: {str(once).lower()}"]
    said += [f"after: {STAGES[first]}"] * (first >= 0) + [f"before: {STAGES[then]}"] * (then <= last)
    who = ["trade: elec", "by: Somebody, calendar: city", "machine: digger", "calendar: utility"]
    who += ["gate: true"] * (then <= last)
    said += [rng.choice(who)]
    said += [rng.choice(["in_trench: false", "in_trench: true"])]
    return ", ".join(said)


@pytest.mark.parametrize("seed", range(12))
def test_sites_with_steps_drawn_at_random_have_plans_that_break_no_rule(seed: int) -> None:
    rng = Random(seed)
    planned(network(*(drawn_step(rng, n) for n in range(rng.randint(1, 3)))))
