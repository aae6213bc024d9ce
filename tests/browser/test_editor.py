"""The site editor as its users meet it: typed in, told what is wrong beside the field, taken back, planned."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import expect

import scenarios
from app.components.form_state import first_keys
from scheduler.audit import audit
from scheduler.network.derive import derive
from scheduler.site.draft_paths import value_at
from scheduler.site.editing import Field, FieldKind, fields_of, parts
from scheduler.site.files import load_site, read_site
from scheduler.site.yamltext import read_yaml
from scheduler.solve.outcome import Options
from scheduler.solve.run import solve
from tests.browser.dashboard import Dashboard

SMALL = Path(scenarios.__file__).with_name("orchard-lane.yaml")
EVIL = "<script>document.title='taken'</script><img src=x onerror=document.title='taken'>"
TYPED = """
site: {name: Typed by hand, time_zone: America/Denver, first_day: 2027-04-05, frost_depth_in: 20}
alignments:
  - {id: main, name: Main trench, length_ft: 60}
reaches:
  - {id: R1, alignment: main, from: 0+00, to: 0+30, bottom_width_in: 40}
  - {id: R2, alignment: main, from: 0+30, to: 0+60, bottom_width_in: 40}
trades:
  - {id: crew, name: Site crew, own: true, calendar: site-hours, day_rate: 1400}
  - {id: electrician, name: Electrician, calendar: site-hours, notice_days: 2}
lines:
  - {id: power, name: Power conduit, kind: power, trade: electrician, material: pvc40, size_in: 2,
     route: [{alignment: main, from: 0+00, to: 0+60}], offset_in: -15, cover_in: 30, voltage_v: 240}
  - {id: water, name: Water pipe, kind: water, trade: crew, material: pe, size_in: 1,
     route: [{alignment: main, from: 0+00, to: 0+60}], offset_in: 14, cover_in: 30, tracer_wire_awg: 14}
inspections:
  - {id: look, name: Conduits before cover, authority: The county, stage: lines_laid, kinds: [power, water],
     calendar: site-hours, fee: 80}
