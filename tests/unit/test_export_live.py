"""`jointtrench export` of a live job: the papers say what `jointtrench today` says, of the accepted plan too."""

from __future__ import annotations

import shutil
from datetime import timedelta
from pathlib import Path

import pytest
from icalendar import Calendar

import scheduler
from scheduler.case import bundled_sites
from scheduler.cli import main
from scheduler.export import PaperFacts
from scheduler.ledger.events import InspectionFailed, PlanAccepted
from scheduler.ledger.place import place_of
from scheduler.network.kind import Kind
from scheduler.plan import plan_json
from scheduler.situation.plan_in_force import PlanInForce
from scheduler.situation.situation import situation_at
from tests.happenings import as_planned
from tests.outputs import by_the_record, calendar_says, look_ahead_says, table_says
from tests.papers import facts_of, read_pdf, squeezed
from tests.pictures import bundled
from tests.records import written
from tests.unit.test_papers_agree import failed_look, first_looked
from tests.unit.test_situation import planned


@pytest.fixture
def live(tmp_path: Path) -> Path:
    """Return the folder of a job whose plan was accepted and whose first look failed; its plan lies beside the site."""
    site = tmp_path / "orchard-lane.yaml"
    shutil.copy(bundled_sites()["orchard-lane"], site)
    plan = planned().plan
    (tmp_path / "plan.json").write_text(plan_json(plan), encoding="utf-8")
    case = scheduler.load(site)
    with place_of(case.site, case.path).open() as journal:
        digest = journal.keep_plan(plan_json(plan))
        at = plan.data_date - timedelta(days=1)
        journal.append(PlanAccepted(plan=digest, data_date=plan.data_date), at=at, by="Ann")
        for entry in failed_look()[0]:
            journal.append(entry.event, at=entry.at, by=entry.by)
    return tmp_path


def test_the_papers_say_what_today_says(live: Path, capsys: pytest.CaptureFixture[str]) -> None:
    site, at = live / "orchard-lane.yaml", "2027-03-04 09:30"
    assert main(["today", str(site), "--at", at]) == 1
    told = capsys.readouterr().out
    assert main(["export", str(live / "plan.json"), "--site", str(site), "--at", at, "--out", str(live / "o")]) == 0
    capsys.readouterr()
    first = read_pdf((live / "o" / "look-ahead Everybody.pdf").read_bytes()).pages[0]
    head = told[told.index("The plan no longer holds") : told.index("\n  - ")]
    assert squeezed(head) in squeezed(first)
    record = told.rstrip().split("By the record up to entry ")[1].split(".")[0]
    assert f"Record at entry {record}, Thu 4 Mar 09:30" in first
    open_ft = told.split("Trench open by the record: ")[1].split(" ft")[0]
    text = read_pdf((live / "o" / "look-ahead Everybody.pdf").read_bytes()).text
    assert f"Open tonight by the record: {open_ft} ft" in text
    tags = read_pdf((live / "o" / "hold tags.pdf").read_bytes()).text
    assert f"Failed {first_looked()}: it leaks" in tags
    events = Calendar.from_ical((live / "o" / "calendar Everybody.ics").read_bytes()).walk("VEVENT")
    assert any(str(e["summary"]).startswith("BLOCKED: Haunch and shade Water line") for e in events)


def test_at_an_earlier_moment_nothing_later_is_known(live: Path, capsys: pytest.CaptureFixture[str]) -> None:
    site = live / "orchard-lane.yaml"
    words = ["--site", str(site), "--at", "2027-03-02 12:00", "--out", str(live / "o")]
    assert main(["export", str(live / "plan.json"), *words]) == 0
    capsys.readouterr()
    pdf = read_pdf((live / "o" / "look-ahead Everybody.pdf").read_bytes())
    assert "The plan holds. Will finish" in pdf.pages[0]
    assert "leaks" not in pdf.text
    assert "BLOCKED" not in pdf.text
    assert "Done: " not in pdf.text.split("Wednesday 3 March")[1]


def test_papers_of_a_plan_without_a_journal_speak_of_no_record(tmp_path: Path) -> None:
    facts = facts_of("orchard-lane")
    files = scheduler.export(scheduler.load(bundled_sites()["orchard-lane"]), planned().plan)
    for name, content in files.items():
        text = read_pdf(content).text if name.endswith(".pdf") else content.decode()
        assert "on record," not in text
        assert "by the record" not in text.lower()
    assert facts.record == ""


def test_the_outputs_of_the_street_agree_after_a_failed_look() -> None:
    facts, (site, network) = facts_of("lantern-street"), bundled("lantern-street")[:2]
    look = [a for a in facts.plan.activities if a.kind is Kind.INSPECT][3]
    case = scheduler.load(bundled_sites()["lantern-street"])
    said = [p for p in as_planned(case, facts.plan, look.finish) if look.id not in getattr(p[1], "looks", ())]
    hold = next(h.id for h in network.holds if h.look == look.id)
    said = [p for p in said if getattr(p[1], "hold", "") != hold]
    person = next(p.id for p in site.people if p.role == "inspector")
    failed = InspectionFailed(looks=(look.id,), inspector=person, faults="a joint is dry", when=look.finish)
    entries = written(site, network, [*said, (look.finish, failed)])
    force = PlanInForce(facts.plan, network, None)
    now = situation_at(site, network, entries, look.finish + timedelta(hours=20), force)
    live = PaperFacts(facts.plan, site, network, now)
    wanted = by_the_record(now)
    work = {a.id for a in facts.plan.activities if not a.kind.is_look}
    assert look_ahead_says(live) == calendar_says(live) == {k: v for k, v in wanted.items() if k in work}
    table = table_says(live)
    assert table == {k: wanted[k] for k in table}
    assert set(wanted.values()) >= {"done", "stopped", "may go"}
