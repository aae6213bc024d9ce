"""The live job without a browser: whose journal, which moment, what pages say of it, and the plan in force."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import cache

import pytest
from streamlit.testing.v1 import AppTest

import scheduler
from app.answer import Answer
from app.components.site_picture import stretches_drawn
from app.words import moment
from scheduler import accept, as_planned, bundled_sites, put_in_force
from scheduler.audit import audit
from scheduler.errors import BadInput
from scheduler.ledger.events import (
    Delayed,
    Finished,
    InspectionFailed,
    InspectionPassed,
    PlanAccepted,
    Started,
    read_event,
)
from scheduler.ledger.ground_events import CoverReported, Rained
from scheduler.ledger.place import JournalPlace, place_of
from scheduler.ledger.state import fold
from scheduler.ledger.writing import write_down
from scheduler.plan import plan_json, plan_read
from scheduler.situation.reopened import reopened
from scheduler.solve.outcome import Options
from scheduler.units import format_station
from tests.kept_plans import kept_plan

SMALL = bundled_sites()["orchard-lane"]
HOLD = "hold/conduit-look/pole-hedge/L0"
LOOK = "look/conduit-look/pole-hedge/L0"
ANY_PLAN = Options(start_effort=0.05, finish_effort=0.1, exposure_effort=0.01, money_effort=0.01)
"""How good an alternative is, is asked elsewhere."""


@cache
def case():
    return scheduler.load(SMALL)


@cache
def planned():
    return kept_plan(case(), Options(only_finish=True))


def tuesday(hour: float = 12) -> datetime:
    """A moment of Tuesday 2 March."""
    return case().network.clock.when(round(96 + 4 * hour))


@pytest.fixture
def place(tmp_path, monkeypatch) -> JournalPlace:
    """Return where the small site's journal lies for this test."""
    monkeypatch.setenv("JOINTTRENCH_JOURNAL", str(tmp_path))
    return place_of(case().site, SMALL)


def written(place: JournalPlace, *events, at: datetime | None = None) -> None:
    journal = place.open()
    for event in events:
        journal.append(event, at=at or tuesday(), by="Ruth Amsel")
    journal.close()


def page(screen: str, *, person: str = "", query: dict[str, str] | None = None) -> AppTest:
    """Run one screen of the small site and return what it shows."""

    def script(screen: str) -> None:
        from importlib import import_module

        from app.answer import Answer
        from app.in_force import in_force
        from app.jobs import Job
        from app.live import live_of
        from scheduler.solve.outcome import Options
        from tests.unit.test_app_live import case, planned

        job = in_force(live_of(case())) or Job(case(), Options(), answer=Answer(planned()), settled=True)
        import_module(f"app.screens.{screen}").show(job, job.answer)

    at = AppTest.from_function(script, args=(screen,), default_timeout=60)
    for key, value in (query or {}).items():
        at.query_params[key] = value
    if person:
        at.session_state["person"] = person
    return at.run()


def texts(at: AppTest) -> str:
    kinds = (at.title, at.header, at.subheader, at.markdown, at.caption, at.error, at.warning, at.info, at.success)
    labels = [e.label for e in at.expander]
    return "\n".join([*(e.value for kind in kinds for e in kind), *labels]).replace("\\", "").replace("\u2060", "")


def test_nothing_written_is_said_so_and_nothing_is_made(place):
    at = page("record")
    assert not at.exception
    assert "Nothing is written down for this job yet." in texts(at)
    assert "Choose who you are to write something down" in texts(at)
    assert [b.label for b in at.button if b.label in ("Started", "Finished")] == []
    assert not place.made


def test_an_invented_site_is_practised_on_from_its_last_entry(place):
    assert "On Monday 1 March" in texts(page("record"))
    written(place, Started(activity="orchard-row/dig", when=tuesday(7)))
    at = page("record", person="r-amsel")
    assert "On Tuesday 2 March" in texts(at)
    assert "Going on (1)" in texts(at)


