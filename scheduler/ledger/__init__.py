"""The journal of a live job: an append-only record, its state at any moment, and its hold points."""

from scheduler.ledger.archiving import Archived, archived, set_archived
from scheduler.ledger.attachments import MAX_BYTES
from scheduler.ledger.corrections import may_correct, superseded
from scheduler.ledger.cover_answer import CoverAnswer, CoverReason, CoverVerdict, may_cover, no_answer
from scheduler.ledger.covered_early import covered_unreleased
from scheduler.ledger.covering import CoverGround
from scheduler.ledger.day_events import NotDone, NoteKept
from scheduler.ledger.doers import in_todays_names, trade_names
from scheduler.ledger.draft_shelf import draft_shelved, shelve_draft
from scheduler.ledger.event_wording import ANSWERS, Wording, clock_ahead_words
from scheduler.ledger.events import (
    BY_NAME,
    Corrected,
    Event,
    HoldReleased,
    Inspected,
    InspectionFailed,
    PlanAccepted,
    Refused,
    VisitCancelled,
    VisitConfirmed,
    read_event,
)
from scheduler.ledger.heads import Head, head_of
from scheduler.ledger.hold_standing import HoldStatus
from scheduler.ledger.holds import HoldPoint, hold_point, hold_points, visits_for
from scheduler.ledger.job_library import begin_record, keep_site, library, shelved
from scheduler.ledger.place import JournalPlace, place_of
from scheduler.ledger.repeated import said_already
from scheduler.ledger.rights import may_release, names, right_findings
from scheduler.ledger.state import Actual, State, fold, state_at
from scheduler.ledger.store import Entry, Journal
from scheduler.ledger.trench_watch import InspectionDue, trench_inspection_due
from scheduler.ledger.verify import verify
from scheduler.ledger.writing import contradicted, write_all, write_down, write_once

__all__ = [
    "ANSWERS",
    "BY_NAME",
    "MAX_BYTES",
    "Actual",
    "Archived",
    "Corrected",
    "CoverAnswer",
    "CoverGround",
    "CoverReason",
    "CoverVerdict",
    "Entry",
    "Event",
    "Head",
    "HoldPoint",
    "HoldReleased",
    "HoldStatus",
    "Inspected",
    "InspectionDue",
    "InspectionFailed",
    "Journal",
    "JournalPlace",
    "NotDone",
    "NoteKept",
    "PlanAccepted",
    "Refused",
    "State",
    "VisitCancelled",
    "VisitConfirmed",
    "Wording",
    "archived",
    "begin_record",
    "clock_ahead_words",
    "contradicted",
    "covered_unreleased",
    "draft_shelved",
    "fold",
    "head_of",
    "hold_point",
    "hold_points",
    "in_todays_names",
    "keep_site",
    "library",
    "may_correct",
    "may_cover",
    "may_release",
    "names",
    "no_answer",
    "place_of",
    "read_event",
    "right_findings",
    "said_already",
    "set_archived",
    "shelve_draft",
    "shelved",
    "state_at",
    "superseded",
    "trade_names",
    "trench_inspection_due",
    "verify",
    "visits_for",
    "write_all",
    "write_down",
    "write_once",
]
