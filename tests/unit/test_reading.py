"""`jointtrench rules` and `jointtrench schema`: made from the register and the records, and complete."""

from __future__ import annotations

import json
import re
from datetime import date, datetime
from pathlib import Path
from typing import Any

import pytest
from ruamel.yaml import YAML

import scenarios
import scheduler
from scheduler import Options
from scheduler.cli import main
from scheduler.cli.main import parser
from scheduler.explain.families import KINDS
from scheduler.reading.catalogue import catalogue, entries_with
from scheduler.reading.date_rules import DATE_FAMILIES
from scheduler.reading.fields_at import fields_in
from scheduler.reading.made import made_files
from scheduler.reading.reference import reference_text
from scheduler.reading.schemas import schema_for
from scheduler.site.editing import parts
from scheduler.site.job_id import content_digest
from scheduler.site.work_rates import WorkRates
from scheduler.trench.needs import needs_of
from scheduler.trench.register import RULES

jsonschema: Any = pytest.importorskip("jsonschema")
FOLDER = Path(scenarios.__file__).parent
PLACES = {place for part in parts().values() for place, _ in fields_in(part)}


def run(capsys: pytest.CaptureFixture[str], *words: object) -> tuple[int, str, str]:
    code = main([str(w) for w in words])
    said = capsys.readouterr()
    return code, said.out, said.err


def plain(value: Any) -> Any:
    """Return what YAML read as an editor compares it with a schema: dates as their text."""
    if isinstance(value, dict):
        return {k: plain(v) for k, v in value.items()}
    if isinstance(value, datetime):
        return value.isoformat(" ")
    if isinstance(value, date):
        return value.isoformat()
    return [plain(v) for v in value] if isinstance(value, list) else value


def faults(text: str, *, sheet: bool = False) -> list[str]:
    judge = jsonschema.Draft202012Validator(json.loads(schema_for(sheet=sheet)))
    return [".".join(map(str, e.absolute_path)) for e in judge.iter_errors(plain(YAML(typ="safe").load(text)))]


def test_every_rule_is_in_the_catalogue_once() -> None:
    assert [e.id for e in catalogue()] == [*RULES, *KINDS, *WorkRates.model_fields]
    assert set(DATE_FAMILIES) == set(KINDS)


def test_every_entry_says_all_that_it_should() -> None:
    for entry in catalogue():
        assert entry.sentence.endswith("."), entry.id
        assert all((entry.value, entry.source, entry.change.endswith("."))), entry.id
        assert entry.needs or entry.id == "date", f"scheduler/trench/needs.py says what {entry.id} needs"
        assert set(entry.needs) <= PLACES, entry.id


def test_a_rule_that_names_the_field_that_mends_it_needs_that_field() -> None:
    for rule in RULES.values():
        if rule.field and rule.id != "building-gas":  # mended by another route; shown beside the material
            assert rule.field in {place.rpartition(".")[2] for place in needs_of(rule)}, rule.id


def test_all_rules_are_listed_in_short(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "rules")
    lines = out.splitlines()
    assert code == 0
    assert [line.split("  ")[0] for line in lines[:-1]] == [*RULES, *KINDS, *WorkRates.model_fields]
    assert lines[-1].startswith(f"{len(RULES) + len(KINDS) + len(WorkRates.model_fields)} rules and rates.")


def test_one_rule_is_told_with_value_source_and_place_to_change_it(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "rules", "apart-water-sewer")
    assert code == 0
    assert "Water and sewer side by side stay this far apart" in out
    assert "Value:  at least 60 in" in out
    assert "Needs:  lines.offset_in" in out
    assert "under rules: {rule: apart-water-sewer" in out
    assert "Source: IPC 603.2, 2012 and later" in out
    assert out.endswith("1 rule with 'apart-water-sewer'.\n")
    assert "In a sheet: {rule: line-order" in run(capsys, "rules", "line-order")[1]
    assert "Nowhere: it is geometry" in run(capsys, "rules", "depth-lines")[1]
    assert "jointtrench report SITE delayed" in run(capsys, "rules", "date")[1]
    way = run(capsys, "rules", "way")[1]
    assert "Value:  where reaches.access.at_night is filled (it is plated where left out)" in way


