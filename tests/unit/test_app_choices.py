"""The plans to choose from on the screen: first one, then more as they come, and each can be looked at on all pages."""

from __future__ import annotations

from functools import cache

import pytest
from streamlit.testing.v1 import AppTest

import scheduler
from app.answer import Answer
from app.components.plan_choices import CHOSEN
from app.figures.choices_figure import ChoiceMark, choices_figure
from app.jobs import Job
from scheduler import Options
from tests.kept_plans import kept_choices
from tests.small_site import SMALL_SITE

QUICK = Options(start_effort=0.3, finish_effort=0.6, exposure_effort=0.8, money_effort=0.3, conflict_effort=0.1)


@pytest.fixture(autouse=True)
def journals(tmp_path, monkeypatch):
    """Keep every journal of these tests in a folder of its own."""
    monkeypatch.setenv("JOINTTRENCH_JOURNAL", str(tmp_path))


class Ended:
    """Stands for work in the background that is over."""

    def done(self):
        return True

    def cancelled(self):
        return False

    def exception(self):
        return None


@cache
def steps():
    return kept_choices(scheduler.load(SMALL_SITE), QUICK)


@cache
def job_with(step: int) -> Job:
    """Return a job with the plans found after so many looks; over where they are the last."""
    found = steps()[step]
    first = steps()[0][0].planned
    job = Job(first.case, QUICK, answer=Answer(first), settled=True, choices=found, looked_for=step + 1)
    if step in (-1, len(steps()) - 1):
        job.future = job.rest = Ended()  # type: ignore[assignment]
    return job


def page(step: int) -> AppTest:
    def script(step: int) -> None:
        from app.components.plan_choices import chosen_of, show_choices
        from app.screens import schedule
        from tests.unit.test_app_choices import job_with

        job = job_with(step)
        show_choices(job)
        chosen = chosen_of(job)
        schedule.show(job, job.answer if chosen is None else job.answer_of(chosen.planned))

    return AppTest.from_function(script, args=(step,), default_timeout=60).run()


def words(at: AppTest) -> str:
    tables = [table.proto.body for table in at.get("html")]
    return "\n".join([*(e.value for kind in (at.header, at.markdown, at.caption) for e in kind), *tables])


def test_all_plans_stand_side_by_side_with_what_differs():
    at, found = page(-1), steps()[-1]
    assert not at.exception
    assert len(found) > 1
    text = words(at)
    for choice in found:
        assert f"{choice.measures.money:,.0f}" in text
        assert ", ".join(choice.aims) in text
        assert f"<td>{choice.measures.margin} %</td>" in text
    assert text.count("Shown on all pages") == 1
    assert "More plans are looked for" not in text


def test_while_more_are_looked_for_the_first_is_there_and_that_is_said():
    at = page(0)
    assert not at.exception
    assert "More plans are looked for" in words(at)
    assert "Shown on all pages" not in words(at)


def page_of_looking(*, search: bool = True, goes_on: bool = False, failed: bool = False) -> AppTest:
    """Show the choices where it may be looked on, is, or where that failed."""

    def script(search: bool, goes_on: bool, failed: bool) -> None:
        from concurrent.futures import Future
        from dataclasses import replace

        from app.components.plan_choices import show_choices
        from app.jobs import LookingOn
        from tests.unit.test_app_choices import job_with

        future: Future[None] = Future()
        if failed:
            future.set_exception(RuntimeError("lost"))
        looking = LookingOn("", future=future) if goes_on or failed else None
        show_choices(replace(job_with(-1), search=object() if search else None, looking=looking))

    return AppTest.from_function(script, args=(search, goes_on, failed), default_timeout=60).run()


def test_once_the_plans_are_found_longer_looking_is_offered():
    at = page_of_looking()
    assert not at.exception
    assert [b.key for b in at.button if b.key == "keep-looking"] == ["keep-looking"]
    assert "keep-looking" not in {b.key for b in page_of_looking(search=False).button}


