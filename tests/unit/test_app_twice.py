"""A press given twice, on one page or in a second tab, writes one entry and starts one search."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from datetime import timedelta
from threading import Event

import pytest
from streamlit.testing.v1 import AppTest

from app import replans as replans_module
from app.live import live_of
from app.replans import Replan, Replans
from scheduler.ledger.call_events import Called
from scheduler.ledger.day_events import NoteKept
from scheduler.ledger.events import Corrected, Delayed, Refused
from scheduler.ledger.repeated import said_already
from scheduler.plan import Plan
from tests.unit.test_app_live import HOLD, case, page, planned, texts, tuesday, written
from tests.unit.test_app_live import place as place

WHO, WRITE = "delay-who", "Write it down and see what can be done"
AGAIN = "Written down already"


@pytest.fixture
def begun(monkeypatch) -> Iterator[list[Replan]]:
    """Return the re-plans that are begun; they go on until the test ends, and nothing is worked out."""
    jobs: list[Replan] = []
    registry, ended = Replans(), Event()

    def work(job: Replan, _: Plan) -> None:
        jobs.append(job)
        ended.wait(120)

    monkeypatch.setattr(replans_module, "_work", work)
    monkeypatch.setattr("app.screens.delay.replans", lambda: registry)
    yield jobs
    ended.set()


def delay_form() -> AppTest:
    at = page("delay", person="r-amsel")
    at.selectbox(WHO).select("Plumber").run()
    at.text_input("delay-why").input("Two days late.")
    return at


def press(at: AppTest, label: str) -> AppTest:
    at = next(b for b in at.button if b.label == label).click().run()
    assert not at.exception
    return at


def entries(place):
    with closing(place.open()) as journal:
        return journal.entries()


def test_a_delay_sent_twice_and_from_a_second_tab_is_written_once(place, begun):
    one, other = delay_form(), delay_form()
    press(one, WRITE)
    assert AGAIN not in texts(one)
    for tab in (one, other):
        press(tab, WRITE)
        assert AGAIN in texts(tab)
    (entry,) = entries(place)
    assert isinstance(entry.event, Delayed)
    assert len(begun) == 1


def test_the_same_question_a_minute_later_is_the_same_search_while_it_goes_on(place, begun):
    live, registry = live_of(case()), Replans()
    key = (case().path, case().sha256, "", live.moment, ())
    later = (*key[:3], live.moment + timedelta(minutes=1), ())
    much_later = (*key[:3], live.moment + timedelta(minutes=5), ())
    first = registry.ask(key, case(), (), planned())
    assert registry.ask(later, case(), (), planned()) is first is registry.asked(later)
    assert registry.ask(much_later, case(), (), planned()) is not first


def test_what_differs_was_taken_back_or_was_another_act_is_written(place):
    act = next(a.id for a in case().network.activities)
    call = Called(of="plumber", activities=(act,), answer="no_answer", when=tuesday(7))
    late, later = (Delayed(who="Plumber", not_before=tuesday(h)) for h in (30, 40))
    written(place, call, late)

    def repeated(event, by="Ruth Amsel"):
        found = said_already(entries(place), event, at=tuesday(12), by=by)
        return found.number if found else None

    assert (repeated(call), repeated(late)) == (1, 2)
    assert repeated(call.model_copy(update={"when": call.when + timedelta(seconds=20)})) == 1
    assert repeated(call.model_copy(update={"when": call.when + timedelta(minutes=5)})) is None
    assert repeated(late, by="Peter Strand") is None
    written(place, later)
    assert repeated(late) is None, "they came back to what they said first"
    written(place, Corrected(supersedes=3, reason="No."))
    assert (repeated(later), repeated(late)) == (None, 2)


def test_a_refusal_is_on_record_once_and_again_at_another_time(place):
    refused = Refused(asked="hold_released", about=HOLD, who="r-amsel", reason="not theirs")
    written(place, refused)
    assert said_already(entries(place), refused, at=tuesday(12), by="Ruth Amsel").number == 1
    assert said_already(entries(place), refused, at=tuesday(13), by="Ruth Amsel") is None


def test_all_as_planned_pressed_twice_does_not_write_what_comes_next_as_well(place, monkeypatch):
    monkeypatch.setattr("app.components.as_planned.ROWS_AT_MOST", 1)
    written(place, NoteKept(words="Fair.", when=tuesday(18)), at=tuesday(18))
    at = page("record", person="r-amsel")
    seen = next(b for b in at.button if b.key.startswith("as-planned-write"))
    seen.click().run()
    states = at._tree.get_widget_states()  # as a browser sends it that has not drawn the page anew since
    late = states.widgets.add()
    late.id, late.trigger_value = seen.id, True
    at._run(states)
    assert not at.exception
    assert len({e.event.activity for e in entries(place)[1:]}) == 1
