"""The journal of a live job: an append-only record, its state at any moment, and its hold points."""

from scheduler.ledger.attachments import MAX_BYTES
from scheduler.ledger.cover_question import CoverAnswer, CoverGround, CoverReason, covered_unreleased, may_cover
from scheduler.ledger.event_wording import ANSWERS, Wording
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
from scheduler.ledger.holds import HoldPoint, HoldStatus, hold_points, may_release, names, release, visits_for
from scheduler.ledger.job_library import keep_site, library, shelved
from scheduler.ledger.place import JournalPlace, place_of
from scheduler.ledger.state import Actual, State, fold, state_at, superseded
from scheduler.ledger.store import Entry, Journal
from scheduler.ledger.verify import verify

__all__ = [
    "ANSWERS",
    "BY_NAME",
    "MAX_BYTES",
    "Actual",
    "Corrected",
    "CoverAnswer",
    "CoverGround",
    "CoverReason",
    "Entry",
    "Event",
    "Head",
    "HoldPoint",
    "HoldReleased",
    "HoldStatus",
    "Inspected",
    "InspectionFailed",
    "Journal",
    "JournalPlace",
    "PlanAccepted",
    "Refused",
    "State",
    "VisitCancelled",
    "VisitConfirmed",
    "Wording",
    "covered_unreleased",
    "fold",
    "head_of",
    "hold_points",
    "keep_site",
    "library",
    "may_cover",
    "may_release",
    "names",
    "place_of",
    "read_event",
    "release",
    "shelved",
    "state_at",
    "superseded",
    "verify",
    "visits_for",
]
