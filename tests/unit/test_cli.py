"""The command line as a user meets it: what it prints, what it writes, and its exit codes."""

from __future__ import annotations

import json
from datetime import timedelta
from pathlib import Path

import pytest

import scheduler
from scheduler import bundled_sites
from scheduler.assembly import schedule_of
from scheduler.audit import audit
from scheduler.cli import main
from scheduler.explain.chain import chain_to
from scheduler.plan import read_plan
from tests.small_site import SMALL_SITE, damaged

STAGES = ["finish", "exposure", "money", "steadiness", "earliness"]


@pytest.fixture
def site(tmp_path: Path) -> Path:
    path = tmp_path / "small.yaml"
    path.write_text(SMALL_SITE, encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder of a planned small site, to be read only."""
    folder = tmp_path_factory.mktemp("planned")
    (folder / "small.yaml").write_text(SMALL_SITE, encoding="utf-8")
    assert main(["plan", str(folder / "small.yaml"), "--out", str(folder)]) == 0
    return folder


def run(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    code = main([str(w) for w in words])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def test_plan_writes_an_audited_plan(site: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "plan", site, "--out", tmp_path / "out", "--curve")
    assert code == 0
    plan = read_plan(tmp_path / "out" / "plan.json")
    assert plan.status == "optimal"
    assert [s.name for s in plan.stages] == STAGES
    assert all(s.bound is not None and s.gap is not None and s.bound_kind for s in plan.stages)
    assert [p.slack_days for p in plan.curve] == [0.0, 0.5, 1.0, 2.0]
    assert "Proved: no plan that keeps these rules finishes earlier." in out
    assert out.split("\n\n")[1].startswith("Layout: What was asked is kept, but ")
    assert "Trenches kill." in out
    assert "pass the first time" in out
    assert "90%" in out
    network = scheduler.load(site).fitting(plan).network
    assert plan.margin_percent == 5, "the finish stands with it, and not with 10 %"
    assert audit(network, schedule_of(plan, network)) == []
    code, out, _ = run(capsys, "audit", site, tmp_path / "out" / "activities.csv")
    assert (code, out.split("\n\n")[0]) == (0, "The dates keep every rule.")
    assert "What these dates leave undone" in out, "a test of each reach leaves a joint untested"


def test_two_runs_write_the_same_activities_and_visits(
    site: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    written = []
    for name in ("one", "two"):
        assert run(capsys, "plan", site, "--out", tmp_path / name)[0] == 0
        plan = json.loads((tmp_path / name / "plan.json").read_text(encoding="utf-8"))
        written.append(json.dumps([plan["activities"], plan["visits"]]))
        written.append((tmp_path / name / "activities.csv").read_text(encoding="utf-8"))
    assert written[:2] == written[2:]


def test_moved_dates_are_caught_with_their_smallest_mending(
    planned: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    rows = (planned / "activities.csv").read_text(encoding="utf-8").splitlines()
    dig = next(i for i, row in enumerate(rows) if "/dig," in row)
    cells = rows[dig].split(",")
    last = rows[-1].split(",")
    rows[dig] = ",".join([*cells[:-2], *last[-2:]])
    (tmp_path / "moved.csv").write_text("\n".join(rows), encoding="utf-8")
    code, out, _ = run(capsys, "audit", planned / "small.yaml", tmp_path / "moved.csv")
    assert code == 1
    assert "The smallest changes that fix these:" in out


def test_a_target_too_early_ends_with_a_conflict(
    site: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    early = damaged(
        ("target_finish: 2026-07-10", "target_finish: 2026-06-12"),  # a day after digging may begin
        ("bookings:\n  - {id: BK1, of: U1, start: 2026-06-30 09:00}\n", ""),  # after the target it would be refused
    )
    site.write_text(early, encoding="utf-8")
    code, out, _ = run(capsys, "plan", site, "--out", tmp_path)
    assert code == 3
    assert "These cannot hold together" in out
    assert "to be finished by" in out
    plan = read_plan(tmp_path / "plan.json")
    assert plan.status == "infeasible"
    assert any("to be finished by" in m.because for c in plan.conflicts for m in c.members)


def test_bad_input_lists_every_fault_and_nothing_else(
    site: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    site.write_text(SMALL_SITE + "nonsense: 1\nmore: 2\n", encoding="utf-8")
    code, out, err = run(capsys, "plan", site, "--out", tmp_path / "out")
    assert (code, out) == (2, "")
    assert "nonsense" in err
    assert "more" in err
    assert f"{site.name}:" in err
    assert "Traceback" not in err
    assert not (tmp_path / "out").exists()


def test_a_plan_says_what_the_journal_tells_of_cover_before_release(
    site: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    network = scheduler.load(site).network
    gate = network.by_id[network.holds[0].gates[0]]
    stretch = (gate.alignment, str(gate.from_ft), str(gate.to_ft))
    at = (network.clock.when(0) + timedelta(days=5)).replace(hour=12)
    when = f"{at:%Y-%m-%d %H:%M}"
    covered = ("report", site, "covered", "--now", when, *stretch)
    assert run(capsys, *covered)[0] == 2
    assert run(capsys, *covered, "--despite", "It is filled.")[0] == 1
    code, out, err = run(capsys, "plan", site, "--out", tmp_path)
    assert code == 1
    assert "was covered" in out
    assert "replan" in err
    found = [f for f in read_plan(tmp_path / "plan.json").findings if f.rule == "hold/covered"]
    assert found
    assert all(f.severity == "stop" and f.text in out for f in found)


@pytest.mark.parametrize(
    "words",
    [
        ["plan", "x.yaml", "--slack", "nan"],
        ["plan", "x.yaml", "--slack", "-1"],
        ["plan", "x.yaml", "--slack", "1e9"],
        ["plan", "x.yaml", "--slack", "much"],
        ["bench", "x.sm", "--seconds", "0"],
        ["app", "--port", "99999"],
    ],
)
def test_numbers_that_mean_nothing_are_refused(words: list[str], capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        main(words)
    assert left.value.code == 2
    assert f"argument {words[-2]}: " in capsys.readouterr().err


def test_a_plan_of_another_job_is_bad_input_in_one_sentence(planned: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, _, err = run(capsys, "audit", bundled_sites()["orchard-lane"], planned / "plan.json")
    assert code == 2
    known = {a.id for a in scheduler.load(bundled_sites()["orchard-lane"]).network.activities}
    unknown = [a.id for a in read_plan(planned / "plan.json").activities if a.id not in known]
    assert len(unknown) > 5
    assert err.count("This plan is of another site") == 1
    assert not any(f"Found {id_};" in err for id_ in unknown)


def test_every_fault_of_a_file_that_is_no_plan_is_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "plan.json"
    for content, faults in {
        b'{"format": "jointtrench-plan", "site": {}}': ["site.name: Field", "data_date: Field", "status: Field"],
        b'{"site": {"name": "A"}, "data_date": "2027-03-01T07:00", "status": "optimal"}': ["data_date: Input should"],
        b"\xff\xfe\x00": ["not plain text in UTF-8"],
        b"": ["the file: Invalid JSON"],
    }.items():
        file.write_bytes(content)
        code, out, err = run(capsys, "why", file)
        assert (code, out) == (2, "")
        assert all(f"{file}: " in err and fault in err for fault in faults)


def test_a_place_that_cannot_hold_the_files_is_told_before_the_work(
    site: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("scheduler.plan", lambda *_, **__: pytest.fail("solved in vain"))
    code, _, err = run(capsys, "plan", site, "--out", site)
    assert code == 2
    assert f"Found {site}" in err


def test_finish_given_up_is_not_told_as_the_earliest(
    site: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    _, out, _ = run(capsys, "plan", site, "--out", tmp_path, "--slack", "3")
    plan = read_plan(tmp_path / "plan.json")
    assert plan.finish is not None
    assert plan.finish_bound is not None
    assert plan.finish > plan.finish_bound
    assert "this plan gives some of that up" in out


@pytest.mark.parametrize("command", ["plan", "check", "audit"])
def test_a_missing_file_is_bad_input(command: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    extra = [tmp_path / "dates.csv"] if command == "audit" else []
    code, _, err = run(capsys, command, tmp_path / "none.yaml", *extra)
    assert code == 2
    assert "none.yaml" in err


def test_why_tells_a_story_without_ids(planned: Path, capsys: pytest.CaptureFixture[str]) -> None:
    plan = read_plan(planned / "plan.json")
    code, out, _ = run(capsys, "why", planned / "plan.json")
    assert code == 0
    last = max(plan.activities, key=lambda a: a.finish)
    assert out.startswith(last.name.split(",")[0])
    assert not [a.id for a in plan.activities if a.id in out]
    network = scheduler.load(planned / "small.yaml").network
    steps = chain_to(network, schedule_of(plan, network), last.id)
    assert len(steps) > 3
    told = " ".join(out.split())
    at = [told.index(f"{network.by_id[s.activity].name}: ") for s in reversed(steps)]
    assert at == sorted(at)


def test_why_of_a_folder_names_the_plan_in_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "why", tmp_path)
    assert (code, out) == (2, "")
    assert "This is a folder. Give the plan in it: " in err
    assert str(tmp_path / "plan.json") in err


def test_why_names_the_nearest_when_it_knows_no_such_activity(
    planned: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, _, err = run(capsys, "why", planned / "plan.json", "Dig")
    assert code == 2
    assert "fits several activities" in err


@pytest.mark.parametrize("name", bundled_sites())
def test_the_bundled_sites_keep_every_layout_rule(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "check", bundled_sites()[name])
    assert code == 0
    assert "The layout breaks no rule." in out
    assert "Trenches kill." in out


def test_assess_tells_all_fourteen_checks(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "assess", site)
    assert code == 0
    assert out.count("Source: ") == 14
