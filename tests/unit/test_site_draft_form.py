"""The editor's page without a browser: a control for every field, messages beside it, undo, every view."""

from __future__ import annotations

from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from scheduler import bundled_sites
from scheduler.site.draft import Draft
from scheduler.site.editing import LOOSE, Field, FieldKind, fields_of, parts

SMALL, STREET = bundled_sites().values()
VIEWS = ("Edit", "To fix", "Import", "Save and plan", "New site")
SHOWN = ("text_input", "number_input", "selectbox", "multiselect", "checkbox", "date_input", "text_area")


def editor(path: Path, **query: str) -> AppTest:
    """Open the editor on a site file."""

    def script(path: str) -> None:
        from pathlib import Path

        from app.screens import editor

        editor.show(Path(path).stem, Path(path))

    at = AppTest.from_function(script, args=(str(path),), default_timeout=60)
    for key, value in query.items():
        at.query_params[key] = value
    return at.run()


def words(at: AppTest) -> str:
    kinds = (at.title, at.header, at.markdown, at.caption, at.error, at.warning, at.info, at.success)
    return "\n".join(e.value for kind in kinds for e in kind)


def draft(at: AppTest) -> Draft:
    return at.session_state["drafts"][at.session_state["draft"]]


def widget(at: AppTest, path: tuple[str | int, ...], control: str):
    key = f"{at.session_state['draft']} {'.'.join(map(str, path))} {control}"
    return next(w for kind in SHOWN for w in at.get(kind) if w.key == key)


def labels(at: AppTest) -> set[str]:
    return {w.label.removesuffix(" *") for kind in SHOWN for w in at.get(kind)}


def open_boxes(at: AppTest, path: tuple[str | int, ...], field: Field, *, many: bool) -> None:
    at.session_state[f"{at.session_state['draft']} {'.'.join(map(str, (*path, field.key)))} box"] = True
    if field.record is not None and many:
        for inner in fields_of(field.record, field.place):
            if inner.record is not None:
                open_boxes(at, (*path, field.key), inner, many=False)


@pytest.mark.parametrize("key", parts())
def test_every_field_of_a_part_is_on_its_form(key: str) -> None:
    part = parts()[key]
    at = editor(SMALL, part=key)
    if part.many and not at.session_state["drafts"]["orchard-lane"].data.get(key):
        at.button("add-record").click().run()
    path = (key, 0) if part.many else () if key == LOOSE else (key,)
    at.session_state[f"{at.session_state['draft']} {'.'.join(map(str, (*path, 'more')))} box"] = True
    nested = [f for f in part.fields if f.record is not None]
    for field in nested:
        open_boxes(at, path, field, many=field.kind is FieldKind.RECORD)
    at.run()
    for field in nested:
        add = [b for b in at.button if b.key == f"orchard-lane {'.'.join(map(str, (*path, field.key)))} add"]
        if add:
            add[0].click().run()
    assert not at.exception
    inner = [f for n in nested for f in fields_of(n.record, n.place)]
    missing = {
        f.title if f.kind is not FieldKind.YES_NO else f.label for f in (*part.fields, *inner) if f.record is None
    }
    assert missing - labels(at) == set()


@pytest.mark.parametrize("path", [SMALL, STREET], ids=lambda p: p.stem)
@pytest.mark.parametrize("view", VIEWS)
def test_every_view_shows(path: Path, view: str) -> None:
    at = editor(path)
    at.get("button_group")[0].set_value(view).run()
    assert not at.exception
    assert "A copy of" in words(at)


def test_a_cover_too_thin_is_told_beside_its_field_and_taken_back() -> None:
    at = editor(SMALL, part="lines")
    assert "its layout breaks no rule. But 7 things could not be known and 2 things nothing" in words(at)
    widget(at, ("lines", 0, "cover_in"), "number").set_value(8.0).run()
    assert "Power service conduit lies too shallow. Found **8 in of cover**. Needed: at least 30 in." in words(at)
    assert draft(at).data["lines"][0]["cover_in"] == "8"
    at.button("undo").click().run()
    assert "too shallow" not in words(at)
    assert widget(at, ("lines", 0, "cover_in"), "number").value == 30.0
    at.button("redo").click().run()
    assert "too shallow" in words(at)


