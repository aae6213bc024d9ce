"""`jointtrench export` as a user meets it: what it writes, how it follows earlier exports, and what it refuses."""

from __future__ import annotations

import json
import shutil
from contextlib import closing
from datetime import timedelta
from functools import cache
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from icalendar import Calendar

import scheduler
from scheduler.cli import main
from scheduler.cli.export import first_day
from scheduler.ledger.events import PlanAccepted
from scheduler.ledger.place import place_of
from scheduler.plan import Plan, read_plan
from scheduler.site.files import load_site
from scheduler.solve.outcome import Options
from tests.kept_plans import kept_plan
from tests.papers import read_pdf, read_table
from tests.small_site import SMALL_SITE

AWAY = SMALL_SITE.replace("weekly: [mon-fri 07:00-15:30]", 'weekly: ["mon,thu,fri 07:00-15:30"]')
"""The same job with a crew that is away in the middle of the week."""
assert AWAY != SMALL_SITE


@cache
def solved(text: str, folder: Path) -> Plan:
    """Return the best plan of a site's text; solved once for all tests."""
    site = folder / "small.yaml"
    site.write_text(text, encoding="utf-8")
    planned = kept_plan(scheduler.load(site), Options(only_finish=True))
    assert planned.broken == ()
    assert planned.plan.finish is not None
    return planned.plan


@pytest.fixture(scope="session")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("solved")


def laid_out(text: str, folder: Path, at: Path) -> Path:
    """Put a site and its plan into a folder, as `jointtrench plan` does; return the plan's path."""
    at.mkdir(parents=True, exist_ok=True)
    plan = solved(text, folder)
    (at / "small.yaml").write_text(text, encoding="utf-8")
    path = at / "plan.json"
    path.write_text(plan.model_dump_json(indent=1), encoding="utf-8")
    return path


