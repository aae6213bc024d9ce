"""The commands of the live job, as a foreman types them, on a copy of the bundled small site."""

from __future__ import annotations

import argparse
import sqlite3
from datetime import datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from scheduler import spoken
from scheduler.cli import journal_keeping
from scheduler.cli.journal import add_to
from scheduler.errors import BadInput
from scheduler.ledger.place import place_of
from scheduler.ledger.store import Journal
from scheduler.site.files import load_site
from tests.journals import photo, unguarded
from tests.stories import by_reach

HOLD = "hold/water-test/orchard-row/L0"
LOOK = "look/water-test/orchard-row/L0"
ID = "practice-orchard-lane"
NOW = ["--now", "2027-03-10 12:00", "--by", "R. Amsel"]
"""A Wednesday."""


@pytest.fixture
def site(tmp_path: Path) -> Path:
    path = tmp_path / "orchard-lane.yaml"
    path.write_text(by_reach(), encoding="utf-8")
    return path


def kept_at(site: Path) -> Path:
    """Return where the journal of the site lies."""
    return Path(place_of(load_site(site), site).where)


def run(*words: object) -> int:
    parser = argparse.ArgumentParser()
    commands = parser.add_subparsers(required=True)
    add_to(commands)
    journal_keeping.add_to(commands)
    arguments = parser.parse_args([str(w) for w in words])
    code: int = arguments.run(arguments)
    return code


DESPITE = ["--despite", "Seen so on site."]
EVENTS: list[list[str]] = [
    ["started", "orchard-row/dig"],
    ["finished", "orchard-row/dig", "--when", "2027-03-09 15:00", *DESPITE],
    ["remaining", "orchard-row/dig", "1.5", *DESPITE],
    ["delayed", "Sorrel Valley Power", "--not-before", "2027-03-22 08:00", "--about", "outside/tie-in"],
    ["booked", "v1", "--of", "water-test", "--start", "2027-03-12 09:00", "--firm"],
    ["confirmed", "v1"],
    ["cancelled", "v1", "--why", "storm"],
    ["passed", LOOK, "--inspector", "c-dunn", *DESPITE],
    ["conditions", LOOK, "--inspector", "c-dunn", "--conditions", "Tape the stub.", *DESPITE],
    ["failed", LOOK, "--inspector", "c-dunn", "--faults", "Drops 2 psi.", "--repair-hours", "2"],
    ["released", HOLD, "--person", "c-dunn", "--evidence", "No drop in 15 minutes."],
    ["uncovered", "main", "0+84", "1+60"],
    ["rain", "--start", "2027-03-09 18:00", "--until", "2027-03-09 21:00", "--inches", "0.4"],
    ["measured", "main", "1+20", "--offset-in", "-6", "--cover-in", "26", "--who", "r-amsel"],
    ["wrong", "3", "--reason", "Another reach."],
    ["stands", LOOK, "--inspector", "c-dunn", "--words", "Pumped dry; nothing moved."],
    ["repaired", "main", "0+84", "1+60", "--what", "A joint glued anew."],
    ["water", "main", "0+84", "1+60"],
    [
        "stop",
        "--who",
        "d-okoro",
        "--why",
        "A crack at the edge.",
        "--alignment",
        "main",
        "--from",
        "0+84",
        "--to",
        "1+60",
    ],
    ["lifted", "19", "--who", "r-amsel"],
    ["test-failed", "orchard-row/L0/test-water", "--faults", "Lost 5 psi.", "--repair-hours", "2", *DESPITE],
    ["not-done", "orchard-row/bed", "--because", "No sand."],
    ["inspected-trench", "main", "0+84", "1+60", "--who", "d-okoro", "--not-safe", "--words", "A crack."],
    ["inspected-trench", "main", "0+84", "1+60", "--who", "l-fenn"],
    ["struck", "main", "1+20", "--who", "r-amsel", "--owner", "Sorrel Gas", "--what", "Nicked.", "--told", "911"],
    ["note", "--words", "Mud on the road.", "--entry", "3"],
]


