"""`jointtrench new`: a site file to start from, which never takes the place of another."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from scheduler import bundled_sites
from scheduler.cli import main
from scheduler.site.editor import NAMES, Draft
from scheduler.site.files import load_site
from scheduler.trench import placed_findings as findings

FROM = [*NAMES, *bundled_sites()]


def run(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    code = main(["new", *map(str, words)])
    said = capsys.readouterr()
    return code, said.out, said.err


@pytest.mark.parametrize("template", FROM)
def test_every_template_and_bundled_site_begins_a_site(
    template: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ids = set()
    for name in ("mill-road-14.yaml", "other.yaml"):
        file = tmp_path / name
        code, out, _ = run(capsys, file, "--from", template)
        assert code == 0
        assert f"from {template}, with a job id of its own" in out
        assert Path(out.splitlines()[-1].partition("examples: ")[2]).is_file(), (
            "the reference is where it is said to be"
        )
        if template == "bare":
            assert "not whole yet (3 faults); write these parts: reaches, lines, trades." in out
        else:
            site = load_site(file)
            assert site.site.name == ("Mill road 14" if name.startswith("mill") else "Other")
            assert ("take out `invented: true`" in out) == site.site.invented == (template in bundled_sites())
            ids.add(site.site.job_id)
    assert template == "bare" or (len(ids) == 2 and all(id_ and id_.startswith("JT-") for id_ in ids))


def test_what_is_told_of_the_site_stands_in_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "new.yaml"
    told = ["--name", "Mill Road 14", "--first-day", "2028-04-03", "--length", 80, "--time-zone", "America/Chicago"]
    assert run(capsys, file, *told, "--state", "WI")[0] == 0
    site = load_site(file)
    job = site.site
    assert (job.name, job.first_day, job.time_zone, job.state) == ("Mill Road 14", date(2028, 4, 3), told[-1], "WI")
    assert site.alignments[0].length_ft == 80


@pytest.mark.parametrize("template", NAMES)
@pytest.mark.parametrize(
    ("words", "metres"),
    [(["30", "--units", "metres"], 30.0), (["100 ft", "--units", "metres"], 30.48), (["30 m"], 30.0)],
)
def test_a_length_is_kept_in_the_units_of_the_site(
    template: str, words: list[str], metres: float, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "new.yaml"
    assert run(capsys, file, "--from", template, "--length", *words)[0] == 0
    draft = Draft.of_text(file.read_text(encoding="utf-8"), name="new.yaml")
    row, site = draft.data["alignments"][0], draft.judged()[0]
    assert ("length_ft" in row) == ("--units" not in words), "each amount says its unit where metres are told"
    if "--units" in words:
        assert row["length"] == f"{metres:g} m"
        assert draft.data["site"]["units"] == "metres"
    if site is not None:
        assert site.alignments[0].length_ft * 0.3048 == pytest.approx(metres)
        assert site.reaches[-1].to == pytest.approx(site.alignments[0].length_ft)
        assert [line.cover_in for line in site.lines] == pytest.approx([30.0, 30.0, 30.0])
        assert [line.size_in for line in site.lines] == [2.0, 1.0, 1.0]
        feet = tmp_path / "feet.yaml"
        run(capsys, feet, "--from", template, "--length", f"{metres} m")
        assert len(list(findings(site))) == len(list(findings(load_site(feet)))), "the same trench in other words"


def test_a_copy_moves_its_dates_only_when_told(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    own = load_site(bundled_sites()["orchard-lane"])
    for words, days in (([], 0), (["--first-day", "2027-03-08"], 7)):
        file = tmp_path / f"{days}.yaml"
        assert run(capsys, file, "--from", "orchard-lane", *words)[0] == 0
        site = load_site(file)
        assert (site.site.first_day - own.site.first_day).days == days
        assert (site.locate_tickets[0].called - own.locate_tickets[0].called).days == days
        assert site.reaches == own.reaches


def test_no_file_is_overwritten(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    file = tmp_path / "mine.yaml"
    file.write_text("mine", encoding="utf-8")
    code, out, err = run(capsys, file)
    assert (code, out) == (2, "")
    assert "There is already a file or folder of this name; nothing was written." in err
    assert "Found" not in err
    assert file.read_text(encoding="utf-8") == "mine"
    assert list(tmp_path.iterdir()) == [file]


def test_a_file_that_could_not_be_written_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("scheduler.whole_files.write_whole", full)
    code, out, err = run(capsys, tmp_path / "new.yaml")
    assert (code, out) == (2, "")
    assert "No space left on device" in err
    assert not list(tmp_path.iterdir())


def test_a_site_without_a_file_name_is_named_after_itself(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    assert run(capsys, "--name", "Mill Road 14")[0] == 0
    assert run(capsys)[0] == 0
    assert {p.name for p in tmp_path.iterdir()} == {"mill-road-14.yaml", "new-site.yaml"}


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--from", "castle"], "is neither a template nor a bundled site"),
        (["--first-day", "soon"], "expected a date such as 2026-06-08"),
        (["--length", "0"], "expected a length from 1 ft to 20000 ft"),
        (["--length", "9000", "--units", "metres"], "expected a length from 0.3 m to 6096 m"),
        (["--length", "long"], "expected a length from"),
        (["--length", "50", "--from", "orchard-lane"], "a bundled site keeps its own"),
        (["--time-zone", "Mars/Olympus"], "time_zone"),
        (["--name", ""], "name"),
    ],
)
def test_what_cannot_be_begun_is_told_and_nothing_is_written(
    words: list[str], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    code, out, err = run(capsys, tmp_path / "new.yaml", *words)
    assert (code, out) == (2, "")
    assert said in err
    assert not list(tmp_path.iterdir())
