"""Every kind of event in a sentence that people on site would say, and everything wrong with one at once."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from scheduler.errors import BadInput
from scheduler.ledger.event_wording import Wording
from scheduler.ledger.events import BY_NAME, read_event
from tests.unit.test_app_live import HOLD, LOOK, case, tuesday

WHEN = tuesday()
BODIES = {
    "started": {"activity": "orchard-row/dig", "when": WHEN},
    "finished": {"activity": "orchard-row/dig", "when": WHEN},
    "remaining_reported": {"activity": "orchard-row/dig", "hours": 1.5, "when": WHEN},
    "delayed": {"who": "s-wirth", "not_before": WHEN, "about": ("outside/tie-in",), "why": "Storm."},
    "visit_booked": {"visit": "v", "of": "water-test", "start": WHEN, "firm": True},
    "visit_confirmed": {"visit": "v"},
    "visit_cancelled": {"visit": "v", "why": "Storm."},
    "called": {
        "of": "tie-in",
        "person": "s-wirth",
        "told_start": WHEN,
        "was": WHEN,
        "activities": ("outside/tie-in",),
        "answer": "refused",
        "offers": WHEN,
        "when": WHEN,
    },
    "asked": {
        "of": "tie-in",
        "person": "s-wirth",
        "to": "sam@power.example",
        "uid": "0b1f@jointtrench",
        "told_start": WHEN,
        "activities": ("outside/tie-in",),
        "when": WHEN,
    },
    "taken_over": {"trade": "plumber", "firm": "Brook Pipe", "since": WHEN, "notice_days": 2, "when": WHEN},
    "inspection_passed": {"looks": (LOOK,), "inspector": "c-dunn", "when": WHEN},
    "inspection_passed_with_conditions": {
        "looks": (LOOK,),
        "inspector": "c-dunn",
        "when": WHEN,
        "conditions": "Tape it.",
    },
    "inspection_failed": {
        "looks": (LOOK,),
        "inspector": "c-dunn",
        "when": WHEN,
        "faults": "Dry.",
        "repair_hours": 2,
    },
    "hold_released": {"hold": HOLD, "person": "c-dunn", "role": "inspector", "evidence": "Seen.", "when": WHEN},
    "pass_stands": {"looks": (LOOK,), "inspector": "c-dunn", "when": WHEN, "words": "Pumped dry."},
    "repair_reported": {"alignment": "main", "from_ft": 0, "to_ft": 60, "when": WHEN, "what": "A joint."},
    "water_stood": {"alignment": "main", "from_ft": 0, "to_ft": 60, "when": WHEN},
    "stop_work": {"who": "d-okoro", "why": "A crack.", "alignment": "main", "when": WHEN},
    "stop_work_lifted": {"stop": 7, "who": "d-okoro", "when": WHEN},
    "cover_reported": {"alignment": "main", "from_ft": 0, "to_ft": 60, "when": WHEN},
    "uncover_reported": {"alignment": "main", "from_ft": 0, "to_ft": 60, "when": WHEN},
    "test_failed": {
        "activity": "line/water/test-2",
        "when": WHEN,
        "faults": "Lost 5 psi.",
        "repair_hours": 2,
    },
    "not_done": {"activity": "orchard-row/dig", "when": WHEN, "because": "No excavator."},
    "trench_inspected": {
        "alignment": "main",
        "from_ft": 0,
        "to_ft": 60,
        "who": "d-okoro",
        "safe": True,
        "when": WHEN,
    },
    "line_struck": {
        "alignment": "main",
        "station_ft": 60,
        "line": "water",
        "who": "r-amsel",
        "what": "The bucket nicked it",
        "told": "Sorrel Valley Gas and 911",
        "when": WHEN,
    },
    "note_kept": {"words": "Mud on the road.", "alignment": "main", "to_ft": 60, "when": WHEN},
    "ticket_answered": {"ticket": "ticket", "who": "Sorrel Valley Gas", "answer": "marked", "when": WHEN},
    "rained": {"start": WHEN, "until": WHEN + timedelta(hours=2), "inches": 0.4},
    "measured": {
        "alignment": "main",
        "station_ft": 120,
        "line": "water",
        "offset_in": -6,
        "cover_in": 44,
        "who": "r-amsel",
        "when": WHEN,
    },
    "plan_accepted": {"plan": "0" * 64, "data_date": WHEN, "why": "Least cost."},
    "corrected": {"supersedes": 3, "reason": "Another reach."},
    "refused": {"asked": "hold_released", "about": HOLD, "who": "r-amsel", "reason": "Not theirs."},
}
"""The fields of one event of each kind, by its name."""


def test_every_kind_of_event_has_a_sentence_with_names_not_ids():
    wording = Wording(case().site, case().network)
    assert set(BODIES) == set(BY_NAME)
    for name, body in BODIES.items():
        said = wording.sentence(read_event(name, body))
        assert said.endswith(".")
        for id_ in ("orchard-row", "c-dunn", "s-wirth", "r-amsel", "hold/", "look/", "outside/"):
            assert id_ not in said, name
    assert "6 in left of the centreline, 44 in of cover" in wording.sentence(read_event("measured", BODIES["measured"]))


def test_everything_wrong_with_a_report_is_said_at_once():
    with pytest.raises(BadInput) as bad:
        read_event("inspection_failed", {"looks": (), "inspector": "", "faults": "", "when": datetime.now(UTC)})
    said = {f.where: f.text for f in bad.value.findings}
    assert said == {
        "Looks": "is empty; pick at least one.",
        "Inspector": "is empty; it must be said.",
        "Faults": "is empty; it must be said.",
    }
    with pytest.raises(BadInput, match="rain ends after it starts"):
        read_event("rained", {"start": tuesday(9), "until": tuesday(8)})
