"""For any events: the state at a past moment is what was known then, and no later entry changes it."""

from __future__ import annotations

import tempfile
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import scheduler
from scheduler import bundled_sites
from scheduler.ledger.events import (
    Corrected,
    Event,
    Finished,
    HoldReleased,
    InspectionFailed,
    InspectionPassed,
    RemainingReported,
    Started,
    VisitBooked,
    VisitCancelled,
)
from scheduler.ledger.ground_events import CoverReported, Rained
from scheduler.ledger.holds import hold_points
from scheduler.ledger.state import State, fold, state_at
from scheduler.ledger.store import Entry
from scheduler.ledger.verify import verify
from tests.journals import new_journal

pytestmark = pytest.mark.property

FIRST = datetime(2027, 3, 8, 7, tzinfo=UTC)
CASE = scheduler.load(bundled_sites()["orchard-lane"])
ACTIVITIES = [a.id for a in CASE.network.activities[:6]]
HOLDS = CASE.network.holds[:4]
moments = st.integers(0, 400).map(lambda h: FIRST + timedelta(hours=h))
activities = st.sampled_from(ACTIVITIES)
looks = st.sampled_from([h.look for h in HOLDS]).map(lambda look: (look,))
people = st.sampled_from([(p.id, p.role) for p in CASE.site.people])
things: st.SearchStrategy[Event] = st.one_of(
    st.builds(Started, activity=activities, when=moments),
    st.builds(Finished, activity=activities, when=moments),
    st.builds(RemainingReported, activity=activities, hours=st.floats(0, 40), when=moments),
    st.builds(InspectionPassed, looks=looks, inspector=st.just("c-dunn"), when=moments),
    st.builds(InspectionFailed, looks=looks, inspector=st.just("c-dunn"), faults=st.just("wet"), when=moments),
    st.builds(
        lambda hold, who, when: HoldReleased(hold=hold.id, person=who[0], role=who[1], evidence="seen", when=when),
        st.sampled_from(HOLDS),
        people,
        moments,
    ),
    st.builds(lambda v, when: VisitBooked(visit=v, of="water-test", start=when), st.sampled_from("ab"), moments),
    st.builds(VisitCancelled, visit=st.sampled_from("ab")),
    st.builds(lambda a, b: Rained(start=a, until=a + timedelta(hours=b)), moments, st.integers(1, 9)),
    st.builds(
        lambda f, when: CoverReported(alignment="main", from_ft=f, to_ft=f + 30, when=when), st.just(90), moments
    ),
    st.builds(lambda n: Corrected(supersedes=n, reason="wrong"), st.integers(1, 12)),
)
steps = st.lists(st.tuples(things, st.integers(0, 30)), min_size=1, max_size=60)


def recorded(happened: list[tuple[Event, int]]) -> list[Entry]:
    """Return entries written down one after another, the given minutes apart."""
    out, at = [], FIRST
    for number, (event, minutes) in enumerate(happened, 1):
        at += timedelta(minutes=minutes)
        if isinstance(event, Corrected) and event.supersedes >= number:
            continue
        out.append(Entry(len(out) + 1, at, "test", event, "", ""))
    return out


def counting(entries: list[Entry]) -> list[Event]:
    """Return the events that count, worked out from the last entry back, one at a time."""
    taken: list[int] = []
    out: list[Event] = []
    for entry in reversed(entries):
        if entry.number in taken:
            continue
        if isinstance(entry.event, Corrected):
            taken.append(entry.event.supersedes)
        out.insert(0, entry.event)
    return out


def last(events: list[Event], kind: type, activity: str) -> datetime | None:
    times = [e.when for e in events if isinstance(e, kind) and e.activity == activity]  # type: ignore[attr-defined]
    return times[-1] if times else None


@given(steps, st.integers(0, 1500))
@settings(max_examples=60, deadline=None)
def test_a_past_moment_shows_what_was_known_then(happened: list[tuple[Event, int]], minutes: int) -> None:
    entries = recorded(happened)
    moment = FIRST + timedelta(minutes=minutes)
    state = state_at(entries, moment)
    assert state == fold([e for e in entries if e.at <= moment])
    events = counting([e for e in entries if e.at <= moment])
    for activity in ACTIVITIES:
        known = state.actual(activity)
        assert (known.start, known.finish) == (last(events, Started, activity), last(events, Finished, activity))
    for hold in HOLDS:
        assert list(state.releases.get(hold.id, ())) == [
            e for e in events if isinstance(e, HoldReleased) and e.hold == hold.id
        ]
    assert list(state.rain) == [e for e in events if isinstance(e, Rained)]
    assert len(hold_points(CASE.site, CASE.network, state, moment)) == len(CASE.network.holds)


@given(steps)
@settings(max_examples=8, deadline=None)
def test_the_journal_gives_every_past_state_back(happened: list[tuple[Event, int]]) -> None:
    """The state known after each entry, kept aside as it was, is what the whole journal later says of that moment."""
    with tempfile.TemporaryDirectory() as folder:
        journal = new_journal("sqlite", Path(folder))
        aside: dict[datetime, State] = {}
        for entry in recorded(happened)[:25]:
            if isinstance(entry.event, Corrected) and entry.event.supersedes >= len(journal.entries()) + 1:
                continue
            journal.append(entry.event, at=entry.at, by="test")
            aside[entry.at] = fold(journal.entries())
        entries = journal.entries()
        assert {at: state_at(entries, at) for at in aside} == aside
        assert verify(journal) == []
        journal.close()
