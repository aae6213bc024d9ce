"""The page Record: what contradicts the record is asked once, a day is written in one go, and every form writes."""

from __future__ import annotations

from datetime import timedelta

import pytest
from streamlit.testing.v1 import AppTest

from scheduler.ledger.day_events import LineStruck, NotDone, NoteKept, TestFailed, TrenchInspected
from scheduler.ledger.events import Finished, Started
from scheduler.ledger.ground_events import RepairReported, StopWork, StopWorkLifted, WaterStood
from tests.journals import photo
from tests.unit.test_app_live import SMALL, case, page, place, planned, texts, tuesday, written

__all__ = ["place"]
TEST = next(a for a in planned().plan.activities if a.kind == "test")
GATES = {g for h in case().network.holds for g in h.gates}
GATE = next(a for a in planned().plan.activities if a.id in GATES and a.kind == "shade")


def button(at: AppTest, key: str):
    return next(b for b in at.button if b.key == key)


def at_the_start_of(activity) -> AppTest:
    at = page("record", person="r-amsel")
    at.session_state[f"moment of {SMALL}"] = activity.start.isoformat()
    return at.run()


def alone(at: AppTest, activity) -> AppTest:
    """Look at one trade's work in one reach, so that a piece of work is among what is shown."""
    at.selectbox(key="only-trade").select(activity.trade)
    if activity.reach:
        reach = next(r.id for r in case().site.reaches if activity.reach.startswith(r.id))
        at.selectbox(key="only-reach").select(reach)
    return at.run()


@pytest.mark.parametrize(("activity", "tap", "words"), [
    (TEST, "finished", "is not on record as finished by then."),
    (GATE, "started", "was not released by then"),
])  # fmt: skip
def test_what_contradicts_the_record_is_asked_once_and_marked_when_kept(place, activity, tap, words):
    at = alone(at_the_start_of(activity), activity)
    at = button(at, f"{tap}-{activity.id}").click().run()
    assert not at.exception
    assert words in texts(at)
    assert not place.made or not place.open().entries()
    at = button(at, "despite-keep").click().run()
    assert "Say why it is so all the same." in texts(at)
    at.text_input(key="despite").input("The foreman says so.")
    at = button(at, "despite-keep").click().run()
    assert not at.exception
    (entry,) = place.open().entries()
    assert isinstance(entry.event, Started | Finished)
    assert entry.event.despite == "The foreman says so."
    assert words in entry.event.contradicts
    assert "[Kept although it contradicts the record:" in texts(at)


def test_it_can_be_left(place):
    at = alone(at_the_start_of(TEST), TEST)
    at = button(at, f"finished-{TEST.id}").click().run()
    at = button(at, "despite-leave").click().run()
    assert "contradicts" not in texts(at)
    assert not place.made or not place.open().entries()


def evening() -> AppTest:
    at = page("record", person="r-amsel")
    at.session_state[f"moment of {SMALL}"] = (tuesday(18) + timedelta(days=1)).isoformat()
    return at.run()


def test_a_day_is_written_in_one_go_with_what_was_not_done(place):
    at = evening()
    boxes = [b for b in at.checkbox if b.key.startswith("as-planned-")]
    assert boxes
    assert all(b.value for b in boxes)
    last = boxes[-1].key.removeprefix("as-planned-")
    boxes[-1].uncheck().run()
    at.text_input(key=f"as-planned-why-{last}").input("No sand.").run()
    at = button(at, "as-planned-write-0").click().run()
    assert not at.exception
    entries = place.open().entries()
    work = {a.id: a for a in planned().plan.activities}
    (word,) = [e.event for e in entries if isinstance(e.event, NotDone)]
    assert (word.activity, word.because) == (last, "No sand.")
    for entry in entries:
        if isinstance(entry.event, Started):
            assert entry.event.when == work[entry.event.activity].start
        if isinstance(entry.event, Finished):
            assert entry.event.when == work[entry.event.activity].finish
    assert {e.by for e in entries} == {"Ruth Amsel"}
    assert "The record has everything that can be taken as it was planned by then." in texts(at)


def test_work_is_reported_with_its_planned_time_where_that_is_said(place):
    work = [a for a in planned().plan.activities if a.kind.takes_time and not a.kind.by_others]
    first = min(work, key=lambda a: (a.start, a.id))
    at = alone(evening(), first)
    at.segmented_control(key="happened").set_value("As planned").run()
    button(at, f"started-{first.id}").click().run()
    (entry,) = place.open().entries()
    assert isinstance(entry.event, Started)
    assert entry.event.when == first.start


