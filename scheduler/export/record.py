"""What the journal of a job adds to its papers: appointments made, and the plans accepted before."""

from __future__ import annotations

from contextlib import closing

from pydantic import ValidationError

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.ledger.place import JournalPlace
from scheduler.ledger.state import State, fold
from scheduler.plan import Plan


def recorded(place: JournalPlace) -> tuple[State, list[Plan]]:
    """Return what a journal says, and the plans accepted in it, the oldest first; nothing when there is none yet.

    Raises BadInput when it cannot be read, or holds something else for a plan.
    """
    if not place.made:
        return State(), []
    with closing(place.open()) as journal:
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
