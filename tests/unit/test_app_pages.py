"""Pages without a browser: what each shows of a plan, of none, of a stopped one, and of names that try tricks."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest
from streamlit.testing.v1.element_tree import Expander

from app.answer import Answer
from app.jobs import Job
from scheduler import Case, Planned
from scheduler.assembly import plan_of
from scheduler.findings import Finding, Severity
from scheduler.network.derive import derive
from scheduler.plan import Conflict, ConflictMember, Plan, Repair, SiteRef, put_together
from scheduler.solve.outcome import Options, Outcome, Status
from tests.pictures import bundled

SCREENS = ("today", "record", "schedule", "critical", "inspections", "trench", "conflicts", "paper")
FILE = Path("a-site.yaml")
EVIL = "<script>alert(1)</script> **bold** [link](https://evil.example) :material/delete:"


@pytest.fixture(autouse=True)
def journals(tmp_path, monkeypatch):
    """Keep every journal of these tests in a folder of its own."""
    monkeypatch.setenv("JOINTTRENCH_JOURNAL", str(tmp_path))


def job_of(planned: Planned, *, stopped: bool = False) -> Job:
    """Return an ended job that came to a plan."""
    job = Job(planned.case, Options(), answer=Answer(planned), settled=True)
    if stopped:
        job.stop.set()
    return job


@cache
def solved(status: str = "optimal", name: str = "orchard-lane", stopped: bool = False) -> Job:
    site, network, schedule = bundled(name)
    case = Case(FILE, "0" * 64, site, network, ())
    outcome = Outcome(Status(status), schedule, finish_bound=schedule.finish)
    return job_of(
        Planned(case, plan_of(network, outcome, site=SiteRef(name=site.site.name)), schedule, ()), stopped=stopped
    )


@cache
def without_dates(status: str) -> Job:
    site, network, _ = bundled("orchard-lane")
    plan = Plan(site=SiteRef(name=site.site.name), data_date=network.clock.when(0), status=status)
    if status == "infeasible":
        members = [ConflictMember(ref="a", because="The target is Monday."), ConflictMember(ref="b", because=EVIL)]
        repairs = [Repair(text="Move the target.", cost=1200.0, finish=network.clock.when(960))]
        plan = plan.model_copy(update={"conflicts": [Conflict(id="c", members=members, repairs=repairs, minimal=True)]})
    return job_of(Planned(Case(FILE, "0" * 64, site, network, ()), plan, None, ()))


@cache
def hostile() -> Job:
    site, _, schedule = bundled("orchard-lane")
    renamed = {
        part: [r.model_copy(update={"name": f"{r.name} {EVIL}"}) for r in getattr(site, part)]
        for part in ("alignments", "trades", "people", "lines", "inspections", "structures")
    }
    named = site.model_copy(update=renamed | {"site": site.site.model_copy(update={"name": EVIL})})
    network = derive(named)
    found = Finding("r", Severity.FIX, EVIL, EVIL, EVIL, EVIL, EVIL, EVIL)
    outcome = Outcome(Status.OPTIMAL, schedule)
    plan = plan_of(network, outcome, site=SiteRef(name=EVIL), findings=[found])
    return job_of(Planned(Case(FILE, "0" * 64, named, network, ()), plan, schedule, ()))


JOBS = {"solved": solved, "hostile": hostile, "without_dates": without_dates}


def page(screen: str, made: str, *args: object, query: dict[str, str] | None = None) -> AppTest:
    """Run one screen for a job and return what it shows."""

    def script(screen: str, made: str, args: tuple[object, ...]) -> None:
        from importlib import import_module

        from tests.unit.test_app_pages import JOBS

        job = JOBS[made](*args)
        import_module(f"app.screens.{screen}").show(job, job.answer)

    at = AppTest.from_function(script, args=(screen, made, args), default_timeout=60)
    for key, value in (query or {}).items():
        at.query_params[key] = value
    return at.run()


def texts(at: AppTest) -> str:
    """Return all words on a page."""
    kinds = (at.title, at.header, at.subheader, at.markdown, at.caption, at.error, at.warning, at.info, at.success)
    labels = [e.label for e in at.expander]
    return "\n".join([*(e.value for kind in kinds for e in kind), *labels])


@pytest.mark.parametrize("screen", SCREENS)
def test_every_page_shows_the_finish_and_that_it_is_proved(screen):
    at = page(screen, "solved")
    assert not at.exception
    finish = solved().answer.plan.finish
    assert f"{finish.day} {finish:%B}"[:6] in texts(at)
    assert f"{finish:%H:%M}" in texts(at)
    assert "proved" in texts(at).casefold()


@pytest.mark.parametrize("screen", SCREENS)
def test_a_stopped_plan_is_called_stopped_and_can_be_searched_again(screen):
    at = page(screen, "solved", "stopped", "orchard-lane", True)
    assert not at.exception
    said = texts(at)
    assert "The search was stopped" in said
    assert "Proved: no plan" not in said
    assert ", proved best" not in said
    assert at.button("again").label == "Search again, to the end"


def test_today_gives_the_bound_of_a_stopped_plan():
    said = texts(page("today", "solved", "stopped", "orchard-lane", True))
    assert "Stopped before it was proved best. No plan can finish before" in said


@pytest.mark.parametrize("screen", SCREENS)
@pytest.mark.parametrize(
    ("status", "words"),
    [
        ("infeasible", "no plan exists"),
        ("unknown", "no plan was found in the time given"),
        ("stopped", "stopped before a plan was found"),
    ],
)
def test_every_page_says_why_there_are_no_dates(screen, status, words):
    at = page(screen, "without_dates", status)
    assert not at.exception
    assert words in texts(at)


def test_conflicts_are_told_in_full_with_their_ways_out():
    said = texts(page("conflicts", "without_dates", "infeasible"))
    assert "The target is Monday." in said
    assert "Each is needed" in said
    for words in ("Move the target", "Costs 1,200 dollars.", "Would finish Thu 11 Mar 00:00."):
        assert words in said
    assert "<script>" not in said


@pytest.mark.parametrize("screen", SCREENS)
def test_names_that_try_tricks_are_shown_as_text(screen):
    at = page(screen, "hostile", query={"activity": "outside/tie-in"})
    assert not at.exception
    said = texts(at)
    assert "alert(1)" in said
    for trick in ("<script", "**bold", "[link](https:", ":material/delete:"):
        assert not re.search(r"(?<!\\)" + re.escape(trick), said)
    figures = [e.proto.spec for e in at.get("plotly_chart")]
    assert all("<script" not in f and "\\u003cscript" not in f for f in figures)


def test_the_story_of_an_activity_in_the_address_is_told():
    at = page("schedule", "solved", query={"activity": "outside/tie-in", "view": "reach"})
    work = solved().answer.picture.work["outside/tie-in"]
    assert at.selectbox("activity").value == "outside/tie-in"
    assert at.get("button_group")[0].value == "reach"
    assert work.name in [s.value for s in at.subheader]
    assert work.start.date() >= at.date_input("from-date").value
    at.selectbox("activity").select(None).run()
    assert "activity" not in at.query_params


@pytest.mark.parametrize(
    ("screen", "key", "what"),
    [
        ("schedule", "activity", "task"),
        ("schedule", "view", "view"),
        ("schedule", "from", "date"),
        ("trench", "reach", "reach"),
        ("inspections", "part", "part of this page"),
        ("inspections", "hold", "hold point"),
        ("inspections", "cover-at", "reach"),
    ],
)
def test_unknown_things_in_the_address_get_a_friendly_word(screen, key, what):
    at = page(screen, "solved", query={key: "no-such <b>thing</b>"})
    assert not at.exception
    (warning,) = at.warning
    assert f"asks for the {what} “no-such \\<b\\>thing" in warning.value
    assert at.query_params.get(key) != "no-such <b>thing</b>"
    at.button(f"{key}-seen").click().run()
    assert not at.warning


def test_an_unknown_alignment_of_the_stations_view_gets_a_friendly_word():
    at = page("schedule", "solved", query={"view": "stations", "alignment": "canal"})
    assert "alignment “canal”" in at.warning[0].value
    assert at.selectbox("alignment").value == "main"


def test_choices_stand_in_the_address():
    at = page("trench", "solved")
    at.selectbox("reach").select("pole-foot").run()
    assert at.query_params["reach"] == "pole-foot"
    assert at.metric[0].label == "Depth"


def test_today_does_not_call_the_layout_good_where_things_were_not_asked():
    at = page("today", "solved")
    looked = solved().answer.case.looked
    unknown, uncovered = len(looked.unknown), len(looked.uncovered)
    assert min(unknown, uncovered) > 1
    said = f"{unknown} things could not be known and {uncovered} things nothing in the file covers."
    assert f"What was asked is kept, but {said}" in texts(at)


def test_a_reach_says_what_was_looked_at_and_what_nobody_asked():
    at = page("trench", "solved", query={"reach": "lane-verge"})
    assert [i.value for i in at.info] == ["What was asked is kept, but 2 things nothing in the file covers."]
    said = texts(at)
    assert "Nobody inspects it before it is covered. Communications conduits." in said
    assert "The rules that were applied here" in [e.label for e in at.expander]
    assert "cover-water: **42 in**, built-in" in said


@pytest.mark.parametrize("name", ["orchard-lane", "lantern-street"])
def test_every_hold_is_listed_as_it_stands(name):
    at = page("inspections", "solved", "optimal", name, query={"part": "holds"})
    holds = solved("optimal", name).answer.plan.holds
    labels = {e.label.replace("\\", "").replace("\u2060", "") for e in folded_rows(at)}
    assert holds
    assert labels == {f":material/front_hand: **Not looked at yet** · {h.name}" for h in holds}
    assert f"Still to come ({len(holds)})" in texts(at)


def test_every_planned_visit_is_listed():
    at = page("inspections", "solved", query={"part": "visits"})
    assert len(at.expander) == len(put_together(solved().answer.plan.visits))
    assert "About 90% of these looks pass the first time." in texts(at)


def test_holds_of_one_reach():
    at = page("inspections", "solved", query={"part": "holds", "holds-at": "barn-drive"})
    wanted = [h for h in solved().answer.plan.holds if "barn-drive" in h.reaches]
    assert len(folded_rows(at)) == len(wanted)


def folded_rows(at: AppTest) -> list[Expander]:
    """Return what is folded on a page below its picture."""
    return [e for e in at.expander if e.label != "Picture in words"]


def test_a_street_is_first_shown_by_alignment_and_opened_up_on_demand():
    at = page("schedule", "solved", "optimal", "lantern-street", query={"view": "reach"})
    assert at.selectbox("alignment").value == "each-alignment"
    at.selectbox("alignment").select("street").run()
    assert not at.exception
    assert at.query_params["alignment"] == "street"


@pytest.mark.parametrize("span", ["1 day", "1 week", "4 weeks", "All"])
@pytest.mark.parametrize("view", ["trade", "reach", "stations"])
def test_days_can_be_zoomed(view, span):
    at = page("schedule", "solved", query={"view": view})
    at.get("button_group")[1].set_value(span).run()
    assert not at.exception
    if span != "All":
        at.button("later").click().run()
        assert not at.exception


def test_a_broken_plan_is_refused_in_plain_words():
    job = solved()
    found = (Finding("r", Severity.STOP, "here", "broken"),)
    broken = job_of(replace(job.answer.planned, broken=found))
    JOBS["broken"] = lambda: broken
    for screen in ("today", "conflicts"):
        said = texts(page(screen, "broken"))
        assert "The audit found 1 broken rule in this plan. Do not use it." in said, screen
        assert "the plan keeps all" not in said, screen


def test_without_a_record_no_page_says_that_there_is_no_conflict(monkeypatch):
    assert "No conflict: the plan keeps all" in texts(page("conflicts", "solved"))
    monkeypatch.setattr("app.screens.conflicts.situation_of", lambda *_: None)
    said = texts(page("conflicts", "solved"))
    assert "No conflict" not in said
    assert "What happened on site is not known" in said