def test_the_schedule_opens_about_now_once_there_is_a_record(place):
    def shown_from(**query: str):
        return page("schedule", query=query).date_input[0].value

    first = planned().plan.data_date.date()
    assert shown_from() == first
    done = next(a for a in planned().plan.activities if a.kind == "dig" and (a.start.date() - first).days > 7)
    written(place, Started(activity=done.id, when=done.start), at=done.start)
    monday = done.start.date() - timedelta(days=done.start.weekday())
    assert first < shown_from() == monday
    assert shown_from(**{"from": first.isoformat()}) == first, "what the address asks for comes first"


def test_looking_back_shows_what_was_known_then_and_takes_no_entries(place):
    written(place, Started(activity="orchard-row/dig", when=tuesday(7)))
    at = page("record", person="r-amsel")
    at.session_state[f"moment of {SMALL}"] = tuesday(10).isoformat()
    at.run()
    assert "You are looking at the job as it was known at Tue 2 Mar 10:00." in texts(at)
    assert "Nothing is written down for this job yet." in texts(at)
    assert not [b for b in at.button if b.label == "Started"]


def test_work_is_written_down_with_who_and_when(place):
    at = page("record", person="d-okoro")
    (button,) = [b for b in at.button if b.label == "Started"][:1]
    button.click().run()
    assert not at.exception
    (entry,) = place.open().entries()
    assert entry.by == "Daniel Okoro"
    assert isinstance(entry.event, Started)
    assert f"started-{entry.event.activity}" == button.key
    assert f"Started Mon 1 Mar 07:00: {case().network.by_id[entry.event.activity].name}." in texts(at)


def test_a_failed_look_is_still_to_be_made(place):
    dates = {a.id: a for a in planned().plan.activities}
    at = dates[LOOK].start
    failed = InspectionFailed(looks=(LOOK,), inspector="c-dunn", when=at, faults="A joint is dry.")
    written(place, failed, at=at)
    said = texts(page("record", person="r-amsel"))
    assert f"**{case().network.by_id[LOOK].name}**" in said


@pytest.mark.parametrize("screen", ["today", "schedule", "delay"])
def test_a_plan_that_somebody_cannot_keep_no_longer_holds(place, screen):
    tie_in = next(a for a in planned().plan.activities if a.id == "outside/tie-in")
    journal = place.open()
    put_in_force(journal, planned().plan, by="Ruth Amsel", at=planned().plan.data_date)
    journal.close()
    later = Delayed(who="Sorrel Valley Power", about=(tie_in.id,), not_before=tie_in.start + timedelta(days=6))
    written(place, later.model_copy(update={"not_before": tie_in.start}))
    words = "Sorrel Valley Power cannot come before"
    assert not any(words in told for told in warned(page(screen))), "they come when the plan has them"
    written(place, later)
    assert any("The plan no longer holds." in told and words in told for told in warned(page(screen)))


def warned(at: AppTest) -> list[str]:
    """Return each warning of a page with its reasons, also where these are folded in it."""
    folded = [" ".join([e.label, *(m.value for m in e.markdown)]) for e in at.expander]
    return [*(e.value for e in at.warning), *folded]


@pytest.mark.parametrize("screen", ["today", "record", "schedule", "critical", "inspections", "trench", "delay"])
def test_cover_before_release_stands_at_the_head_of_every_page(place, screen):
    written(place, CoverReported(alignment="pole-branch", from_ft=0, to_ft=28, when=tuesday(9)))
    at = page(screen)
    assert not at.exception
    flags = [e.value for e in at.error if e.value.startswith("**Covered before its release.**")]
    assert any("Pole branch 0+00 to 0+28 was covered" in f.replace("\\", "") for f in flags)


@pytest.mark.parametrize(
    ("person", "kind"),
    [("r-amsel", "refused"), ("i-haas", "refused"), ("c-dunn", "hold_released"), ("b-ito", "hold_released")],
)
def test_only_the_named_authority_or_its_deputy_releases(place, person, kind):
    journal = place.open()
    look = InspectionPassed(looks=(LOOK,), inspector="c-dunn", when=tuesday())
    write_down(journal, case().site, case().network, look, at=tuesday(), by="Carol Dunn")
    journal.close()
    at = page("inspections", person=person, query={"hold": HOLD})
    at.text_area(f"seen-{HOLD}").input("30 in of cover.")
    (button,) = [b for b in at.button if b.label == "Release this hold point"]
    button.click().run()
    assert not at.exception
    entry = place.open().entries()[-1]
    assert entry.event.name == kind
    words = "Refused, and the refusal is on record" if kind == "refused" else "Released (1)"
    assert words in texts(at)