def run(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    code = main(["export", *(str(w) for w in words)])
    said = capsys.readouterr()
    return code, said.out, said.err


def events(path: Path) -> dict[str, object]:
    return {str(e["uid"]): e for e in Calendar.from_ical(path.read_bytes().decode()).walk("VEVENT")}


@pytest.fixture(autouse=True)
def journals(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    path = tmp_path / "journals"
    path.mkdir()
    monkeypatch.setenv("JOINTTRENCH_JOURNAL", str(path))
    return path


def test_it_writes_papers_calendars_tables_and_tags_for_everybody(folder, tmp_path, capsys):
    plan = laid_out(SMALL_SITE, folder, tmp_path)
    code, out, _ = run(capsys, plan, "--out", tmp_path / "papers", "--link", "https://trench.example/")
    assert code == 0
    written = sorted(p.name for p in (tmp_path / "papers").iterdir())
    said = [line.strip() for line in out.splitlines()[1:]]
    assert sorted(said) == written
    assert {"look-ahead Everybody.pdf", "calendar Everybody.ics", "table of work.csv", "hold tags.pdf"} <= set(written)
    assert all(p.stat().st_size > 100 for p in (tmp_path / "papers").iterdir())
    known = read_plan(plan)
    work = read_table((tmp_path / "papers" / "table of work.csv").read_text(encoding="utf-8-sig"))
    assert len(work) == sum(a.kind != "inspect" for a in known.activities)
    assert read_pdf((tmp_path / "papers" / "look-ahead Everybody.pdf").read_bytes()).sizes[0] == (612, 792)
    assert len(events(tmp_path / "papers" / "calendar Everybody.ics")) >= len(work)


def test_one_party_weeks_day_and_paper_can_be_asked_for(folder, tmp_path, capsys):
    plan = laid_out(SMALL_SITE, folder, tmp_path)
    code, out, _ = run(
        capsys, plan, "--out", tmp_path / "o", "--trade", "elec", "--weeks", 1, "--from", "2026-06-15", "--paper", "a4"
    )
    assert code == 0
    assert "Mon 15 Jun to Sun 21 Jun 2026" in out
    assert "Hold tags have no QR code" in out
    trade = next(p for p in (tmp_path / "o").iterdir() if p.name.startswith("look-ahead"))
    assert [p.suffix for p in sorted((tmp_path / "o").glob("look-ahead*"))] == [".pdf"]
    pdf = read_pdf(trade.read_bytes())
    assert "Mon 15 Jun to Sun 21 Jun 2026" in pdf.text
    assert pdf.sizes[0] == pytest.approx((595.28, 841.89), abs=0.01)


def test_a_second_export_into_the_same_folder_follows_the_first(folder, tmp_path, capsys):
    out = tmp_path / "papers"
    assert run(capsys, laid_out(SMALL_SITE, folder, tmp_path / "a"), "--out", out)[0] == 0
    first = events(out / "calendar Everybody.ics")
    assert {int(e["sequence"]) for e in first.values()} == {0}
    assert run(capsys, laid_out(AWAY, folder, tmp_path / "b"), "--out", out)[0] == 0
    second = events(out / "calendar Everybody.ics")
    assert first.keys() <= second.keys()
    moved = {u for u, e in first.items() if second[u].decoded("dtstart") != e.decoded("dtstart")}
    assert moved
    assert all(second[u]["sequence"] == 1 for u in moved)


@pytest.mark.parametrize("by", ["earlier", "journal"])
def test_earlier_plans_number_the_changes(by, folder, tmp_path, capsys, journals):
    before, now = laid_out(SMALL_SITE, folder, tmp_path / "a"), laid_out(AWAY, folder, tmp_path / "b")
    words = ["--earlier", before] if by == "earlier" else []
    if by == "journal":
        journal = place_of(load_site(tmp_path / "b" / "small.yaml"), tmp_path / "b" / "small.yaml").open()
        digest = journal.keep_plan(before.read_text(encoding="utf-8"))
        journal.append(PlanAccepted(plan=digest, data_date=read_plan(before).data_date), by="Ann")
        journal.close()
    assert run(capsys, now, "--out", tmp_path / "o", "--at", "2026-06-01 07:00", *words)[0] == 0
    numbers = {int(e["sequence"]) for e in events(tmp_path / "o" / "calendar Everybody.ics").values()}
    assert numbers == {0, 1}


def test_names_that_are_paths_stay_in_the_folder(folder, tmp_path, capsys):
    tricky = SMALL_SITE.replace("V. Sample", "../../V").replace("City of Sample", "../../../City/of\\\\Sample")
    assert tricky != SMALL_SITE
    plan = laid_out(tricky, folder, tmp_path / "in" / "here")
    assert run(capsys, plan, "--out", tmp_path / "in" / "here" / "o")[0] == 0
    assert sorted(p.name for p in tmp_path.iterdir()) == ["in", "journals"]
    assert sorted(p.name for p in (tmp_path / "in").iterdir()) == ["here"]
    assert sorted(p.name for p in (tmp_path / "in" / "here").iterdir()) == ["o", "plan.json", "small.yaml"]
    assert any("City of Sample" in p.name for p in (tmp_path / "in" / "here" / "o").iterdir())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--trade", "elecc"], 'nearest: "elec"'),
        (["--link", "trench"], "cannot be used"),
        (["--site", "none.yaml"], "needs its site file"),
        (["--earlier", "none.json"], "none.json"),
    ],
)
def test_what_cannot_be_done_is_said_and_nothing_is_written(words, said, folder, tmp_path, capsys):
    plan = laid_out(SMALL_SITE, folder, tmp_path)
    code, _, err = run(capsys, plan, "--out", tmp_path / "o", *words)
    assert code == 2
    assert said in err
    assert "Traceback" not in err
    assert not (tmp_path / "o").exists()


@pytest.mark.parametrize("words", [["--weeks", "4"], ["--from", "tomorrow"], ["--paper", "a5"]])
def test_choices_that_are_none_are_refused_by_the_command_line(words, folder, tmp_path, capsys):
    plan = laid_out(SMALL_SITE, folder, tmp_path)
    with pytest.raises(SystemExit) as stopped:
        main(["export", str(plan), *words])
    assert stopped.value.code == 2
    assert words[1] in capsys.readouterr().err


