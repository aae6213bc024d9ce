"""Pages of a site in metres: no word, number or picture of them is in feet or inches."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from app.answer import Answer
from app.jobs import Job
from scheduler import Options, add_curve
from scheduler.units import metric
from tests.unit.test_app_pages import texts
from tests.unit.test_metric_site import METRIC, OF_FEET, planned, sentences

SCREENS = ("today", "record", "schedule", "critical", "inspections", "trench", "conflicts", "paper", "delay")


def shown(screen: str) -> AppTest:
    """Run one screen of the metric site."""

    def script(screen: str) -> None:
        from importlib import import_module

        from tests.unit.test_metric_pages import job

        made = job()
        import_module(f"app.screens.{screen}").show(made, made.answer)

    return AppTest.from_function(script, args=(screen,), default_timeout=60).run()


def job() -> Job:
    """Return an ended job with a plan, and what a later finish would buy."""
    return Job(planned().case, Options(), answer=Answer(add_curve(planned())), settled=True)


@pytest.mark.parametrize("screen", SCREENS)
def test_no_page_tells_feet(screen: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("JOINTTRENCH_JOURNAL", str(tmp_path))
    at = shown(screen)
    assert not at.exception
    words = texts(at)
    drawn = [t for e in at.get("plotly_chart") for t in sentences(json.loads(e.proto.spec))]
    inputs = [str(e.label) for kind in (at.text_input, at.number_input, at.selectbox, at.metric) for e in kind]
    options = [str(o) for e in at.selectbox for o in e.options]
    for said in (words, *drawn, *inputs, *options, *(str(m.value) for m in at.metric)):
        assert OF_FEET.findall(said) == [], said
        assert "Inches" not in said
    assert not metric(), "a page left its units to the tests"


def test_the_editor_shows_amounts_as_they_were_typed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("JOINTTRENCH_JOURNAL", str(tmp_path))

    def script(path: str) -> None:
        from pathlib import Path

        from app.screens import editor

        editor.show("metric-service", Path(path))

    at = AppTest.from_function(script, args=(str(METRIC),), default_timeout=60)
    at.query_params["part"] = "backfill"
    at = at.run()
    assert not at.exception
    values = {e.label: e.value for e in at.text_input}
    assert (values["Lift"], values["Bedding"], values["Tolerance"]) == ("200 mm", "100 mm", "")
    hints = {e.label: e.placeholder for e in at.text_input}
    assert hints["Tolerance"] == "457 mm, the usual"