"""
"""What is typed, field by field, into an empty site with one calendar; invented."""


def editor(dashboard: Dashboard, **query: str) -> Dashboard:
    """Open the editor by its address."""
    tail = "&".join(f"{k}={v}" for k, v in query.items())
    dashboard.page.goto(f"{dashboard.address}/site-editor?{tail}")
    dashboard.page.get_by_role("heading", name="Site editor").wait_for()
    return dashboard.shown()


def view(dashboard: Dashboard, name: str) -> None:
    dashboard.page.get_by_test_id("stMain").get_by_role("radio", name=name, exact=True).click()
    dashboard.settled()


def box(scope: Any, label: str) -> Any:
    return scope.get_by_label(label, exact=True)


def type_in(dashboard: Dashboard, scope: Any, field: Field, value: object) -> None:
    """Fill one field as a person does: by keys."""
    label = f"{field.title} *" if field.required else field.title
    keyboard = dashboard.page.keyboard
    if field.kind is FieldKind.YES_NO and field.default is not None:
        control = scope.get_by_role("checkbox", name=field.label, exact=True)
        if control.is_checked() != (value == "true"):
            scope.get_by_test_id("stCheckbox").get_by_text(field.label, exact=True).click()
            dashboard.settled()
    elif (
        field.kind in (FieldKind.CHOICE, FieldKind.NAME, FieldKind.LIST, FieldKind.YES_NO)
        or field.place == "site.time_zone"
    ):
        for item in value if isinstance(value, list) else [value]:
            control = scope.get_by_role("combobox", name=re.compile(rf"^(Selected .*)?{re.escape(label)}"))
            control.click()
            control.fill(str(item).replace("_", " "))
            dashboard.page.get_by_role("option").first.wait_for()
            keyboard.press("Enter")
            dashboard.settled()
        if field.kind is FieldKind.LIST:
            keyboard.press("Escape")  # the list stays open for the next choice, over the rest of the page
    elif field.kind is FieldKind.DAY:
        control = scope.get_by_test_id("stDateInput").filter(has_text=field.title)
        control.get_by_role("spinbutton").first.click()
        keyboard.type(str(value).replace("-", ""))
        keyboard.press("Tab")
        dashboard.settled()
    else:
        control = box(scope, label)
        control.fill(str(value))
        control.press("Enter")
        dashboard.settled()


def unfold(dashboard: Dashboard, field: Field) -> None:
    """Open the fold with the less usual fields of a record, where the field stands in it."""
    part = parts().get(field.place.partition(".")[0])
    if part is not None and field in part.fields and field.key not in first_keys(part):
        fold = dashboard.page.get_by_test_id("stExpander").filter(has_text="More about this")
        if fold.locator("details").get_attribute("open") is None:
            fold.locator("summary").click()
            dashboard.settled()


def fill(dashboard: Dashboard, scope: Any, fields: tuple[Field, ...], record: dict[str, Any]) -> None:
    """Fill every field of a form that a record gives."""
    for field in fields:
        value = record.get(field.key)
        if value is None:
            continue
        if field.kind is FieldKind.RECORDS:
            inner = fields_of(field.record, f"{field.place}.*")
            details = dashboard.page.get_by_test_id("stExpander").filter(has_text=field.label)
            filled_on = details.get_by_text(re.compile(rf"^{field.label} \d+$")).count()
            for _ in value[filled_on:]:
                dashboard.page.get_by_role("button", name=f"Add to {field.label.lower()}").click()
                dashboard.settled()
            for row in value:
                fill(dashboard, details, inner, row)
        elif value_at(record, (field.key,)) is not None:
            unfold(dashboard, field)
            type_in(dashboard, scope, field, value)


def test_a_cover_too_thin_is_seen_beside_its_field_and_undone(dashboard):
    editor(dashboard, part="lines")
    dashboard.reads("It can be planned, and its layout breaks no rule.")
    cover = box(dashboard.page, "Cover (in)")
    assert cover.input_value() == "30"
    cover.fill("8")
    cover.press("Enter")
    dashboard.reads("lies too shallow")
    dashboard.settled()
    beside = dashboard.page.get_by_test_id("stColumn").filter(has=cover).last  # the innermost
    said = beside.inner_text()
    assert "Found 8 in of cover" in said
    assert "at least 30 in" in said
    assert "3-12" in said, "the source stands beside it"
    dashboard.settled()
    dashboard.photograph("editor-cover-1440-light")
    dashboard.page.get_by_role("button", name="Undo").click()
    dashboard.page.get_by_text("lies too shallow").wait_for(state="detached")
    expect(cover).to_have_value("30")
    dashboard.page.get_by_role("button", name="Redo").click()
    dashboard.reads("lies too shallow")
    dashboard.settled()
    cover.fill("-3")
    cover.press("Enter")
    dashboard.reads("Found '-3'; expected a positive number.")
    dashboard.go("Today")
    dashboard.reads("Would finish")


@pytest.mark.parametrize("width", [1440, 390])
def test_the_editor_fits_its_screen(visit, width):
    dashboard = visit(width=width)
    for part in ("site", "lines", "inspections"):
        editor(dashboard, part=part)
        for scheme in dashboard.in_light_and_dark():
            assert dashboard.page.get_by_test_id("stDataFrame").is_visible() == (width > 768 and part != "site")
            assert (dashboard.overflow_px(), dashboard.exceptions()) == (0, 0), (part, scheme)
            dashboard.photograph(f"editor-{part}-{width}-{scheme}")
    for name in ("To fix", "Import", "Save and plan", "New site"):
        view(dashboard, name)
        for scheme in dashboard.in_light_and_dark():
            assert (dashboard.overflow_px(), dashboard.exceptions()) == (0, 0), (name, scheme)
            dashboard.photograph(f"editor-{name.lower().replace(' ', '-')}-{width}-{scheme}")
    assert not dashboard.faults


@pytest.mark.benchmark  # shorter in test_own_site
def test_a_site_typed_from_scratch_is_judged_saved_read_back_and_planned(dashboard, tmp_path):
    typed = read_yaml(TYPED, file="typed.yaml").data
    page = dashboard.page
    editor(dashboard)
    view(dashboard, "New site")
    page.get_by_text("From the beginning", exact=True).click()
    box(page, "Name of the site").fill("Draft")
    page.get_by_role("button", name="Begin", exact=True).click()
    dashboard.reads("to fix before this can be planned or saved")
    dashboard.settled()
    for key, rows in typed.items():
        part = parts()[key]
        dashboard.pick("Part of the site", part.label)
        if key == "alignments":  # the main trench stands there already, by the length that was asked for
            page.get_by_role("button", name="Remove", exact=True).click()
            dashboard.settled()
        main = page.get_by_test_id("stMain")
        for row in rows if part.many else [rows]:
            if part.many:
                page.get_by_role("button", name=f"Add {part.noun}", exact=True).click()
                dashboard.settled()
            fill(dashboard, main, part.fields, row)
    dashboard.reads("It can be planned")
    view(dashboard, "Save and plan")
    dashboard.photograph("editor-typed-1440-light")
    with page.expect_download() as kept:
        page.get_by_role("button", name="Download the site file").click()
    file = tmp_path / "typed.yaml"
    kept.value.save_as(file)
    calendars = read_yaml(file.read_text(encoding="utf-8"), file="typed.yaml").data["calendars"]
    whole = (
        TYPED + f"\ncalendars: [{{id: site-hours, name: {calendars[0]['name']}, weekly: ['mon-fri 07:00-15:30']}}]\n"
    )
    site = load_site(file)
    given = f"depth_in: 20, country: US, job_id: {site.site.job_id}}}"  # the one thing that nobody types
    assert site == read_site(whole.replace("depth_in: 20}", given), file="typed.yaml")
    assert "Trenches kill" in file.read_text(encoding="utf-8")
    network = derive(site)
    outcome = solve(network, Options(only_finish=True))
    assert list(audit(network, outcome.schedule)) == []
    page.get_by_role("button", name="Plan this site").click()
    dashboard.reads("Typed by hand")
    dashboard.reads("Would finish")
    when = network.clock.when(outcome.schedule.finish)
    assert f"{when:%A} {when.day} {when:%B}, {when:%H:%M}" in dashboard.text()
    editor_link = page.get_by_test_id("stHeader").get_by_role("link", name="Site editor")
    editor_link.click()
    dashboard.reads("It can be planned")


def test_lines_come_from_csv_and_faults_are_told_by_file_and_line(dashboard, tmp_path):
    editor(dashboard)
    view(dashboard, "Import")
    dashboard.pick("Part to fill", "Lines")
    dashboard.reads("Download lines as CSV")
    bad = tmp_path / "lines.csv"
    bad.write_text(
        "id,name,kind,trade,material,size_in,route\n"
        "spare,Spare,pwer,electrician,pvc40,1,main 0+00-1+00\n"
        "=1+1,Spare,power,nobody,pvc40,1,main 0+00-1+00\n",
        encoding="utf-8",
    )
    uploader = dashboard.page.get_by_test_id("stMain").locator("input[type=file]")
    uploader.set_input_files(bad)
    dashboard.reads("Nothing was changed.")
    dashboard.settled()
    said = dashboard.text()
    assert "lines.csv, line 2" in said
    assert "lines.csv, line 3" in said
    assert "The cell is a formula." in said
    dashboard.photograph("editor-csv-1440-light")
    good = tmp_path / "good.csv"
    good.write_text(
        "id,name,kind,trade,material,size_in,route\nspare,Spare conduit,power,electrician,pvc40,1,main 0+00-1+00\n",
        encoding="utf-8",
    )
    uploader.set_input_files(good)
    dashboard.reads("1 record added, 0 changed.")
    view(dashboard, "Edit")
    dashboard.pick("Part of the site", "Lines (7)")
    dashboard.pick("Line", "Spare conduit")
    assert box(dashboard.page, "Name *").input_value() == "Spare conduit"


def test_a_table_is_typed_in_by_keys_and_keeps_its_place(dashboard):
    editor(dashboard, part="trades")
    table = dashboard.page.get_by_test_id("stDataFrame")
    table.scroll_into_view_if_needed()
    corner = table.bounding_box()
    dashboard.page.mouse.click(corner["x"] + 180, corner["y"] + 52)
    cell = dashboard.page.locator("#portal textarea")
    for done, name in (("1 edit", "First crew"), ("2 edits", "Second crew")):
        # The grid takes keys a person can press: it loses an Enter that comes before it has drawn the last letter.
        while not cell.is_visible():
            dashboard.page.keyboard.press("Enter")
            dashboard.page.wait_for_timeout(300)
        cell.press("Control+a")
        cell.press_sequentially(name, delay=40)
        expect(cell).to_have_value(name)
        dashboard.page.wait_for_timeout(200)
        cell.press("Enter")
        dashboard.reads(done)
        dashboard.settled()
    view(dashboard, "Save and plan")
    said = dashboard.text()
    assert "name: Site crew → First crew" in said
    assert "→ Second crew" in said


def test_names_that_try_tricks_are_shown_as_words(dashboard, tmp_path):
    file = tmp_path / "evil.yaml"
    text = SMALL.read_text(encoding="utf-8")
    name = read_site(text, file="x").site.name
    quoted = EVIL.replace("'", "''")
    file.write_text(text.replace(f"name: {name}", f"name: '{quoted}'"), encoding="utf-8")
    editor(dashboard)
    dashboard.page.get_by_test_id("stSidebar").locator("input[type=file]").set_input_files(file)
    dashboard.reads("evil.yaml")
    dashboard.settled()
    assert box(dashboard.page, "Name *").input_value() == EVIL
    box(dashboard.page, "Name *").fill(EVIL + " again")
    box(dashboard.page, "Name *").press("Enter")
    dashboard.reads("1 edit")
    for name in ("To fix", "Save and plan"):
        view(dashboard, name)
    dashboard.reads("<script>")
    dashboard.go("Today")
    dashboard.reads("Would finish")
    dashboard.reads("<script>")
    assert "taken" not in dashboard.page.title()
    assert dashboard.exceptions() == 0


def test_a_file_of_50_mb_is_refused_and_the_page_goes_on(dashboard, tmp_path):
    file = tmp_path / "huge.yaml"
    with file.open("wb") as stream:
        stream.truncate(50 * 1024 * 1024)
    editor(dashboard)
    dashboard.page.get_by_test_id("stSidebar").locator("input[type=file]").set_input_files(file)
    dashboard.page.get_by_text(re.compile("must be .* or smaller|too large")).first.wait_for()
    assert dashboard.exceptions() == 0
    csv = tmp_path / "huge.csv"
    file.rename(csv)
    view(dashboard, "Import")
    dashboard.page.get_by_test_id("stMain").locator("input[type=file]").set_input_files(csv)
    dashboard.page.get_by_test_id("stMain").get_by_text(re.compile("must be .* or smaller|too large")).first.wait_for()
    view(dashboard, "Edit")
    dashboard.reads("It can be planned")