def test_while_it_is_looked_on_the_gap_is_told_and_it_can_be_ended():
    at = page_of_looking(goes_on=True)
    assert not at.exception
    assert "Better plans are looked for" in words(at)
    assert "Open trench: " in words(at)
    keys = {b.key for b in at.button}
    assert "enough-looking" in keys
    assert "keep-looking" not in keys


def test_a_fault_while_looking_on_is_told():
    at = page_of_looking(failed=True)
    assert not at.exception
    assert any("broke off because of a fault" in w.value for w in at.warning)


def test_another_plan_is_looked_at_with_one_touch_and_shows_on_the_pages():
    at, other = page(-1), steps()[-1][-1]
    at.button(key=f"choose-{other.name}").click().run()
    assert not at.exception
    assert at.session_state[CHOSEN][1].aims == other.aims
    job = job_with(-1)
    assert job.answer_of(other.planned).plan is other.planned.plan
    assert job.answer_of(other.planned) is job.answer_of(other.planned)
    assert [b.key for b in at.button if b.key and b.key.startswith("choose-")].count(f"choose-{other.name}") == 0
    at.button(key=f"choose-{steps()[-1][0].name}").click().run()
    assert not at.exception
    assert at.session_state[CHOSEN][1].aims == steps()[-1][0].aims


def test_the_plan_looked_at_stays_that_plan_and_is_of_its_own_question_only():
    def script() -> None:
        from dataclasses import replace

        import streamlit as st

        from app.components.plan_choices import chosen_of, keep_chosen
        from app.jobs import Job
        from tests.unit.test_app_choices import QUICK, steps

        first, *_, other = steps()[-1]
        job = Job(first.planned.case, QUICK, choices=steps()[-1])
        keep_chosen(job, other)
        better = replace(first, aims=other.aims)  # by now another plan is best at it
        asked = {
            "kept": job,
            "later": replace(job, choices=(better,)),
            "under way": replace(job, choices=()),
            "other question": replace(job, options=replace(QUICK, slack_days=1.0)),
        }
        st.session_state["shown"] = {name: chosen_of(of) for name, of in asked.items()}

    at, other = AppTest.from_function(script, default_timeout=60).run(), steps()[-1][-1]
    assert not at.exception
    shown = at.session_state["shown"]
    assert shown["kept"].planned.plan == shown["later"].planned.plan == other.planned.plan
    assert shown["under way"] is shown["other question"] is None


def test_the_picture_has_a_box_for_each_plan_and_a_line_back_over_each_margin():
    found = steps()[-1]
    when = found[0].planned.case.network.clock.when
    marks = [
        ChoiceMark(c.aims[0], when(c.measures.finish), c.measures.money, c.measures.margin, i == 0)
        for i, c in enumerate(found)
    ]
    figure = choices_figure(marks, begins=when(0))
    *lines, boxes = figure.data
    assert len(boxes.x) == len(found)
    assert len(lines) == sum(m.margin > 0 for m in marks)
    for line, mark in zip(lines, [m for m in marks if m.margin], strict=True):
        assert line.x[-1] == pytest.approx(line.x[-2] * (1 + mark.margin / 100))
    alone = choices_figure(marks[:1], begins=when(0))
    assert len(alone.data[-1].x) == 1


def test_a_first_plan_that_another_beats_is_not_called_the_one_shown():
    def script() -> None:
        from dataclasses import replace

        from app.answer import Answer
        from app.components.plan_choices import show_choices
        from tests.unit.test_app_choices import job_with

        job = job_with(-1)
        assert job.answer is not None
        show_choices(replace(job, answer=Answer(replace(job.answer.planned))))

    at = AppTest.from_function(script, default_timeout=60).run()
    assert not at.exception
    assert "Shown on all pages" not in words(at)
    assert "The plan on these pages is none of them" in words(at)
    assert len([b for b in at.button if b.key and b.key.startswith("choose-")]) == len(steps()[-1])
