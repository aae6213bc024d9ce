"""Papers and calendars as a user gets them: pressed for, saved by the browser, and read back."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from icalendar import Calendar

from tests.papers import read_pdf, read_table

NAME = "Paper and calendars"


def download(dashboard, label: str, folder: Path) -> Path:
    """Press a button and return the file that the browser saved."""
    with dashboard.page.expect_download() as waiting:
        dashboard.page.get_by_role("button", name=label, exact=True).click()
    kept = folder / waiting.value.suggested_filename
    waiting.value.save_as(kept)
    return kept


def test_a_look_ahead_is_downloaded_and_reads_what_the_page_said(dashboard, tmp_path):
    dashboard.open(NAME, weeks="1", sheet="a4", **{"for": "electrician", "from": "2027-03-08"}).planned()
    dashboard.reads("Mon 8 Mar to Sun 14 Mar 2027")
    file = download(dashboard, "Look-ahead (PDF)", tmp_path)
    assert file.name == "look-ahead Electrician.pdf"
    pdf = read_pdf(file.read_bytes())
    assert "Look-ahead: Electrician" in pdf.text
    assert "Mon 8 Mar to Sun 14 Mar 2027" in pdf.text
    assert "Trenches kill." in pdf.text
    assert pdf.outside == []
    assert pdf.sizes[0] == pytest.approx((595.28, 841.89), abs=0.01)


def test_a_calendar_is_downloaded_and_read_back(dashboard, tmp_path):
    dashboard.open(NAME).planned()
    dashboard.pick("Who is it for?", "Plumber")
    file = download(dashboard, "Calendar (ICS)", tmp_path)
    assert file.name == "calendar Plumber.ics"
    book = Calendar.from_ical(file.read_bytes().decode("utf-8"))
    assert book["method"] == "PUBLISH"
    events = book.walk("VEVENT")
    assert any(str(e["summary"]).startswith("Lay Water line") for e in events)
    assert {e["dtstart"].params["TZID"] for e in events} == {"America/Denver"}


def test_a_calendar_sent_out_before_numbers_what_moved_since(dashboard, tmp_path):
    dashboard.open(NAME, **{"for": "plumber"}).planned()
    first = download(dashboard, "Calendar (ICS)", tmp_path).read_bytes().decode("utf-8")
    one = str(Calendar.from_ical(first).walk("VEVENT")[0]["uid"])
    starts = [line for line in first.split("\r\n") if line.startswith("DTSTART;TZID")]
    sent = tmp_path / "sent.ics"
    sent.write_bytes(first.replace(starts[0], re.sub(r"T\d\d", "T05", starts[0]), 1).encode())
    assert sent.read_bytes().decode() != first
    chooser = dashboard.page.get_by_test_id("stMain").locator("[data-testid=stFileUploader] input[type=file]")
    chooser.set_input_files(sent)
    dashboard.reads("The new calendar follows on from the")
    dashboard.shown()
    again = Calendar.from_ical(download(dashboard, "Calendar (ICS)", tmp_path).read_bytes().decode("utf-8"))
    assert [str(e["uid"]) for e in again.walk("VEVENT") if e["sequence"] == 1] == [one]
    other = tmp_path / "other.ics"
    other.write_text("not a calendar")
    chooser.set_input_files(other)
    dashboard.reads("cannot be read, so its events cannot be updated in place")
    assert dashboard.exceptions() == 0


def test_tables_are_downloaded_and_read_back(dashboard, tmp_path):
    dashboard.open(NAME).planned()
    rows = {}
    for label in ("Work (CSV)", "Visits (CSV)", "Hold points (CSV)"):
        rows[label] = read_table(download(dashboard, label, tmp_path).read_text(encoding="utf-8-sig"))
    holds = {r["hold point"] for r in rows["Hold points (CSV)"]}
    assert len(rows["Work (CSV)"]) > 80
    assert len(holds) > 15
    assert {h for r in rows["Visits (CSV)"] for h in r["hold points"].split("; ")} <= holds
    assert {p.name for p in tmp_path.iterdir()} == {
        "table of work.csv", "table of visits.csv", "table of hold points.csv",
    }  # fmt: skip


def test_hold_tags_carry_the_address_that_was_typed_and_it_opens_the_hold_point(dashboard, address, tmp_path):
    zxingcpp = pytest.importorskip("zxingcpp")
    from tests.papers import photograph

    dashboard.open(NAME).planned()
    dashboard.page.get_by_text("Links and QR codes").click()
    box = dashboard.page.get_by_label("Address of this dashboard")
    box.fill(address)
    box.press("Enter")
    dashboard.reads("with a QR code to its page")
    dashboard.photograph("paper-with-links-1440-light")
    content = download(dashboard, "Hold tags (PDF)", tmp_path).read_bytes()
    (code,) = zxingcpp.read_barcodes(photograph(content))
    dashboard.page.goto(code.text)
    dashboard.shown()
    assert dashboard.exceptions() == 0
    assert "not here" not in dashboard.text()
    tag = read_pdf(content).pages[0]
    name = tag.split("HOLD POINT: ")[1].split(" Lines:")[0]
    dashboard.reads(name.split(":")[0])


@pytest.mark.parametrize(("width", "scheme"), [(1440, "light"), (390, "dark")])
def test_it_fits_the_screen_when_nothing_is_planned(visit, width, scheme):
    dashboard = visit(width=width, scheme=scheme)
    dashboard.open(NAME, weeks="1", **{"for": "Sorrel Valley Telephone"}).planned()
    dashboard.reads("Nothing is planned for Sorrel Valley Telephone")
    assert dashboard.overflow_px() == 0
    assert dashboard.exceptions() == 0
    assert not dashboard.faults
    dashboard.photograph(f"paper-empty-{width}-{scheme}")
