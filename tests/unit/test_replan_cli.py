"""`jointtrench replan` on the small invented site: what it prints, accepts and refuses."""

from __future__ import annotations

import csv
from collections.abc import Callable
from pathlib import Path

import pytest

from scheduler import accepted_plan, load
from scheduler.cli import main
from scheduler.ledger.place import place_of
from scheduler.ledger.state import fold
from scheduler.plan import read_plan
from scheduler.replan import GROUPS_AT_MOST
from scheduler.site.files import load_site
from tests.small_site import SMALL_SITE

Run = Callable[..., tuple[int, str, str]]
NOON = "2026-06-10 12:00"
SLIP = ("delayed", "wire", "--not-before", "2026-06-25 08:00", "--about", "outside/U1", "--now", NOON)


@pytest.fixture
def run(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Run:
    (tmp_path / "small.yaml").write_text(SMALL_SITE, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("JOINTTRENCH_JOURNAL", raising=False)

    def command(*words: str) -> tuple[int, str, str]:
        try:
            code = main([words[0], "small.yaml", *words[1:]])
        except SystemExit as ended:
            code = int(ended.code or 0)
        out, err = capsys.readouterr()
        return code, out, err

    return command


def test_alternatives_are_shown_written_and_accepted_and_the_old_plan_stays(run: Run, tmp_path: Path) -> None:
    assert run("plan", "--out", ".", "--quiet")[0] == 0
    first = read_plan(tmp_path / "plan.json")
    assert run("report", *SLIP)[0] == 0
    code, out, _ = run("replan", "--as-of", NOON, "--plan", "plan.json", "--out", "new", "--accept", "keep")
    assert code == 0
    for words in ("keep every booking", "finish soonest", "fewest calls", "least cost", "will finish", "To know:"):
        assert words in out
    assert "U. Sample (Sample Power) said they cannot come before Thu 25 Jun 08:00" in " ".join(out.split())
    assert "Accepted: keep every booking" in out
    assert "Cautions" in out
    written = read_plan(tmp_path / "new" / "plan-keep.json")
    journal = place_of(load_site(tmp_path / "small.yaml"), tmp_path / "small.yaml").open()
    assert accepted_plan(journal, journal.entries()) == written
    assert written != first
    # Accepting another one leaves the first acceptance, and its plan, in the record.
    code, out, err = run("replan", "--as-of", NOON, "--accept", "cost", "--why", "cheaper")
    assert code == 0
    assert "No plan was accepted yet" not in err
    plans = fold(journal.entries()).plans
    assert len(plans) == 2
    assert plans[1].why == "cheaper"
    assert all(journal.attachment(p.plan) is not None for p in plans)
    journal.close()


def test_a_plan_accepted_for_another_content_is_said_and_not_taken(run: Run, tmp_path: Path) -> None:
    site = tmp_path / "small.yaml"
    assert run("plan", "--out", ".", "--quiet")[0] == 0
    assert run("report", *SLIP)[0] == 0
    assert run("replan", "--as-of", NOON, "--accept", "keep")[0] == 0
    changed = "A plan was accepted, but the site file has changed since."
    assert changed not in run("today", "--at", NOON)[2]
    site.write_text(SMALL_SITE + "# one more word\n", encoding="utf-8")
    _, _, err = run("replan", "--as-of", NOON)
    assert changed in err
    assert "No plan was accepted yet" not in err
    assert changed in run("today", "--at", NOON)[2]
    assert "plan.json was made from other content of the site file" in run("replan", "--plan", "plan.json")[2]


def test_giving_a_job_its_id_leaves_its_plans_as_they_are(run: Run, tmp_path: Path) -> None:
    site = tmp_path / "small.yaml"
    without = "".join(line for line in SMALL_SITE.splitlines(True) if "job_id" not in line)
    site.write_text(without.replace("  invented: true\n", ""), encoding="utf-8")
    assert run("plan", "--out", ".", "--quiet")[0] == 0
    for words in (("journal", "small.yaml", "begin"), ("journal", "small.yaml", "new-id", "--yes")):
        before = site.read_bytes()
        assert main(words) == 0
        assert site.read_bytes() != before
        assert load(site).made(read_plan(tmp_path / "plan.json"))
        assert main(["export", "plan.json", "--out", "papers"]) == 0
    site.write_text(site.read_text(encoding="utf-8") + "# one more word\n", encoding="utf-8")
    assert not load(site).made(read_plan(tmp_path / "plan.json"))


def test_a_plan_made_anew_its_open_trench_and_its_audit_are_the_same_beside_a_journal_and_without(
    run: Run, tmp_path: Path
) -> None:
    assert run("plan", "--out", "without", "--quiet")[0] == 0
    audited = run("audit", "without/plan.json")
    assert run("report", *SLIP)[0] == 0
    assert run("plan", "--out", "beside", "--quiet")[0] == 0
    without, beside = (read_plan(tmp_path / folder / "plan.json") for folder in ("without", "beside"))
    assert beside.activities == without.activities
    assert beside.visits == without.visits
    assert [s.model_copy(update={"seconds": 0.0}) for s in beside.stages] == [
        s.model_copy(update={"seconds": 0.0}) for s in without.stages
    ]
    assert run("audit", "beside/plan.json")[:2] == (audited[0], audited[1].replace("without", "beside"))
    assert audited[0] == 0


def test_calls_stand_in_the_plan_of_the_plan_command(run: Run, tmp_path: Path) -> None:
    """By hand: the city looks on Monday, Wednesday and Friday and asks for a day; the crew's day ends at 15:30.

    Friday 19 June is a public holiday, so the call for Monday the 22nd is made by Thursday's close.
    """
    assert run("plan", "--out", ".", "--quiet")[0] == 0
    plan = read_plan(tmp_path / "plan.json")
    for visit in plan.visits:
        (call,) = [c for c in plan.calls if c.id == f"call/I1/{visit.start.date()}"]
        day = 18 if visit.start.day == 22 else visit.start.day - (3 if visit.start.weekday() == 0 else 1)
        assert (call.by.month, call.by.day, call.by.hour, call.by.minute) == (visit.start.month, day, 15, 30)
        assert call.to.startswith("V. Sample")
    assert {c.about for c in plan.calls} >= {"Tie-in at the pole", "Sample Electric, first day on site"}


def test_without_a_plan_the_clash_is_told_and_the_exit_code_is_3(run: Run) -> None:
    assert run("plan", "--out", ".", "--quiet")[0] == 0
    never = tuple("2027-06-25 08:00" if w == "2026-06-25 08:00" else w for w in SLIP)
    assert run("report", *never)[0] == 0
    code, out, _ = run("replan", "--as-of", NOON, "--plan", "plan.json")
    assert code == 3
    assert "cannot come before" in out
    assert "cannot all hold" in out


def test_each_reason_is_said_once_and_a_long_list_is_folded_unless_all_is_asked_for(run: Run, tmp_path: Path) -> None:
    assert run("plan", "--out", ".", "--quiet")[0] == 0
    slip = "delayed elec --not-before '2026-06-25 08:00'"
    asked = ("replan", "--as-of", NOON, "--plan", "plan.json", "--out", "tried", "--what-if", slip)
    _, folded, _ = run(*asked)
    _, whole, _ = run(*asked, "--all")
    files = sorted((tmp_path / "tried").glob("moves-*.csv"))
    assert [f.stem.removeprefix("moves-") for f in files] == [
        f.stem.removeprefix("plan-") for f in sorted((tmp_path / "tried").glob("plan-*.json"))
    ]
    tables = {f.stem: list(csv.DictReader(f.read_text(encoding="utf-8").splitlines())) for f in files}
    assert max(len(t) for t in tables.values()) > GROUPS_AT_MOST
    assert "add --all, or see the moves-*.csv" in " ".join(folded.split())
    assert "add --all" not in whole
    for block in " ".join(whole.split()).split("What moves (")[1:]:
        for reason in {r["why"] for t in tables.values() for r in t if r["why"].startswith("Part of what buys this")}:
            assert block.count(reason) <= 1
    assert len(folded.splitlines()) < len(whole.splitlines())


def test_what_if_is_worked_out_and_leaves_the_journal_as_it_is(run: Run, tmp_path: Path) -> None:
    assert run("plan", "--out", ".", "--quiet")[0] == 0
    slip = "delayed wire --not-before '2026-06-25 08:00' --about outside/U1"
    asked = ("replan", "--as-of", NOON, "--plan", "plan.json", "--out", "tried", "--what-if", slip)
    code, out, _ = run(*asked)
    assert code == 0
    assert out.startswith("What if (nothing is written down):")
    assert "Against the plan before:" in out
    assert "as little as possible moved" in out
    tried = [a.start for a in read_plan(tmp_path / "tried" / "plan-keep.json").activities]
    assert not place_of(load_site(tmp_path / "small.yaml"), tmp_path / "small.yaml").made, "no journal was begun"
    code, _, err = run(*asked, "--accept", "keep")
    assert code == 2
    assert "only supposed" in err
    assert run("report", *SLIP)[0] == 0
    assert run("replan", "--as-of", NOON, "--plan", "plan.json", "--out", "real")[0] == 0
    assert [a.start for a in read_plan(tmp_path / "real" / "plan-keep.json").activities] == tried


def test_what_is_supposed_and_cannot_be_is_told(run: Run) -> None:
    for text, words in (
        ("nonsense", "names no report"),
        ("delayed wire", "--not-before"),
        ("delayed wire --not-before 'some day'", "some day"),
        ("started no/such/work", "names nothing"),
        ("taken-over nobody --firm 'Brook Pipe' --since '2026-06-25 08:00'", "names nothing"),
        ("delayed 'wire", "cannot be read"),
    ):
        code, _, err = run("replan", "--as-of", NOON, "--what-if", text)
        assert code == 2, text
        assert words in err


def test_another_firm_that_takes_over_is_reported_and_tried(run: Run) -> None:
    assert run("plan", "--out", ".", "--quiet")[0] == 0
    over = ("elec", "--firm", "Lamp and Daughters", "--since", "2026-06-22 07:00", "--notice-days", "2")
    text = "taken-over elec --firm 'Lamp and Daughters' --since '2026-06-22 07:00' --notice-days 2"
    code, out, _ = run("replan", "--as-of", NOON, "--plan", "plan.json", "--what-if", text)
    assert code == 0
    assert "Lamp and Daughters" in out
    code, out, _ = run("report", "taken-over", *over, "--now", NOON)
    assert code == 0
    assert "Lamp and Daughters does the open work of Sample Electric" in " ".join(out.split())


def test_bad_input_is_told_and_nothing_is_done(run: Run, tmp_path: Path) -> None:
    (tmp_path / "no.json").write_text("{}", encoding="utf-8")
    code, _, err = run("replan", "--as-of", NOON, "--plan", "no.json")
    assert code == 2
    assert "no.json" in err
    code, _, err = run("replan", "--as-of", "some day")
    assert code == 2
    assert "some day" in err
    assert run("replan", "--accept", "all of them")[0] == 2