def test_every_event_can_be_reported_and_shown(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for number, words in enumerate(EVENTS, 1):
        assert run("report", site, words[0], *NOW, *words[1:]) == 0
        assert f"Entry {number} is written" in capsys.readouterr().out
    entries = Journal.open(kept_at(site), site=ID).entries()
    assert len(entries) == len(EVENTS)
    assert entries[1].event.when.isoformat() == "2027-03-09T15:00:00-07:00"  # type: ignore[union-attr]
    assert run("journal", site, "show") == 0
    shown = capsys.readouterr().out
    assert len(shown.splitlines()) == len(EVENTS) + 1
    assert "R. Amsel: Rain from Tue 9 Mar 18:00 to Tue 9 Mar 21:00, 0.4 in." in shown
    assert shown.splitlines()[2].endswith("[superseded]")
    assert run("journal", site, "verify") == 0
    assert entries[-1].hash in capsys.readouterr().out


def test_the_wrong_person_is_refused_and_that_is_kept(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("report", site, "released", *NOW, HOLD, "--person", "r-amsel", "--evidence", "Looked fine.") == 1
    assert "Refused" in capsys.readouterr().out
    run("journal", site, "show")
    assert "Refused (hold released: Water line under pressure" in capsys.readouterr().out


def test_the_list_of_hold_points_fits_a_terminal(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run("report", site, "started", *NOW, "orchard-row/dig")
    run("report", site, "passed", *NOW, LOOK, "--inspector", "c-dunn", *DESPITE)
    run("report", site, "released", *NOW, HOLD, "--person", "c-dunn", "--evidence", "No drop in 15 minutes. " * 9)
    capsys.readouterr()
    assert run("holds", site, "--now", "2027-03-10 12:00") == 0
    shown = capsys.readouterr().out
    assert max(len(line) for line in shown.splitlines()) <= 100
    told = " ".join(shown.split())
    assert "Water line under pressure: Water line, Main drive trench 0+84 to 1+60 hold point, released; " in told
    assert "evidence: No drop in 15 minutes." in told
    assert "not looked at yet; Carol Dunn (Sorrel County Trades Inspection), or Ben Ito may release it" in told
    assert "trench open since Wed 10 Mar 2027 12:00" in told


def test_cover_before_release_is_flagged_at_once_and_again(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("report", site, "covered", *NOW, "main", "0+84", "1+60") == 2
    assert run("report", site, "covered", *NOW, "main", "0+84", "1+60", *DESPITE) == 1
    assert "was covered Wed 10 Mar 12:00 before this was released" in capsys.readouterr().out
    assert run("holds", site, "--now", "2027-03-15 08:00") == 1
    assert "before this was released" in capsys.readouterr().out


def test_may_i_cover(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["holds", site, "--at", "main:0+90", "--to", "1+20", "--now", "2027-03-10 12:00"]
    assert run(*asked, "--when", "2027-03-11 10:00") == 1
    out = capsys.readouterr().out
    assert "No, not on Thu 11 Mar 2027 10:00" in out
    assert "at the earliest Fri 12 Mar 2027 09:30" in out
    assert not kept_at(site).exists()  # asking writes nothing


def test_times_of_an_answer_are_those_of_the_site(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    booked = ["booked", "v1", "--of", "water-test", "--start", "2027-03-22 09:00", "--firm"]
    run("report", site, booked[0], *NOW, *booked[1:])
    capsys.readouterr()
    run("holds", site, "--at", "main:0+90", "--to", "1+20", "--now", "2027-03-10 12:00")
    assert "at the earliest Mon 22 Mar 2027 09:30" in capsys.readouterr().out  # half an hour from 9:00
    run("holds", site, "--at", "main:0+90", "--to", "1+20")
    out, now = capsys.readouterr().out, datetime.now(ZoneInfo("America/Denver"))
    assert any(spoken.moment(now - timedelta(minutes=m), year=True) in out for m in (0, 1))


def test_a_release_without_a_look_clears_nothing(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("report", site, "released", *NOW, HOLD, "--person", "c-dunn", "--evidence", "Seen.") == 0
    assert "It does not clear this hold point yet" in capsys.readouterr().out


def test_the_three_answers(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    asked = ["holds", site, "--at", "main:0+90", "--shading", "--layer", "0", "--now", "2027-03-10 12:00"]
    for activity in ("orchard-row/L0/lay-water", "orchard-row/L0/test-water", "line/water/joint-main-84"):
        run("report", site, "finished", *NOW, activity, "--when", "2027-03-10 08:00", *DESPITE)
    assert run(*asked) == 1
    assert "No, not on Wed 10 Mar 2027 12:00" in capsys.readouterr().out
    run("report", site, "passed", *NOW, LOOK, "--inspector", "c-dunn", "--when", "2027-03-10 10:00")
    run(
        "report", site, "released", *NOW, HOLD, "--person", "c-dunn", "--evidence", "Dry.", "--when", "2027-03-10 10:05"
    )
    assert run(*asked) == 0
    out = capsys.readouterr().out
    assert "Yes. Nothing on record stands against covering there on Wed 10 Mar 2027 12:00." in out
    assert "By the journal up to entry 5, head 5:" in out
    run("report", site, "rain", *NOW, "--start", "2027-03-10 10:30", "--until", "2027-03-10 11:00")
    assert run(*asked) == 1
    assert "Ask again, on Wed 10 Mar 2027 12:00" in capsys.readouterr().out


def test_a_journal_that_cannot_be_read_is_a_no(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    kept_at(site).parent.mkdir(parents=True, exist_ok=True)
    kept_at(site).write_bytes(b"this is no database" * 100)
    assert run("holds", site, "--at", "main:0+90", "--now", "2027-03-10 12:00") == 1
    assert "No, not on Wed 10 Mar 2027 12:00" in capsys.readouterr().out


def test_a_labourer_takes_no_failure_back(site: Path) -> None:
    run("report", site, "failed", *NOW, LOOK, "--inspector", "c-dunn", "--faults", "Drops 2 psi.")
    with pytest.raises(BadInput, match="only they may take it back"):
        run("report", site, "wrong", "1", "--reason", "I say so.", "--now", "2027-03-10 12:00", "--by", "some labourer")


def test_evidence_is_kept_with_a_release(site: Path, tmp_path: Path) -> None:
    file = tmp_path / "gauge.jpg"
    file.write_bytes(photo())
    told = ["--person", "b-ito", "--evidence", "Gauge photographed.", "--file", file]
    assert run("report", site, "released", *NOW, HOLD, *told) == 0
    journal = Journal.open(kept_at(site), site=ID)
    kept = journal.attachment(journal.entries()[0].event.attachment)  # type: ignore[union-attr]
    assert kept is not None
    assert kept.content == file.read_bytes()


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["started", "orchard-row/digg"], "orchard-row/dig"),
        (["started", "orchard-row/dig", "--when", "soon"], "expected a date and time"),
        (["covered", "mane", "0", "10"], "names nothing"),
        (["covered", "main", "20", "10"], "end after it begins"),
        (["confirmed", "v9"], "not booked"),
        (["wrong", "7", "--reason", "x"], "does not exist"),
        (["remaining", "orchard-row/dig", "-3"], "greater than or equal"),
        (["finished", "orchard-row/dig", "--when", "2027-03-11 07:00"], "has not happened yet"),
        (["finished", "orchard-row/dig", "--when", "2027-03-01 07:00"], "more than 7 days ago: say why"),
        (["passed", LOOK, "--inspector", "somebody"], "nobody in the site's list of people"),
        (["uncovered", "main", "0+84", "9+60"], "ends before that"),
        (
            ["rain", "--start", "2027-03-10 08:00", "--until", "2027-03-10 09:00", "--inches", "60"],
            "No rain is as heavy",
        ),
    ],
)
def test_bad_words_are_bad_input_and_write_nothing(site: Path, words: list[str], said: str) -> None:
    with pytest.raises(BadInput, match=said):
        run("report", site, words[0], *NOW, *words[1:])
    assert not kept_at(site).exists() or Journal.open(kept_at(site), site=ID).entries() == ()


def test_tampering_is_told_by_its_place(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for words in EVENTS[:4]:
        run("report", site, words[0], *NOW, *words[1:])
    raw: sqlite3.Connection = unguarded(kept_at(site))
    raw.execute("DELETE FROM journal_entries WHERE number = 2")
    raw.commit()
    raw.close()
    capsys.readouterr()
    assert run("journal", site, "verify") == 1
    assert "Entry 2: is missing" in capsys.readouterr().out


def test_a_site_without_a_journal_has_nothing_to_show(site: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("journal", site, "show") == 0
    assert "Nothing has been written down" in capsys.readouterr().out
    assert run("journal", site, "verify") == 1, "nothing can be proved of a journal that is not there"
    assert not kept_at(site).exists()


def kept_despite(site: Path, capsys: pytest.CaptureFixture[str], *words: object) -> str:
    """Report something that is asked about once, then keep it; return what the journal then shows."""
    assert run("report", site, words[0], *NOW, *words[1:]) == 2
    asked = capsys.readouterr()
    assert asked.out == ""
    assert "This contradicts the record:" in asked.err
    assert "say why with --despite" in asked.err
    assert not kept_at(site).exists() or not Journal.open(kept_at(site), site=ID).entries()
    assert run("report", site, words[0], *NOW, *words[1:], "--despite", "The foreman says so.") in (0, 1)
    assert "Kept although it contradicts the record" in capsys.readouterr().out
    run("journal", site, "show")
    shown = " ".join(capsys.readouterr().out.split())
    assert "Because: The foreman says so.]" in shown
    return asked.err + shown


def test_a_test_is_not_taken_as_finished_before_its_pipe_is_laid(site: Path, capsys) -> None:
    shown = kept_despite(site, capsys, "finished", "orchard-row/L0/test-water")
    assert "Lay Water line, Main drive trench 0+84 to 1+60 is not on record as finished by then." in shown
    assert "Lay Water line" in shown.partition("[Kept although")[2]


def test_work_is_not_taken_as_begun_behind_a_hold_that_is_not_released(site: Path, capsys) -> None:
    shown = " ".join(kept_despite(site, capsys, "started", "orchard-row/L0/shade").split())
    assert "Water line under pressure: Water line, Main drive trench 0+84 to 1+60 was not released by then" in shown


def test_a_reason_where_nothing_is_contradicted_marks_nothing(site: Path, capsys) -> None:
    assert run("report", site, "started", *NOW, "orchard-row/dig", *DESPITE) == 0
    assert "Kept although" not in capsys.readouterr().out