def form(label: str, person: str = "d-okoro") -> AppTest:
    at = page("record", person=person)
    at.session_state[f"moment of {SMALL}"] = tuesday(12).isoformat()
    at.run()
    return at.selectbox(key="report").select(label).run()


def sent(at: AppTest) -> AppTest:
    (send,) = [b for b in at.button if b.label == "Write it down"]
    at = send.click().run()
    assert not at.exception
    return at


def fill(at: AppTest, key: str, value: str) -> None:
    found = [w for kind in (at.text_input, at.text_area) for w in kind if w.key == key]
    found[0].input(value)


def stretch(at: AppTest, key: str) -> None:
    at.selectbox(key=f"{key}-alignment").select("main")
    fill(at, f"{key}-from", "0+84")
    fill(at, f"{key}-to", "1+60")


def test_the_open_trench_is_inspected_by_the_competent_person(place):
    dig = case().network.by_id["orchard-row/dig"]
    written(place, Started(activity=dig.id, when=tuesday(7)))
    sent(form("The open trench was inspected"))
    event = place.open().entries()[-1].event
    assert isinstance(event, TrenchInspected)
    assert (event.alignment, event.from_ft, event.to_ft) == (dig.alignment, dig.from_ft, dig.to_ft)
    assert (event.who, event.safe, event.role) == ("d-okoro", True, "competent_person")


def test_a_struck_line_stops_work_until_that_is_lifted(place):
    at = form("A line was struck", "r-amsel")
    assert "Get people out." in texts(at)
    at.selectbox(key="line_struck-alignment").select("main")
    fill(at, "line_struck-station", "1+20")
    fill(at, "line_struck-what", "The bucket nicked it.")
    fill(at, "line_struck-told", "Sorrel Valley Gas and 911")
    sent(at)
    assert isinstance(place.open().entries()[-1].event, LineStruck)
    at = form("A stop was lifted", "r-amsel")
    at.selectbox(key="stop_work_lifted-stop").select(1)
    sent(at)
    assert isinstance(place.open().entries()[-1].event, StopWorkLifted)


def test_stop_repair_water_and_a_note_are_written(place):
    at = form("Work was stopped")
    fill(at, "stop_work-why", "A crack at the edge.")
    sent(at)
    at = form("Something was fixed")
    stretch(at, "repair_reported")
    fill(at, "repair_reported-what", "A joint.")
    at = sent(at)
    assert "Work there was stopped" in texts(at)
    at.text_input(key="despite").input("It was made safe.")
    button(at, "despite-keep").click().run()
    at = form("Water stood in the trench")
    stretch(at, "water_stood")
    sent(at)
    at = form("A note or a photo")
    fill(at, "note_kept-words", "Mud on the road.")
    at.selectbox(key="note_kept-entry").select(1)
    sent(at)
    kinds = [type(e.event) for e in place.open().entries()]
    assert kinds == [StopWork, RepairReported, WaterStood, NoteKept]


def test_a_failed_test_and_work_not_done_are_said_on_the_card(place):
    at = alone(at_the_start_of(TEST), TEST)
    fill(at, f"faults-{TEST.id}", "Lost 5 psi.")
    (send,) = [b for b in at.button if b.label == "Test failed"]
    at = send.click().run()
    at.text_input(key="despite").input("Its pipe is laid, nobody wrote it down.")
    at = button(at, "despite-keep").click().run()
    assert isinstance(place.open().entries()[-1].event, TestFailed)
    at = alone(at, TEST)
    assert "Lost 5 psi." in texts(at)


def test_an_inspector_who_stayed_away_is_said_on_the_card(place):
    look = next(a for a in planned().plan.activities if a.kind.is_look)
    at = at_the_start_of(look)
    at.radio(key=f"result-{look.id}").set_value("Nobody came")
    at.text_area(key=f"words-{look.id}").input("Nobody called either.")
    form = f"look-{look.id}"
    at = next(b for b in at.button if b.form_id == form).click().run()
    assert not at.exception
    event = place.open().entries()[-1].event
    assert isinstance(event, NotDone)
    assert event.because == "Nobody came. Nobody called either."
    assert "Not done, because: Nobody came. Nobody called either." in texts(at)


def test_the_photo_of_a_note_is_shown_again(place):
    kept = place.open().attach(photo("PNG"))
    written(place, NoteKept(words="The crack.", attachment=kept, when=tuesday(9)))
    at = page("record", person="r-amsel")
    assert "Photos and papers (1)" in texts(at)
    at = at.selectbox(key="note-shown").select(1).run()
    assert not at.exception
    assert len(at.get("image")) == 1
