"""The page Paper and calendars without a browser."""

from __future__ import annotations

import pytest

from tests.unit.test_app_pages import EVIL, page, texts

BUTTONS = [
    "Look-ahead (PDF)",
    "Hold tags (PDF)",
    "Hold tags in Spanish (PDF)",
    "Calendar (ICS)",
    "Work (CSV)",
    "Visits (CSV)",
    "Hold points (CSV)",
]


@pytest.fixture(autouse=True)
def journals(tmp_path, monkeypatch):
    monkeypatch.setenv("JOINTTRENCH_JOURNAL", str(tmp_path))


def test_it_offers_every_file_and_says_what_is_in_it():
    at = page("paper", "solved")
    assert not at.exception
    assert [b.proto.label for b in at.get("download_button")] == BUTTONS
    said = texts(at)
    assert "Mon 1 Mar to Sun 14 Mar 2027" in said
    assert "inspection visits" in said
    assert "tags, one for each hold point that stands in these days, without QR code" in said
    assert "Trenches kill." in said


def test_an_address_for_phones_puts_codes_on_the_tags_and_a_bad_one_is_refused():
    at = page("paper", "solved")
    at.text_input("reached at").set_value("http://192.0.2.7:8501").run()
    assert "with a QR code to its page" in texts(at)
    at.text_input("reached at").set_value("nonsense").run()
    assert not at.exception
    assert "cannot be used" in texts(at)
    assert "without QR code" in texts(at)


def test_a_link_chooses_for_whom_and_how_far():
    at = page("paper", "solved", query={"for": "electrician", "weeks": "1", "from": "2027-03-08", "sheet": "a4"})
    assert not at.exception
    assert "Mon 8 Mar to Sun 14 Mar 2027** for Electrician" in texts(at)


def test_a_stretch_without_work_says_so_and_still_offers_papers():
    at = page("paper", "solved", query={"for": "Sorrel Valley Telephone", "weeks": "1"})
    assert not at.exception
    assert (
        "Nothing is planned for Sorrel Valley Telephone from Mon 1 Mar to Sun 7 Mar 2027. The papers say so."
        in texts(at)
    )
    assert len(at.get("download_button")) == len(BUTTONS)


def test_names_that_try_tricks_show_as_they_stand():
    at = page("paper", "hostile", query={"for": "plumber"})
    assert not at.exception
    assert not any(e.proto.allow_html for e in at.markdown)
    assert not any(EVIL in e.value for e in at.markdown)


@pytest.mark.parametrize("status", ["infeasible", "unknown", "stopped"])
def test_without_dates_it_says_why(status):
    at = page("paper", "without_dates", status)
    assert not at.exception
    assert "no plan" in texts(at).casefold() or "before a plan was found" in texts(at)
    assert not at.get("download_button")
