"""A site typed in metres: the plan of the same site in feet, told in metres and millimetres everywhere."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

import scenarios
import scheduler
from scheduler import BadInput, Options, Planned
from scheduler.cli import main
from scheduler.plan import plan_json
from scheduler.site.files import read_site
from scheduler.trench.layout_check import check_layout
from scheduler.trench.looked_at import look
from scheduler.units import format_station, metric, parse_station, tell_in, told_in
from tests.known_results.test_retyped_sheets import SHEETS, case_of, keeping, put, sheet_of, site_of
from tests.papers import read_pdf

METRIC = Path(scenarios.__file__).parent / "examples" / "metric-service.yaml"
IN_FEET = {
    "length": "length_ft", "width": "width_ft", "depth": "depth_in", "size": "size_in", "distance": "distance_ft",
    "bottom_width": "bottom_width_in", "footing": "footing_in", "cover": "cover_in", "offset": "offset_in",
    "frost_depth": "frost_depth_in", "spoil_room": "spoil_room_ft", "pressure": "pressure_psi", "bucket": "bucket_cy",
    "bucket_width": "bucket_width_in", "length_per_visit": "feet_per_visit", "open_trench": "open_trench_ft",
    "swing": "swing_ft", "lift": "lift_in", "bedding": "bedding_in", "shading": "shading_in",
    "ribbon_below_grade": "ribbon_below_grade_in", "lay_water_per_hour": "lay_water_ft_per_hour",
    "bed_per_hour": "bed_cy_per_hour",
}  # fmt: skip
"""The names by which the same fields are typed in feet and inches."""
QUICK = Options(start_effort=0.1, finish_effort=0.5, exposure_effort=0.1, money_effort=0.1)
"""How good a plan is, is asked elsewhere; it is the same in feet and in metres."""
FRIDAY = "2027-05-07 08:00"
INCHES = 25.4
FOOT = 0.3048
OF_FEET = re.compile(
    r"(?<![\w.])\d[\d,.]* ?(?:ft|in|sq ft|cu yd|lb|psi|mil|gallons)\b(?! (?:place|the)\b)|\d\+\d\d(?!\d)"
)
"""An amount or a station in the units of the other system."""


def in_feet(text: str) -> str:
    """Return the text of the metric example as somebody types it who works in feet."""

    def amount(found: re.Match[str]) -> str:
        name, number, unit = found[1], float(found[2]), found[3]
        name = IN_FEET[name]
        if (number, unit) in ((40, "mm"), (53, "mm")):
            return f"{name}: {1.5 if number == 40 else 2}"
        size = {
            "_in": number / INCHES, "_ft": number / FOOT, "psi": number * 0.145037738, "_cy": number / 0.764554858,
            "/h": number / (FOOT if unit == "m/h" else 0.764554858), "sit": number / FOOT,
        }[unit[-2:] if unit[-2:] == "/h" else name[-3:]]  # fmt: skip
        return f"{name}: {size:.6f}"

    text = re.sub(
        r"\b(\w+): (-?[\d.]+) (mm|m3/h|m/h|m3|m|kPa)\b(?![\w/])", amount, text.replace("to: 42 m", "to: 0+042")
    )
    text = re.sub(r"\b(\d)\+(\d{3}(?:\.\d+)?)", lambda s: f"{(int(s[1]) * 1000 + float(s[2])) / FOOT:.6f}", text)
    text = re.sub(r"([\d.]+) m(?=[],])", lambda s: f"{float(s[1]) / FOOT:.6f}", text)
    return text.replace("units: metres", "units: feet").replace("value: 750, unit: mm", f"value: {750 / INCHES:.6f}")


@cache
def planned() -> Planned:
    return scheduler.plan(scheduler.load(METRIC), QUICK)


def test_the_plan_is_that_of_the_same_site_typed_in_feet() -> None:
    text = in_feet(METRIC.read_text(encoding="utf-8"))
    assert not re.search(r"\d (mm|m|kPa)\b", text.split("site:", 1)[1])
    other = scheduler.plan(scheduler.load(text), QUICK)
    assert other.schedule is not None
    assert other.schedule == planned().schedule
    assert [s.value for s in other.plan.stages] == pytest.approx([s.value for s in planned().plan.stages], abs=1e-3)
    assert [(f.rule, f.severity) for f in other.plan.findings] == [
        (f.rule, f.severity) for f in planned().plan.findings
    ]
    assert not planned().broken


def sentences(value: object) -> Iterator[str]:
    """Give every text in plain data."""
    if isinstance(value, dict):
        for part in value.values():
            yield from sentences(part)
    elif isinstance(value, list):
        for part in value:
            yield from sentences(part)
    elif isinstance(value, str):
        yield value


def test_no_sentence_of_the_plan_is_in_feet() -> None:
    told = [t for t in sentences(json.loads(plan_json(planned().plan))) if t != "ft nights"]
    assert [t for t in told if OF_FEET.search(t)] == []
    assert any("0+006 to 0+042" in t for t in told)
    assert any("of at most 200 mm, each compacted" in t for t in told)
    assert any("300 mm below grade" in t for t in told)


def test_no_paper_calendar_or_table_is_in_feet() -> None:
    case = planned().case
    files = scheduler.export(case, planned().plan)
    for name, content in files.items():
        text = " ".join(read_pdf(content).pages) if name.endswith(".pdf") else content.decode().replace("\r\n ", "")
        assert OF_FEET.findall(text) == [], name
    assert "m3 in place,8.0" in files["table of materials.csv"].decode() or "tonnes" in next(
        iter(files["table of materials.csv"].decode().splitlines())
    )


@pytest.mark.parametrize("command", ["check", "plan", "today", "holds", "calls", "assess"])
def test_no_command_tells_feet(
    command: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("scheduler.cli.commands.Options", lambda **asked: replace(QUICK, **asked))
    more = ["--quiet", "--curve", "--out", "out"] if command == "plan" else []
    at = {"today": ["--at", FRIDAY], "calls": ["--at", FRIDAY], "holds": ["--now", FRIDAY]}.get(command, [])
    main([command, str(METRIC), *more, *at])
    told = capsys.readouterr().out
    assert told
    assert OF_FEET.findall(" ".join(told.split())) == []
    assert not metric(), "a command leaves its units to the next one"


def test_what_breaks_is_told_as_it_was_typed() -> None:
    text = METRIC.read_text(encoding="utf-8").replace("cover: 900 mm", "cover: 600 mm")
    (found,) = (f for f in scheduler.check(scheduler.load(text)) if f.rule == "cover-power")
    assert (found.found, found.required) == ("600 mm of cover", "at least 750 mm")
    assert found.where == "Service, 0+000 to 0+042"


def test_every_fault_is_told_in_metres() -> None:
    text = METRIC.read_text(encoding="utf-8")
    for old, new, told in (
        ("to: 42 m,", "to: 50 m,", "Found 0+050; expected at most 0+042"),
        ("from: 0+006, to", "from: 18, to", "expected a station such as 0+048.8 or 48.8 m"),
        ("from: 0+006, to", "from: 0+18, to", "expected a station such as 0+048.8 or 48.8 m"),
        ("length: 42 m,", "length: 42,", "Write length with its unit"),
        ("length: 42 m,", "length: 42 m, length_ft: 138,", "Length and length_ft are both given"),
        ("[30 m, 0]", "[30, 0]", "expected a number with its unit, such as 12 m"),
        (
            "open_trench: 40 m",
            "open_trench: 20 m",
            "Split the reach at 0+024, or raise `open_trench_ft` to 36 m or more",
        ),
    ):
        assert old in text
        with pytest.raises(BadInput) as refused:
            read_site(text.replace(old, new), file="metric.yaml")
        assert any(told in str(f) for f in refused.value.findings), [str(f) for f in refused.value.findings]
        told_all = " ".join(str(f) for f in refused.value.findings).replace("Found '0+18'", "")
        assert not OF_FEET.search(told_all)
        assert not metric()


def test_a_bare_name_without_a_unit_is_a_fault_at_its_line_beside_all_others() -> None:
    text = scheduler.bundled_sites()["orchard-lane"].read_text(encoding="utf-8")
    text = text.replace("frost_depth_in", "frost_depth").replace("length_ft: 220", "length_ft: -220")
    with pytest.raises(BadInput) as refused:
        read_site(text, file="feet.yaml")
    bare, negative = refused.value.findings
    assert bare.text == "Write frost_depth with its unit, such as 900 mm or 3 ft, or name the field frost_depth_in."
    assert "frost_depth" in text.splitlines()[(bare.line or 0) - 1]
    assert "length_ft" in negative.where


def test_the_line_of_a_fault_is_found_by_the_name_that_was_written() -> None:
    text = METRIC.read_text(encoding="utf-8").replace("    cover: 900 mm", "    cover: -900 mm")
    with pytest.raises(BadInput) as refused:
        read_site(text, file="metric.yaml")
    (found,) = refused.value.findings
    assert found.line == 1 + text[: text.index("cover: -900")].count("\n")
    assert found.where == "lines[2] 'power' cover"


def test_stations_go_there_and_back() -> None:
    for text, feet in (("0+048.768", 160.0), ("1+000", 1000 / FOOT), ("48.768 m", 160.0), ("12+345.6", 12345.6 / FOOT)):
        assert parse_station(text) == pytest.approx(feet, abs=1e-6)
        with told_in("metres"):
            assert parse_station(format_station(parse_station(text))) == parse_station(text)
    with told_in("metres"):
        assert format_station(160.0) == "0+048.768"
        assert format_station(0.0) == "0+000"
        assert parse_station("160 ft") == 160.0
    assert format_station(160.0) == "1+60"


def test_a_site_in_feet_is_told_in_feet_after_one_in_metres() -> None:
    scheduler.load(METRIC)
    planned()
    street = scheduler.load(METRIC.with_name("street-crossing.yaml"))
    assert any("0+30" in a.name for a in street.network.activities)
    with told_in("feet"):
        tell_in("metres")
    assert not metric()


def test_a_site_record_in_metres_is_read_back_as_it_was() -> None:
    case = scheduler.load(METRIC)
    assert scheduler.load(case.site).site == case.site


def test_what_happened_is_reported_in_metres(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.chdir(tmp_path)
    site = tmp_path / "metric.yaml"
    site.write_text(METRIC.read_text(encoding="utf-8").replace("site:\n", "site:\n  job_id: practice-metric\n", 1))
    where = ["--now", "2027-05-07 08:00", "--by", "Ada Reed"]
    assert main(["report", str(site), "water", "main", "0+006", "0+010.5", *where]) == 0
    assert main(["report", str(site), "rain", "--start", "2027-05-06 18:00", "--until", "2027-05-06 20:00",
                 "--inches", "25mm", *where]) == 0  # fmt: skip
    told = capsys.readouterr().out
    assert "0+006 to 0+010.5" in told
    assert ", 25 mm" in told
    assert not OF_FEET.search(told)
    assert main(["report", str(site), "water", "main", "6", "0+010.5", *where]) == 2
    assert "no station" in capsys.readouterr().err


@pytest.mark.parametrize("name", SHEETS)
def test_whatever_a_sheet_asks_is_told_in_metres(name: str) -> None:
    for entry in sheet_of(name).entries:
        case = case_of(name, entry)
        if case is None:
            continue
        data = keeping(name)
        for path, value in case["set"].items():
            put(data, path, value)
        site = site_of(data)
        with told_in("metres"):
            found = check_layout(site)
        for f in found:
            told = f"{f.where} {f.text} {f.found} {f.required} {f.remedy}".replace(entry.because or "-", "")
            assert OF_FEET.findall(told) == [], f
    kept = site_of(keeping(name))
    with told_in("metres"):
        looked = look(kept)
    for question in (*looked.unknown, *looked.uncovered):
        assert OF_FEET.findall(question.fill_in) == [], question
