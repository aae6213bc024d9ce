"""Uploaded sites are there in every session, a record begins by the user's word, cover is asked without a plan."""

from __future__ import annotations

from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

import scheduler
from scheduler.ledger import place_of, shelved
from tests.small_site import SMALL_SITE

REAL = SMALL_SITE.replace("practice-garden-row", "JT-7F3K-9QXD-M2TA-40BN").replace("  invented: true\n", "")


def texts(at: AppTest) -> str:
    kinds = (at.title, at.subheader, at.markdown, at.caption, at.error, at.warning, at.info)
    return "\n".join(e.value for kind in kinds for e in kind)


def choices() -> dict[str, Path]:
    """Return the sites that a new session offers."""

    def script() -> None:
        import streamlit as st

        from app.session import site_choices

        st.session_state["choices"] = site_choices()

    found: dict[str, Path] = AppTest.from_function(script).run().session_state["choices"]
    return found


def test_an_upload_is_there_in_the_next_session_under_its_id() -> None:
    def script(text: str) -> None:
        import streamlit as st

        from app.session import keep_upload, shown_name

        st.session_state["kept"] = keep_upload("my job.yaml", text.encode())
        st.session_state["shown"] = shown_name(st.session_state["kept"])

    at = AppTest.from_function(script, args=(REAL,)).run()
    assert at.session_state["kept"] == "JT-7F3K-9QXD-M2TA-40BN"
    assert at.session_state["shown"] == "Garden row (your file)"
    path = choices()["JT-7F3K-9QXD-M2TA-40BN"]
    assert path.read_text("utf-8") == REAL
    case = scheduler.load(path)
    place_of(case.site, path).open().close()
    assert place_of(case.site, path).made
    other = REAL.replace("Garden row", "Orchard row")
    again = AppTest.from_function(script, args=(other,)).run()
    assert again.session_state["kept"] == "my-job", "another job with this id is shown, and not kept under it"
    found = shelved("JT-7F3K-9QXD-M2TA-40BN")
    assert found is not None
    assert found.name == "Garden row"


def page(file: Path) -> AppTest:
    def script(path: str) -> None:
        from pathlib import Path

        import scheduler
        from app.screens import inspections

        inspections.show_without_plan(scheduler.load(Path(path)))

    return AppTest.from_function(script, args=(str(file),), default_timeout=60).run()


def test_cover_is_answered_while_there_is_no_plan(tmp_path: Path) -> None:
    file = tmp_path / "job.yaml"
    file.write_text(REAL, encoding="utf-8")
    said = texts(page(file))
    assert "May I cover here?" in said
    assert "**No.** Do not cover" in said


def test_the_record_begins_by_the_users_word(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "job.yaml"
    file.write_text(REAL.replace("  job_id: JT-7F3K-9QXD-M2TA-40BN\n", ""), encoding="utf-8")
    at = page(file)
    assert "has no job id yet" in texts(at)
    assert [b for b in at.button if b.key == "begin-record"] == []
    monkeypatch.setenv("JOINTTRENCH_SITE", str(file))
    at = page(file)
    next(b for b in at.button if b.key == "begin-record").click().run()
    assert not at.exception
    assert scheduler.load(file).site.site.job_id is not None
    assert "# Invented test data" in file.read_text("utf-8")
    assert "has no job id yet" not in texts(at)