def test_a_value_that_does_not_fit_is_kept_and_told_beside_its_field() -> None:
    at = editor(SMALL, part="reaches")
    widget(at, ("reaches", 0, "to"), "text").set_value("1+6x").run()
    assert "**To fix** · The value does not fit. Found '1+6x'; expected a station such as 1+60" in words(at).replace(
        "\\", ""
    )
    assert widget(at, ("reaches", 0, "to"), "text").value == "1+6x"
    at.get("button_group")[0].set_value("Save and plan").run()
    assert at.button("plan").disabled
    at.get("button_group")[0].set_value("To fix").run()
    at.button("go fault 0").click().run()
    assert at.query_params["part"] == "reaches"
    assert widget(at, ("reaches", 0, "to"), "text").value == "1+6x"
    widget(at, ("reaches", 0, "to"), "text").set_value("").run()
    assert "To is needed." in words(at)


def test_records_are_added_copied_and_taken_out() -> None:
    at = editor(SMALL, part="trades")
    at.button("copy-record").click().run()
    assert [t["id"] for t in draft(at).data["trades"]][:2] == ["site-crew", "trade-1"]
    assert at.query_params["record"] == "trades.2"
    at.button("take-out").click().run()
    at.button("add-record").click().run()
    filled_on = draft(at).data["trades"][-2]["calendar"]
    assert draft(at).data["trades"][-1] == {"id": "trade-1", "calendar": filled_on}
    assert "Name is needed." in words(at)
    at.button("undo").click().run()
    at.button("undo").click().run()
    at.button("undo").click().run()
    assert draft(at).data == Draft.of_text(SMALL.read_text(encoding="utf-8"), name="x").data
    assert not at.exception


def test_whom_work_takes_is_added_within_its_own_record(tmp_path: Path) -> None:
    file = tmp_path / "split.yaml"
    split = "members: [{skill: layer, count: 2}], work_needs: [{work: [bed], members: [{skill: layer, count: 2}]}]"
    crew = "calendar: site-hours, day_rate: 1450"
    file.write_text(SMALL.read_text(encoding="utf-8").replace(crew, f"{crew}, {split}", 1), encoding="utf-8")
    at = editor(file, part="trades")
    for box in ("members", "work_needs", "work_needs.0.members"):
        at.session_state[f"split trades.0.{box} box"] = True
    at.run()
    at.button("split trades.0.work_needs.0.members add").click().run()
    widget(at, ("trades", 0, "work_needs", 0, "members", 1, "skill"), "text").set_value("operator").run()
    assert not at.exception
    taken = [m["skill"] for m in draft(at).data["trades"][0]["work_needs"][0]["members"]]
    assert taken == ["layer", "operator"]
    assert "There is no member of this crew with the skill 'operator'" in words(at)


def test_a_new_site_is_begun_from_a_template() -> None:
    at = editor(SMALL)
    at.get("button_group")[0].set_value("New site").run()
    at.text_input("new-name").set_value("Mill <b>Road</b> 14")
    at.text_input("new-length").set_value("140")
    at.button("begin").click().run()
    assert not at.exception
    assert draft(at).data["site"]["name"] == "Mill <b>Road</b> 14"
    assert draft(at).judged()[0].reaches[-1].to == 140.0
    assert "A copy of **mill-b-road-b-14.yaml**" in words(at).replace("\\", "")
    at.get("button_group")[0].set_value("New site").run()
    at.button("resume").click().run()
    assert draft(at).name == "orchard-lane.yaml"


def test_a_faulty_file_is_opened_and_what_no_form_knows_can_be_taken_out(tmp_path: Path) -> None:
    file = tmp_path / "bad.yaml"
    text = (
        SMALL.read_text(encoding="utf-8")
        .replace("frost_depth_in", "frost_dept")
        .replace("length_ft: 220", "length_ft: long")
    )
    file.write_text(text, encoding="utf-8")
    at = editor(file, part="site")
    assert "Unknown field 'frost_dept'; did you mean 'frost_depth_in'?" in words(at).replace("\\", "")
    next(b for b in at.button if b.key == "bad site.frost_dept drop").click().run()
    assert "Unknown field" not in words(at)
    at = editor(file, part="alignments")
    assert widget(at, ("alignments", 0, "length_ft"), "text").value == "long"
    widget(at, ("alignments", 0, "length_ft"), "text").set_value("220").run()
    assert not [f for f in draft(at).judged()[1] if f.path[0] == "alignments"]


def test_a_file_that_is_no_yaml_is_refused_with_its_line(tmp_path: Path) -> None:
    file = tmp_path / "bad.yaml"
    file.write_text("site:\n  name: [x\n", encoding="utf-8")
    at = editor(file)
    assert "This site file cannot be used yet" in words(at)
    assert "bad.yaml, line" in words(at)