def test_a_rate_is_told_with_unit_source_and_place_to_change_it(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, _ = run(capsys, "rules", "bed_cy_per_hour")
    assert code == 0
    assert "Bedding placed and levelled by a crew." in out
    assert "Value:  5 cu yd/h" in out
    assert "In the site file, under rates: {bed_cy_per_hour: ...}." in out
    assert "Source: common practice" in out


def test_words_find_what_they_name_first() -> None:
    assert {e.id for e in entries_with("water sewer")} >= {"apart-water-sewer", "cross-water-sewer"}
    assert all("water" in e.texts[0] and "sewer" in e.texts[0] for e in entries_with("Water  Sewer"))
    assert {e.id for e in entries_with("IFGC 404.6")} == {"building-gas"}
    assert {e.id for e in entries_with("swing_ft")} == {"space"}
    assert len(entries_with("")) == len(catalogue())


def test_a_word_in_no_rule_gives_the_nearest(capsys: pytest.CaptureFixture[str]) -> None:
    code, out, err = run(capsys, "rules", "sewr")
    assert (code, out) == (2, "")
    assert "No rule says this. Found sewr; expected sewer" in err
    assert "cover-power" in run(capsys, "rules", "cover-powr")[2]
    assert run(capsys, "rules", "xyzzy")[0] == 2


@pytest.mark.parametrize("path", [*FOLDER.glob("*.yaml"), FOLDER / "templates" / "house-service.yaml"], ids=str)
def test_sound_site_files_fit_the_schema(path: Path) -> None:
    assert faults(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", list((FOLDER / "sheets").glob("*.yaml")), ids=str)
def test_sound_sheets_fit_the_schema(path: Path) -> None:
    assert faults(path.read_text(encoding="utf-8"), sheet=True) == []


@pytest.mark.parametrize(
    ("old", "new", "where"),
    [
        ("first_day: 2027-03-01", "first_day: soon", "site.first_day"),
        ("material: pvc40", "material: pvc41", "lines.0.material"),
        ("frost_depth_in: 24 ", "frost_depht_in: 24 ", "site"),
        ("length_ft: 100", "length_ft: 0", "alignments.0.length_ft"),
        ("mon-fri 07:00-15:30", "weekdays", "calendars.0.weekly.0"),
        ("from: 0+00", "from: the gate", "reaches.0.from"),
    ],
)
def test_the_schema_marks_mistakes_where_they_are(old: str, new: str, where: str) -> None:
    text = (FOLDER / "templates" / "house-service.yaml").read_text(encoding="utf-8")
    assert old in text
    assert where in faults(text.replace(old, new, 1))


def test_a_heading_with_nothing_below_it_and_a_rule_of_no_name() -> None:
    text = (FOLDER / "templates" / "house-service.yaml").read_text(encoding="utf-8")
    assert faults(text + "\nbookings:\n") == []
    assert faults(text + "\nrules: [{rule: cover-watre, value: 3, source: a sheet}]\n") == ["rules.0.rule"]


def test_the_schema_tells_what_the_records_say() -> None:
    schema = json.loads(schema_for())
    cover = schema["$defs"]["Line"]["properties"]["cover_in"]
    assert cover["title"] == "Cover (in)"
    assert cover["description"].startswith("Soil over its top; left out: the least its rules allow.")
    assert schema["properties"]["site"]["title"] == "Job"
    assert '"gt"' not in schema_for() + schema_for(sheet=True)


def test_the_schema_is_printed_or_written(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(capsys, "schema")[:2] == (0, schema_for())
    file = tmp_path / "sheet.schema.json"
    code, out, _ = run(capsys, "schema", "--sheet", "--out", file)
    assert code == 0
    assert "# yaml-language-server: $schema=sheet.schema.json" in out
    assert file.read_text(encoding="utf-8") == schema_for(sheet=True)


def test_what_is_made_is_not_stale() -> None:
    for name, text in made_files().items():
        told = f"{name} is stale; write it anew: python -m scheduler.reading"
        assert (FOLDER / name).read_text(encoding="utf-8") == text, told


def test_the_reference_names_every_field_and_every_rule() -> None:
    text = (FOLDER / "REFERENCE.md").read_text(encoding="utf-8")
    for part in parts().values():
        rows = text.split(f"### {part.label}\n")[1].split("\n#")[0]
        for place, _ in fields_in(part):
            assert f"\n| `{place.removeprefix(f'{part.key}.')}` |" in rows, place
    assert all(f"\n| `{entry.id}` | {entry.sentence}" in text for entry in catalogue())
    assert "scenarios/REFERENCE.md" in (FOLDER.parent / "README.md").read_text(encoding="utf-8")


def test_no_cell_of_the_reference_breaks_its_table() -> None:
    for line in (FOLDER / "REFERENCE.md").read_text(encoding="utf-8").splitlines():
        assert not line.startswith("|") or line.replace("\\|", "").count("|") in (5, 7), line


def test_bundled_files_point_editors_to_a_schema_that_is_there() -> None:
    files = [path for folder in (".", "templates", "sheets") for path in (FOLDER / folder).glob("*.yaml")]
    assert len(files) >= 6
    for path in files:
        first = path.read_text(encoding="utf-8").split("\n", 1)[0]
        name = "sheet.schema.json" if path.parent.name == "sheets" else "site.schema.json"
        assert first.startswith("# yaml-language-server: $schema=")
        assert (path.parent / first.partition("=")[2]).resolve() == FOLDER / name


def test_pointing_an_editor_to_the_schema_changes_no_plan() -> None:
    """What a plan was made from is compared by this digest."""
    for path in FOLDER.glob("*.yaml"):
        raw = path.read_bytes()
        assert content_digest(raw) == content_digest(raw.split(b"\n", 1)[1])
        assert content_digest(raw + b"# other\n") != content_digest(raw)


DOCUMENTED = dict(re.findall(r"`([\w-]+\.yaml)`\n\n```yaml\n(.+?)```", reference_text(), re.DOTALL))
"""Every example of the reference, by the name it has there."""


@pytest.mark.parametrize("name", [name for name in DOCUMENTED if "sheet" not in name])
def test_every_documented_site_loads_breaks_no_rule_and_is_planned(name: str, tmp_path: Path) -> None:
    assert len(DOCUMENTED) == 5
    for file, text in DOCUMENTED.items():
        (tmp_path / file).write_text(text, encoding="utf-8")
    case = scheduler.load(tmp_path / name)
    assert case.site.site.invented
    assert scheduler.check(case) == ()
    assert faults(DOCUMENTED[name]) == []
    quick = Options(only_finish=True, start_effort=0.1, finish_effort=0.5, conflict_effort=0.1)
    planned = scheduler.plan(case, quick)
    assert planned.plan.finish is not None
    assert planned.plan.finish_bound is not None
    assert planned.broken == ()


def test_a_documented_sheet_is_in_force_and_fits_its_schema(tmp_path: Path) -> None:
    assert faults(DOCUMENTED["workshop-sheet.yaml"], sheet=True) == []
    (tmp_path / "workshop-sheet.yaml").write_text(DOCUMENTED["workshop-sheet.yaml"], encoding="utf-8")
    site = tmp_path / "workshop-power.yaml"
    site.write_text(DOCUMENTED["workshop-power.yaml"].replace("to: 0+08", "to: 0+07"), encoding="utf-8")
    assert [(f.rule, f.required) for f in scheduler.check(scheduler.load(site))] == [
        ("keep-open-length", "at least 8 ft")
    ]


def test_every_command_and_option_of_the_readme_is_there_and_every_command_is_told() -> None:
    text = (FOLDER.parent / "README.md").read_text(encoding="utf-8")
    commands = next(a.choices for a in parser()._actions if isinstance(a.choices, dict))
    told = [
        re.findall(r"[\w-]+", line.split("`")[1]) for line in text.splitlines() if line.startswith("| `jointtrench")
    ]
    for _, name, *words in told:
        nested = [c for a in commands[name]._actions if isinstance(a.choices, dict) for c in a.choices.values()]
        known = {o for c in (commands[name], *nested) for a in c._actions for o in a.option_strings}
        assert {w for w in words if w.startswith("--")} <= known, name
    assert {name for _, name, *_ in told} == set(commands)


def test_a_rule_that_no_code_asks_for_says_that_only_a_sheet_does() -> None:
    by_id = {entry.id: entry.value for entry in catalogue()}
    assert by_id["shared-box"] == "yes, where it applies"
    assert by_id["spoil-haul"] == "no, until a sheet or the site file asks for it"
    assert by_id["line-order"] == "a list of kinds of line: only a sheet gives it"
    assert by_id["riser-material"] == "a list of materials: from its table"
    assert by_id["width-least"] == "at least (in): only a sheet or the site file gives it"
    assert by_id["apart-water-sewer"] == "at least 60 in"