def test_a_release_without_evidence_is_not_taken(place):
    at = page("inspections", person="c-dunn", query={"hold": HOLD})
    (button,) = [b for b in at.button if b.label == "Release this hold point"]
    button.click().run()
    assert "Nothing was written down." in texts(at)
    assert "Evidence: is empty; it must be said." in texts(at)
    assert place.open().entries() == ()


def test_what_an_authority_said_is_not_taken_back_by_others(place):
    at = page("inspections", person="c-dunn", query={"hold": HOLD})
    at.text_area(f"seen-{HOLD}").input("30 in of cover.")
    next(b for b in at.button if b.label == "Release this hold point").click().run()
    assert [b.key for b in at.button if b.key == "undo"] == ["undo"]
    at.selectbox("person").select("r-amsel").run()
    assert [b for b in at.button if b.key == "undo"] == []
    assert "Take an entry back" not in texts(page("record", person="r-amsel"))


def in_the_middle_of_a_dig():
    """Return a moment after the first day at which the excavator is at work, and all that was reported by then."""
    plan = planned().plan
    dig = next(a for a in plan.activities if a.kind == "dig" and a.start.day >= 2 and a.work_minutes >= 60)
    now, events = dig.start + timedelta(minutes=30), []
    for activity in plan.activities:
        if activity.start < now and activity.kind != "inspect":
            events.append(Started(activity=activity.id, when=activity.start))
            if activity.finish <= now:
                events.append(Finished(activity=activity.id, when=activity.finish))
    events.append(Rained(start=tuesday(1), until=tuesday(3)))
    events.append(Delayed(who="Sorrel Valley Power", not_before=now + timedelta(days=14)))
    return now, events


def test_with_no_plan_in_force_it_is_a_proposal_nothing_is_late_and_one_tap_puts_it_in_force(place):
    """Nothing is reported of four days that have passed: late against a plan in force, and not against a proposal."""
    later = min(a.start for a in planned().plan.activities if a.work_minutes) + timedelta(days=4)
    written(place, read_event("note_kept", {"words": "Begun.", "when": later}), at=later)
    for screen in ("today", "record", "schedule", "trench", "delay"):
        at = page(screen)
        assert not at.exception
        assert "No plan is in force yet: what is shown is a proposal, not agreed." in texts(at), screen
        for words in ("no longer holds", "due, not on record", "should be on record"):
            assert words not in texts(at).replace("Open with a dark edge and ?: due, not on record", ""), screen
        assert "put-in-force" not in [b.key for b in at.button], "somebody must be chosen"
    at = page("today", person="r-amsel")
    at.button(key="put-in-force").click().run()
    assert not at.exception
    journal = place.open()
    accepted = fold(journal.entries()).plan
    journal.close()
    assert accepted is not None
    assert accepted.why == "The first plan of this job."
    at = page("today", person="r-amsel")
    assert "No plan is in force yet" not in texts(at)
    assert "The plan no longer holds." in texts(at), "nobody reported anything of four days"
    assert "put-in-force" not in [b.key for b in at.button]


