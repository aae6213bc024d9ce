"""The plans accepted in the journal of a job, which number the changes of its calendars."""

from __future__ import annotations

from pydantic import ValidationError

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.ledger.events import PlanAccepted
from scheduler.ledger.place import JournalPlace
from scheduler.ledger.state import fold
from scheduler.ledger.store import Journal
from scheduler.plan import Plan


def recorded(place: JournalPlace) -> list[Plan]:
    """Return the plans accepted in the journal at a place, the oldest first; none when there is none yet."""
    if not place.made:
        return []
    with place.open() as journal:
        return [plan for _, plan in accepted_plans(journal)]


def accepted_plans(journal: Journal) -> list[tuple[PlanAccepted, Plan]]:
    """Return the plans accepted in a journal, each with its acceptance, the oldest first.

    Raises BadInput when the journal cannot be read, or holds something else for a plan.
    """
    accepted = fold(journal.entries()).plans
    kept = [(a, journal.attachment(a.plan)) for a in accepted]
    return [(a, _plan(k.content)) for a, k in kept if k is not None]


def _plan(content: bytes) -> Plan:
    try:
        return Plan.model_validate_json(content)
    except ValidationError:
        text = "holds an accepted plan that this program cannot read."
        required = "a jointtrench-plan of version 1"
        found = "something else"
        raise BadInput([Finding("export/journal", Severity.STOP, "the journal", text, found, required)]) from None
