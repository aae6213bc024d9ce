"""Drafts: every field has a control, edits can be taken back, names are followed, comments are kept, saving is safe."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import Literal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from app.components.form_controls import CONTROLS
from scheduler import bundled_sites
from scheduler.audit import audit
from scheduler.errors import BadInput
from scheduler.network.derive import derive
from scheduler.network.network_check import check_network
from scheduler.site.draft import Draft
from scheduler.site.draft_paths import drop, insert, put, rows_at, scalars, value_at
from scheduler.site.draft_words import changes, field_at, spoken
from scheduler.site.editing import LOOSE, SIMPLE, Field, FieldKind, fields_of, parts
from scheduler.site.fields import Day, Hours, Id, Positive, Record, Station
from scheduler.site.files import load_site, read_site
from scheduler.site.references import REFERENCES
from scheduler.site.site_record import Site
from scheduler.site.templates import NAMES, Start, new_site
from scheduler.site.yamltext import read_yaml
from scheduler.solve.outcome import Options
from scheduler.solve.run import solve
from scheduler.trench.layout_check import check_layout, placed_findings
from scheduler.trench.register import RULES
from tests.small_site import FILE, SMALL_SITE

BUNDLED = bundled_sites()
SMALL = Draft.of_text(SMALL_SITE, name=FILE)


def bundled(name: str) -> Draft:
    return Draft.of_text(BUNDLED[name].read_text(encoding="utf-8"), name=f"{name}.yaml", file=BUNDLED[name])


def comments(text: str) -> list[str]:
    return re.findall(r"#.*", text)


def every_field() -> list[Field]:
    found: list[Field] = []

    def walk(fields: tuple[Field, ...]) -> None:
        for field in fields:
            found.append(field)
            if field.record is not None:
                walk(fields_of(field.record, f"{field.place}.*" if field.kind is FieldKind.RECORDS else field.place))

    for part in parts().values():
        walk(part.fields)
    return found


def models(record: type[Record]) -> set[tuple[str, str]]:
    """Return (record, key) of every field of a model and of what it holds, found without the editor."""
    found, todo = set(), [record]
    while todo:
        model = todo.pop()
        for name, info in model.model_fields.items():
            key = (model.__name__, info.alias or name)
            if key not in found:
                found.add(key)
                todo.extend(_records_in(info.annotation))
    return found


def _records_in(annotation: object) -> list[type[Record]]:
    if isinstance(annotation, type) and issubclass(annotation, Record):
        return [annotation]
    inner = getattr(annotation, "__args__", ())
    return [r for a in inner for r in _records_in(a)]


# every field has a control


def test_every_field_of_the_model_has_a_control() -> None:
    held = {p.key: Site.model_fields[p.key].annotation for p in parts().values() if p.key != LOOSE}
    tops = {key: _records_in(annotation)[0] for key, annotation in held.items()}
    seen: set[tuple[str, str]] = {("Site", key) for key in held}
    for part in parts().values():
        owner = "Site" if part.key == LOOSE else tops[part.key].__name__
        todo = [(owner, f) for f in part.fields]
        while todo:
            name, field = todo.pop()
            seen.add((name, field.key))
            assert field.kind in CONTROLS or field.kind in (FieldKind.RECORD, FieldKind.RECORDS), field.place
            if field.record is not None:
                inner = f"{field.place}.*" if field.kind is FieldKind.RECORDS else field.place
                todo.extend((field.record.__name__, f) for f in fields_of(field.record, inner))
    assert seen == models(Site)


def test_every_reference_offers_the_records_it_may_name() -> None:
    by_place = {f.place: f for f in every_field()}
    for section, steps, targets in REFERENCES:
        field = by_place[f"{section}.{steps}".removesuffix(".*")]
        assert field.names_in == targets
        assert field.kind in (FieldKind.NAME, FieldKind.LIST)


def test_a_new_field_needs_no_new_form_code() -> None:
    class Pump(Record):
        id: Id
        lift_ft: Positive | None = None
        """How high it lifts; None: as high as the trench is deep."""
        grade: Literal["good", "poor"] = "good"
        on: Day
        hours: Hours
        at: Station
        quiet: bool | None = None

    id_, lift, grade, on, hours, at, quiet = fields_of(Pump, "pumps")
    assert (lift.title, lift.kind, lift.if_empty) == ("Lift (ft)", FieldKind.NUMBER, "as high as the trench is deep")
    assert (grade.kind, grade.choices, grade.default) == (FieldKind.CHOICE, ("good", "poor"), "good")
    assert [f.kind for f in (id_, on, hours, at, quiet)] == [
        FieldKind.WORDED, FieldKind.DAY, FieldKind.WORDED, FieldKind.WORDED, FieldKind.YES_NO
    ]  # fmt: skip
    assert at.expected.startswith("a station such as 1+60")
    assert [f.required for f in (id_, lift, on)] == [True, False, True]


def test_layout_findings_stand_beside_fields_that_exist() -> None:
    known = {f.key for part in ("site", "lines", "structures", "reaches", "keep_open") for f in parts()[part].fields}
    assert {r.field for r in RULES.values()} <= known | {""}
    assert RULES["cover-power"].field == "cover_in"
    assert RULES["frost-known"].field == "frost_depth_in"


# edits


@pytest.mark.parametrize("name", BUNDLED)
def test_an_opened_draft_is_its_file_letter_for_letter(name: str) -> None:
    draft = bundled(name)
    assert draft.text() == BUNDLED[name].read_text(encoding="utf-8")
    assert draft.judged() == (load_site(BUNDLED[name]), ())


@pytest.mark.parametrize("name", BUNDLED)
def test_an_edit_in_every_part_keeps_every_comment(name: str) -> None:
    first = draft = bundled(name)
    for part in parts().values():
        row = value_at(draft.data, (part.key, 0) if part.many else (part.key,))
        for field in part.simple if isinstance(row, dict) else ():
            path = (part.key, 0, field.key) if part.many else (part.key, field.key)
            if field.kind in (FieldKind.TEXT, FieldKind.NUMBER) and field.key in row:
                new = "9" if field.kind is FieldKind.NUMBER else "Said: anew, so"
                draft = draft.put(path, new)
    text = draft.text()
    assert (
        comments(text) == comments(first.original) or sorted(set(comments(first.original)) - set(comments(text))) == []
    )
    assert read_yaml(text, file=name).data == draft.data
    assert len(draft.past) > 20
    back = draft
    while back.past:
        back = back.undone()
    assert back.data == first.data
    assert back.text() == first.original
    while back.future:
        back = back.redone()
    assert back.data == draft.data


def test_the_text_of_a_sound_draft_is_that_of_its_site() -> None:
    draft = SMALL.put(("lines", 0, "cover_in"), "41.25").put(("trades", 1, "notice_days"), "4")
    site, faults = draft.judged()
    assert not faults
    text = draft.text()
    assert read_site(text, file=FILE) == site
    changed = [new for old, new in zip(SMALL_SITE.splitlines(), text.splitlines(), strict=True) if old != new]
    assert [line.split(":")[-1].strip() for line in changed] == ["41.25", "4"]


def test_an_edit_leaves_the_draft_it_was_made_from_as_it_was() -> None:
    before = read_yaml(SMALL_SITE, file=FILE).data
    draft = SMALL.put(("lines", 0, "route", 0, "to"), "1+00").added(("trades", 0), {"id": "x"}, "one")
    assert SMALL.data == before
    assert draft.data != before
    assert SMALL.put(("lines", 0, "name"), "Service conduit") is SMALL


def test_a_changed_id_takes_what_refers_to_it_along_in_one_step() -> None:
    draft = SMALL.put(("alignments", 0, "id"), "long").put(("trades", 0, "id"), "us").put(("people", 2, "id"), "pw")
    assert draft.judged()[1] == ()
    assert value_at(draft.data, ("lines", 1, "route", 0, "alignment")) == "long"
    assert value_at(draft.data, ("site", "general_trade")) == "us"
    assert value_at(draft.data, ("keep_open", 0, "released_by")) == "pw"
    assert len(draft.past) == 3
    assert draft.undone().undone().undone().data == SMALL.data
    taken = SMALL.put(("alignments", 0, "id"), "B")
    assert value_at(taken.data, ("reaches", 0, "alignment")) == "M"


def test_a_faulty_draft_is_judged_by_the_path_of_each_field() -> None:
    draft = SMALL.put(("lines", 3, "cover_in"), "-2").put(("reaches", 0, "alignment"), "nowhere")
    draft = draft.put(("site", "name"), None)
    site, faults = draft.judged()
    assert site is None
    assert {f.path for f in faults} >= {("lines", 3, "cover_in"), ("reaches", 0, "alignment"), ("site", "name")}
    with pytest.raises(BadInput) as bad:
        read_site(draft.text(), file=FILE)
    assert {(f.rule, f.text) for f in bad.value.findings} == {(f.rule, f.text) for f in faults}


def test_places_and_changes_are_said_in_words() -> None:
    assert spoken(SMALL.data, ("lines", 1, "route", 1, "from")) == "Lines, Water to shed, route 2, from"
    assert spoken(SMALL.data, ("site", "overhead_per_day")) == "Job, overhead (per day)"
    assert spoken(SMALL.data, ()) == "Whole file"
    assert field_at(("lines", 0, "test", "hold_hours")).place == "lines.test.hold_hours"
    draft = SMALL.put(("lines", 0, "cover_in"), "40").put(("trades", 1, "id"), "sparks")
    draft = draft.changed(drop(draft.data, ("structures", 0)), "gone").added(("people", 0), {"id": "p"}, "new")
    assert draft.past[0].words == "Lines, Service conduit, cover (in): 38 → 40"
    said = changes(SMALL.data, draft.data)
    assert "People: p added" in said
    assert "Structures: Utility pole removed" in said
    assert "Trades, Sample Electric, id: elec → sparks" in said
    assert changes(SMALL.data, SMALL.data) == []


def test_paths_are_read_and_written_where_nothing_stands_yet() -> None:
    data = put({}, ("lines", 1, "route", 0, "to"), "1+00")
    assert data == {"lines": [None, {"route": [{"to": "1+00"}]}]}
    assert value_at(data, ("lines", 7, "x")) is None
    assert rows_at(data, ("site",)) == []
    assert insert({"a": ["x"]}, ("a", 1), "y") == {"a": ["x", "y"]}
    assert drop({"a": ["x"]}, ("a", 0)) == {}


PATHS = [path for path, _ in scalars(SMALL.data)]
ODD = ["", "null", "~", "1+60", "a: b", "#", "- x", "é\u2028", "no", "38"]
TEXTS = st.one_of(st.none(), st.sampled_from(ODD), st.text(max_size=12))


@pytest.mark.property
@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.lists(st.tuples(st.sampled_from(PATHS), TEXTS), min_size=1, max_size=6))
def test_any_edits_read_back_from_the_text_and_can_be_taken_back(
    edits: list[tuple[tuple[str, ...], str | None]],
) -> None:
    draft = SMALL
    for path, text in edits:
        draft = draft.put(path, text)
    assert read_yaml(draft.text(), file=FILE).data == draft.data
    for _ in range(len(draft.past)):
        draft = draft.undone()
    assert draft.data == SMALL.data


# layout findings


def test_layout_findings_say_which_line_and_reaches_they_concern() -> None:
    site, _ = SMALL.put(("lines", 0, "cover_in"), "6").judged()
    placed = placed_findings(site)
    assert [p.finding for p in placed] == check_layout(site)
    shallow = next(p for p in placed if p.finding.rule == "cover-power" and "P1" in p.subject)
    assert shallow.reaches == ("R1", "R2")


# saving


def test_a_draft_is_saved_to_its_own_file_in_one_step(tmp_path: Path) -> None:
    path = tmp_path / FILE
    path.write_text(SMALL_SITE, encoding="utf-8")
    draft = Draft.of_text(SMALL_SITE, name=FILE, file=path).put(("trades", 0, "crews"), "2")
    saved = draft.saved(path)
    assert load_site(path) == draft.judged()[0]
    assert comments(path.read_text(encoding="utf-8")) == comments(SMALL_SITE)
    assert saved.text() == path.read_text(encoding="utf-8")
    again = saved.put(("trades", 0, "crews"), "3").saved(path)
    assert load_site(path) == again.judged()[0]
    assert [p.name for p in tmp_path.iterdir()] == [FILE]


def test_a_draft_is_not_saved_over_what_somebody_else_wrote(tmp_path: Path) -> None:
    path = tmp_path / FILE
    path.write_text(SMALL_SITE + "# another hand\n", encoding="utf-8")
    draft = Draft.of_text(SMALL_SITE, name=FILE, file=path).put(("trades", 0, "crews"), "2")
    with pytest.raises(BadInput, match="Somebody changed the file"):
        draft.saved(path)
    assert path.read_text(encoding="utf-8").endswith("# another hand\n")
    path.write_text(SMALL_SITE, encoding="utf-8")
    with pytest.raises(BadInput, match="fix them first"):
        draft.put(("trades", 0, "crews"), "many").saved(path)
    assert path.read_text(encoding="utf-8") == SMALL_SITE
    with pytest.raises(BadInput, match="can no longer be read"):
        draft.saved(tmp_path / "gone.yaml")


# templates


@pytest.mark.parametrize("length_ft", [40.0, 180.0, 333.5])
@pytest.mark.parametrize("first", [date(2026, 11, 26), date(2027, 6, 5)])
def test_a_template_is_a_site_that_breaks_no_rule_of_safety(length_ft: float, first: date) -> None:
    draft = new_site("house-service", Start("Mill Road 14", first, length_ft, state="UT"))
    site, faults = draft.judged()
    assert faults == ()
    assert (site.site.name, site.site.first_day, site.site.state) == ("Mill Road 14", first, "UT")
    assert site.alignments[0].length_ft == length_ft == site.reaches[-1].to == site.structures[-1].station
    assert not check_network(derive(site))
    assert {f.rule for f in check_layout(site)} <= {"pull-length"}
    assert "Trenches kill" in draft.text()
    assert comments(draft.text())[-1] == "# from your local table"
    assert draft.name == "mill-road-14.yaml"


def test_a_template_is_planned_and_the_plan_audited() -> None:
    site, _ = new_site("house-service", Start("Mill Road 14", date(2027, 4, 5))).judged()
    network = derive(site)
    outcome = solve(network, Options(only_finish=True))
    assert outcome.schedule is not None
    assert list(audit(network, outcome.schedule)) == []


def test_the_bare_template_says_what_a_site_needs() -> None:
    draft = new_site("bare", Start("", date(2027, 4, 5)))
    assert {f.path for f in draft.judged()[1]} >= {(k,) for k in ("reaches", "lines", "trades")}
    assert draft.data["alignments"][0]["length_ft"] == "100", "the length that was asked for is kept"
    assert replace(draft, name="x").past == ()
    assert set(NAMES) == {p.stem for p in (Path(BUNDLED["orchard-lane"]).parent / "templates").glob("*.yaml")}


def test_simple_fields_fit_a_table() -> None:
    assert all(f.kind in SIMPLE for part in parts().values() for f in part.simple)
    assert {f.key for f in parts()["bookings"].simple} == {"id", "of", "start", "firm", "move_cost"}