def test_an_accepted_plan_is_opened_again_as_it_was_and_every_page_shows_it(place):
    now, events = in_the_middle_of_a_dig()
    written(place, *events, at=now)
    journal = place.open()
    found = scheduler.replan(case(), journal.entries(), now, before=planned().plan, options=ANY_PLAN)
    chosen = found.alternatives[0]
    assert as_planned(case(), chosen).broken == ()
    digest = accept(journal, chosen, by="Peter Strand", at=now, why="It is the least change.")
    entries = journal.entries()
    accepted = entries[-1].event
    assert isinstance(accepted, PlanAccepted)
    plan = plan_read(journal.attachment(digest).content)
    network, schedule = reopened(case().site, case().network, entries, accepted, plan)
    assert schedule.dates == chosen.schedule.dates
    assert audit(network, schedule) == []
    journal.close()
    for screen in ("today", "record", "schedule", "critical", "inspections", "trench", "delay"):
        at = page(screen, person="p-strand")
        assert not at.exception, screen
        assert f"The plan accepted as of {moment(now)}. It is the least change." in texts(at), screen
        assert f"{chosen.finish:%H:%M}" in texts(at), screen
        if screen == "trench":  # what was covered before the plan was made is still part of the trench
            for closes in (case().network.by_id[o.closes] for o in case().network.openings):
                assert f"{format_station(closes.from_ft)}-{format_station(closes.to_ft)}" in texts(at)
    written(
        place,
        read_event("corrected", {"supersedes": entries[-1].number, "reason": "Not agreed.", "right": "contractor"}),
        at=now,
    )
    assert fold(place.open().entries()).plan is None
    assert "The plan accepted as of" not in texts(page("today"))


def test_a_plan_accepted_for_another_content_of_the_site_file_is_not_shown_as_the_one_in_force(place):
    journal = place.open()
    plan = planned().plan
    other = plan.model_copy(update={"site": plan.site.model_copy(update={"sha256": "0" * 64, "content": ""})})
    kept = journal.keep_plan(plan_json(other))
    journal.close()
    written(place, PlanAccepted(plan=kept, data_date=tuesday(), why="As agreed."))
    at = page("today")
    assert not at.exception
    assert "but the site file has changed since. This is a new plan, which nobody has accepted." in texts(at)


def test_a_real_site_is_looked_at_now_and_written_down_as_of_now(place, monkeypatch):
    real = case().site.model_copy(update={"site": case().site.site.model_copy(update={"invented": False})})
    now = replace(case(), site=real)
    monkeypatch.setattr("tests.unit.test_app_live.case", lambda: now)
    at = page("record", person="r-amsel")
    assert "Practice clock" not in str(at)
    at.selectbox("report").select("It rained").run()
    at.datetime_input("rained-start").set_value(datetime(2026, 1, 5, 8))
    before = datetime.now(UTC)
    next(b for b in at.button if b.label == "Write it down").click().run()
    assert not at.exception
    (entry,) = place.open().entries()
    assert before <= entry.at <= datetime.now(UTC)
    assert entry.event.start.utcoffset() == timedelta(hours=-7)  # Denver in January, by the tz database
    assert abs(entry.event.until - entry.at) < timedelta(minutes=2)


def test_what_is_old_is_written_down_with_its_reason(place):
    late = {"activity": "orchard-row/dig", "when": tuesday() - timedelta(days=9)}
    journal = place.open()
    with pytest.raises(BadInput, match="say why"):
        write_down(journal, case().site, case().network, read_event("started", late), at=tuesday(), by="Ruth Amsel")
    told = read_event("started", {**late, "late_because": "Found in the diary."})
    entry = write_down(journal, case().site, case().network, told, at=tuesday(), by="Ruth Amsel")
    assert entry.event.late_because == "Found in the diary."


def test_the_picture_has_each_stretch_as_the_record_has_it(place):
    dig = next(a for a in planned().plan.activities if a.id == "orchard-row/dig")
    written(place, Started(activity=dig.id, when=dig.start), at=dig.start + timedelta(minutes=15))
    journal = place.open()
    now = scheduler.today(case(), journal.entries(), dig.start + timedelta(minutes=15), planned())
    journal.close()
    found = {s.key: s for s in stretches_drawn(Answer(planned()), now)}
    assert found.keys() == {o.id for o in case().network.openings}
    for o in case().network.openings:
        drawn = found[o.id]
        assert drawn.is_open == drawn.digging == (o.opens == dig.id)
        assert drawn.here == ("Site crew" if o.opens == dig.id else ""), "only what is on record, or planned for now"
        assert drawn.holds == sum(o.reach in p.hold.reaches and not p.clear for p in now.holds)
        assert not drawn.filled
        assert [k.state for k in drawn.layers] == [p.recorded for p in now.stretches if p.opening == o.id]
