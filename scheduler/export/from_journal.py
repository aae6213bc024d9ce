"""What the journal of a job adds to its papers: appointments made, and the plans accepted before."""

from __future__ import annotations

from pydantic import ValidationError

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.ledger.place import JournalPlace
from scheduler.ledger.state import State, fold
from scheduler.ledger.store import Journal
from scheduler.plan import Plan


def recorded(place: JournalPlace) -> tuple[State, list[Plan]]:
    """Return what the journal at a place says; nothing when there is none yet. See `read_record`."""
    if not place.made:
        return State(), []
    with place.open() as journal:
        return read_record(journal)


def read_record(journal: Journal) -> tuple[State, list[Plan]]:
    """Return what a journal says, and the plans accepted in it, the oldest first.

    Raises BadInput when it cannot be read, or holds something else for a plan.
    """
    known = fold(journal.entries())
    kept = [journal.attachment(accepted.plan) for accepted in known.plans]
    return known, [_plan(k.content) for k in kept if k is not None]


def _plan(content: bytes) -> Plan:
    try:
        return Plan.model_validate_json(content)
    except ValidationError:
        text = "holds an accepted plan that this program cannot read."
        required = "a jointtrench-plan of version 1"
        found = "something else"
        raise BadInput([Finding("export/journal", Severity.STOP, "the journal", text, found, required)]) from None
