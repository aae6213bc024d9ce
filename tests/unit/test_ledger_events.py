"""Every event: written, read back the same, and refused when it lacks what it must say."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Any

import pytest
from pydantic import ValidationError

from scheduler.errors import BadInput
from scheduler.ledger import events
from scheduler.ledger.events import EVENT

NOON = "2027-03-09T12:00:00-07:00"
LATER = "2027-03-11T08:00:00-07:00"
DIGEST = "ab" * 32
STRETCH: dict[str, Any] = {"alignment": "main", "from_ft": 40, "to_ft": 120, "when": NOON}
LOOKED: dict[str, Any] = {"looks": ["look/a"], "inspector": "c-dunn", "when": NOON}

WHOLE: dict[str, dict[str, Any]] = {
    "started": {"activity": "R1/dig", "when": NOON},
    "finished": {"activity": "R1/dig", "when": NOON},
    "remaining_reported": {"activity": "R1/dig", "hours": 2.5, "when": NOON},
    "delayed": {"who": "Sorrel Valley Power", "not_before": LATER, "about": ["outside/tie-in"]},
    "taken_over": {"trade": "plumber", "firm": "Brook Pipe", "since": LATER, "notice_days": 2, "when": NOON},
    "visit_booked": {"visit": "v1", "of": "conduit-look", "looks": ["look/a"], "start": NOON, "until": LATER},
    "visit_confirmed": {"visit": "v1"},
    "visit_cancelled": {"visit": "v1", "why": "storm"},
    "called": {
        "of": "tie-in",
        "person": "s-wirth",
        "told_start": LATER,
        "activities": ["outside/tie-in"],
        "answer": "agreed",
        "when": NOON,
    },
    "asked": {
        "of": "tie-in",
        "person": "s-wirth",
        "to": "sam@power.example",
        "uid": "0b1f@jointtrench",
        "sequence": 2,
        "told_start": LATER,
        "activities": ["outside/tie-in"],
        "when": NOON,
    },
    "inspection_passed": LOOKED,
    "inspection_passed_with_conditions": {**LOOKED, "conditions": "Tape the stub."},
    "inspection_failed": {**LOOKED, "faults": "Joint dry.", "repair_hours": 2},
    "hold_released": {
        "hold": "hold/a",
        "person": "c-dunn",
        "role": "inspector",
        "evidence": "Seen, depth 26 in.",
        "attachment": DIGEST,
        "when": NOON,
    },
    "pass_stands": {**LOOKED, "words": "Pumped dry, nothing moved."},
    "cover_reported": STRETCH,
    "uncover_reported": {**STRETCH, "depth": "shading", "layer": 1},
    "repair_reported": {**STRETCH, "what": "A joint glued anew."},
    "water_stood": STRETCH,
    "stop_work": {
        "who": "i-haas",
        "why": "No shoring.",
        "alignment": "main",
        "from_ft": 40,
        "to_ft": 120,
        "when": NOON,
    },
    "stop_work_lifted": {"stop": 4, "who": "i-haas", "when": NOON},
    "test_failed": {"activity": "R1/test-W1", "faults": "Lost 5 psi.", "repair_hours": 2, "when": NOON},
    "not_done": {"activity": "R1/dig", "because": "The excavator broke.", "when": NOON},
    "trench_inspected": {**STRETCH, "who": "d-okoro", "safe": False, "words": "A crack along the edge."},
    "line_struck": {
        "who": "r-amsel",
        "alignment": "main",
        "station_ft": 60,
        "owner": "Sorrel Gas",
        "what": "The bucket nicked it.",
        "told": "Sorrel Gas and 911.",
        "when": NOON,
    },
    "note_kept": {"words": "Mud on the road.", "entry": 3, "attachment": DIGEST, "when": NOON},
    "ticket_answered": {"ticket": "T1", "who": "Sorrel Gas", "answer": "clear", "when": NOON},
    "rained": {"start": NOON, "until": LATER, "inches": 0.4},
    "measured": {"alignment": "main", "station_ft": 60, "offset_in": -6, "cover_in": 26, "who": "r", "when": NOON},
    "plan_accepted": {"plan": DIGEST, "data_date": NOON},
    "corrected": {"supersedes": 3, "reason": "Wrong reach."},
    "refused": {"asked": "hold_released", "about": "hold/a", "who": "r-amsel", "reason": "Not theirs."},
}
SPOILED: dict[str, dict[str, Any]] = {
    "started": {"when": "2027-03-09T12:00:00"},
    "finished": {"activity": ""},
    "remaining_reported": {"hours": -1},
    "delayed": {"who": ""},
    "taken_over": {"firm": ""},
    "visit_booked": {"until": NOON},
    "visit_confirmed": {"visit": ""},
    "visit_cancelled": {"visit": ""},
    "called": {"offers": LATER},
    "asked": {"to": ""},
    "inspection_passed": {"looks": []},
    "inspection_passed_with_conditions": {"conditions": ""},
    "inspection_failed": {"faults": ""},
    "hold_released": {"evidence": ""},
    "pass_stands": {"words": ""},
    "cover_reported": {"to_ft": 40},
    "uncover_reported": {"depth": "half"},
    "repair_reported": {"what": ""},
    "water_stood": {"to_ft": 40},
    "stop_work": {"to_ft": 40},
    "stop_work_lifted": {"stop": 0},
    "test_failed": {"faults": ""},
    "not_done": {"because": ""},
    "trench_inspected": {"words": " "},
    "line_struck": {"told": ""},
    "note_kept": {"words": " . ", "attachment": None},
    "ticket_answered": {"answer": "maybe"},
    "rained": {"until": NOON},
    "measured": {"cover_in": float("nan")},
    "plan_accepted": {"plan": "not a hash"},
    "corrected": {"supersedes": 0},
    "refused": {"reason": ""},
}


def test_these_are_all_the_events() -> None:
    assert set(events.BY_NAME) == set(WHOLE) == set(SPOILED)


@pytest.mark.parametrize("name", WHOLE)
def test_an_event_comes_back_as_it_was_written(name: str) -> None:
    written = EVENT.validate_python({"name": name, **WHOLE[name]})
    assert written.name == name
    assert EVENT.validate_json(written.model_dump_json()) == written
    assert set(json.loads(written.model_dump_json())) >= set(WHOLE[name])


@pytest.mark.parametrize("name", SPOILED)
def test_an_event_that_says_too_little_is_refused(name: str) -> None:
    with pytest.raises(ValidationError):
        EVENT.validate_python({"name": name, **WHOLE[name], **SPOILED[name]})


@pytest.mark.parametrize("name", WHOLE)
def test_an_event_says_nothing_unknown(name: str) -> None:
    with pytest.raises(ValidationError, match="Extra inputs"):
        EVENT.validate_python({"name": name, **WHOLE[name], "mood": "fine"})


def test_a_time_keeps_its_instant() -> None:
    event = EVENT.validate_python({"name": "started", **WHOLE["started"]})
    assert isinstance(event, events.Started)
    assert event.when == datetime(2027, 3, 9, 19, tzinfo=UTC)


LIMITS: list[tuple[str, str, object, object]] = [
    ("started", "activity", "a" * 120, "a" * 121),
    ("started", "activity", "a", ""),
    ("visit_cancelled", "why", "w" * 2000, "w" * 2001),
    ("refused", "reason", "r" * 2000, "r" * 2001),
    ("refused", "reason", "r", ""),
    ("inspection_passed", "inspector", "i" * 200, "i" * 201),
    ("inspection_passed", "inspector", "i", ""),
    ("inspection_passed", "looks", ["a"], []),
    ("remaining_reported", "hours", 10_000, 10_000.5),
    ("remaining_reported", "hours", 0, -0.5),
    ("inspection_failed", "repair_hours", 10_000, 10_000.5),
    ("inspection_failed", "repair_hours", 0, -0.5),
    ("cover_reported", "from_ft", 0, -0.5),
    ("cover_reported", "to_ft", 40.5, 40),
    ("rained", "inches", 0, -0.5),
    ("rained", "inches", 100, 100.5),
    ("rained", "until", "2027-03-09T12:00:01-07:00", NOON),
    ("visit_booked", "until", "2027-03-09T12:00:01-07:00", NOON),
    ("visit_booked", "until", None, "2027-03-09T11:59:59-07:00"),
    ("corrected", "supersedes", 1, 0),
    ("hold_released", "attachment", DIGEST, DIGEST[:-1]),
]
"""A field of an event with the last value that it may have, and one beyond."""


@pytest.mark.parametrize(("name", "field", "last", "beyond"), LIMITS)
def test_a_field_goes_so_far_and_no_further(name: str, field: str, last: object, beyond: object) -> None:
    written = EVENT.validate_python({"name": name, **WHOLE[name], field: last})
    assert json.loads(written.model_dump_json())[field] == last
    with pytest.raises(ValidationError):
        EVENT.validate_python({"name": name, **WHOLE[name], field: beyond})


def test_an_event_once_read_is_not_changed() -> None:
    event = EVENT.validate_python({"name": "started", **WHOLE["started"]})
    with pytest.raises(ValidationError):
        event.activity = "R2/dig"  # type: ignore[union-attr]


@pytest.mark.parametrize("number", [float("inf"), float("nan")])
def test_numbers_are_finite(number: float) -> None:
    with pytest.raises(ValidationError):
        EVENT.validate_python({"name": "remaining_reported", **WHOLE["remaining_reported"], "hours": number})


@pytest.mark.parametrize(
    ("name", "body", "said"),
    [
        (
            "visit_booked",
            {"visit": "", "of": "x" * 121, "start": NOON},
            [("Visit", "is empty; it must be said."), ("Of", "is too long.")],
        ),
        (
            "visit_booked",
            {"visit": "v", "of": "x", "start": NOON, "until": NOON},
            [("The report", "a visit ends after it starts.")],
        ),
        ("inspection_passed", {**LOOKED, "looks": []}, [("Looks", "is empty; pick at least one.")]),
        ("started", {"activity": "a"}, [("When", "is missing.")]),
        ("remaining_reported", {**WHOLE["remaining_reported"], "hours": -1}, [("Hours", "")]),
    ],
)
def test_every_fault_of_a_report_is_told_with_its_field(
    name: str, body: dict[str, Any], said: list[tuple[str, str]]
) -> None:
    with pytest.raises(BadInput) as refused:
        events.read_event(name, body)
    found = [(f.where, f.text) for f in refused.value.findings]
    assert [where for where, _ in found] == [where for where, _ in said]
    assert all(text.startswith(words) and text.endswith(".") for (_, text), (_, words) in zip(found, said, strict=True))
    assert events.read_event("started", WHOLE["started"]).name == "started"


def test_a_no_to_a_call_needs_the_time_that_was_asked_for_and_nothing_else_does() -> None:
    call = {"name": "called", **WHOLE["called"], "told_start": None}
    assert EVENT.validate_python(call).told_start is None
    with pytest.raises(ValidationError, match="a no needs the time"):
        EVENT.validate_python({**call, "answer": "refused"})