def test_a_site_that_has_changed_since_is_refused(folder, tmp_path, capsys):
    plan = laid_out(SMALL_SITE, folder, tmp_path)
    site = tmp_path / "small.yaml"
    site.write_text(site.read_text(encoding="utf-8") + "# changed\n", encoding="utf-8")
    code, _, err = run(capsys, plan, "--out", tmp_path / "o", "--site", site)
    assert code == 2
    assert "is not the site file this plan was made from, or has changed since" in err
    assert run(capsys, plan, "--out", tmp_path / "o")[0] == 2


def test_a_plan_of_another_job_or_a_foreign_calendar_is_refused(folder, tmp_path, capsys):
    plan = laid_out(SMALL_SITE, folder, tmp_path)
    other = json.loads(plan.read_text(encoding="utf-8"))
    other["site"]["name"] = "Another job"
    (tmp_path / "other.json").write_text(json.dumps(other), encoding="utf-8")
    code, _, err = run(capsys, plan, "--out", tmp_path / "o", "--earlier", tmp_path / "other.json")
    assert code == 2
    assert "is a plan of another job" in err
    out = tmp_path / "papers"
    out.mkdir()
    (out / "calendar Everybody.ics").write_bytes(b"\xff\xfe nothing")
    code, _, err = run(capsys, plan, "--out", out)
    assert code == 2
    assert "cannot be read, so its events cannot be updated in place" in err
    assert [p.name for p in out.iterdir()] == ["calendar Everybody.ics"]


def test_a_plan_without_dates_gives_papers_that_say_so(folder, tmp_path, capsys):
    plan = laid_out(SMALL_SITE, folder, tmp_path)
    none = {"status": "infeasible", "finish": None, "activities": [], "visits": [], "holds": [], "calls": []}
    plan.write_text(json.dumps(json.loads(plan.read_text(encoding="utf-8")) | none), encoding="utf-8")
    assert run(capsys, plan, "--out", tmp_path / "o")[0] == 0
    text = read_pdf((tmp_path / "o" / "look-ahead Everybody.pdf").read_bytes()).text
    assert "No plan exists." in text
    assert "Nothing is planned in these days." in text
    assert events(tmp_path / "o" / "calendar Everybody.ics") == {}
    shutil.rmtree(tmp_path / "o")


def test_a_look_ahead_begins_at_the_moment_asked_else_today_within_the_plan_else_at_its_data_date(folder: Path) -> None:
    plan = solved(SMALL_SITE, folder)
    zone = ZoneInfo(plan.site.time_zone)
    begins, ends = plan.data_date, plan.finish
    assert ends is not None
    within = begins + timedelta(days=3, hours=5)
    assert first_day(plan, within, begins, zone) == within.astimezone(zone).date(), "--at"
    assert first_day(plan, None, within, zone) == within.astimezone(zone).date(), "today, while the plan goes on"
    for other in (begins - timedelta(days=9), ends + timedelta(days=9)):
        assert first_day(plan, None, other, zone) == begins.astimezone(zone).date()
        assert first_day(plan, other, within, zone) == other.astimezone(zone).date()


def test_a_plan_from_another_folder_is_printed_with_the_journal_that_is_named(folder, tmp_path, capsys, monkeypatch):
    monkeypatch.delenv("JOINTTRENCH_JOURNAL", raising=False)
    plan = laid_out(SMALL_SITE, folder, tmp_path / "elsewhere")
    where = tmp_path / "kept" / "job.db"
    where.parent.mkdir()
    case = scheduler.load(tmp_path / "elsewhere" / "small.yaml")
    with closing(place_of(case.site, case.path, str(where)).open()) as journal:
        scheduler.put_in_force(journal, read_plan(plan), by="test", at=read_plan(plan).data_date)
    asked = (plan, "--trade", "everybody", "--at", "2026-06-09 07:00", "--out", tmp_path / "papers")
    code, out, _ = run(capsys, *asked, "--journal", where)
    assert code == 0
    assert "Tue 9 Jun" in out
    text = read_pdf((tmp_path / "papers" / "look-ahead Everybody.pdf").read_bytes()).text
    assert "Record at entry 1" in " ".join(text.split())
    code, _, err = run(capsys, *asked, "--journal", tmp_path / "nowhere.db")
    assert code == 2
    assert "holds no journal of this job" in err
