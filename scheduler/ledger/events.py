"""What may be written in the journal: one record for each thing that can happen, named in the past tense.

Records carry ids only, of activities, inspections, hold points, tickets and alignments; whoever
reads them looks the rest up in the network. Every time has an offset from UTC. `when` is when the
thing happened; when it was written down stands beside the record, in its entry.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal, get_args

from pydantic import AwareDatetime, Field, TypeAdapter, ValidationError, model_validator

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.ledger.call_events import AskedInWriting, Called, ComingExpected
from scheduler.ledger.day_events import LineStruck, NotDone, NoteKept, TestFailed, TrenchInspected
from scheduler.ledger.event_fields import Digest, EventRecord, Fact, Ref, Seen, Told, Who, Words, WorkReport
from scheduler.ledger.ground_events import (
    CoverReported,
    Measured,
    Rained,
    RepairReported,
    StopWork,
    StopWorkLifted,
    UncoverReported,
    WaterStood,
)
from scheduler.ledger.trade_events import TakenOver


class Started(WorkReport):
    """Work on an activity began."""

    name: Literal["started"] = "started"


class Finished(WorkReport):
    """An activity is done."""

    name: Literal["finished"] = "finished"


class RemainingReported(WorkReport):
    """Somebody estimated what is left to do on an activity."""

    name: Literal["remaining_reported"] = "remaining_reported"
    hours: Annotated[float, Field(ge=0, le=10_000)]
    """Working hours left at `when`."""


class Delayed(EventRecord):
    """Somebody gave word that they cannot come, or start, before a moment."""

    name: Literal["delayed"] = "delayed"
    who: Who
    not_before: AwareDatetime
    about: tuple[Ref, ...] = ()
    """Activities that wait; empty: everything of theirs."""
    why: Words = ""


class VisitBooked(EventRecord):
    """An appointment was made or moved; booking the same visit again replaces the earlier time."""

    name: Literal["visit_booked"] = "visit_booked"
    visit: Ref
    of: Ref
    """The inspection or outside work it is for."""
    looks: tuple[Ref, ...] = ()
    """Activities to be seen or done then; empty: all that are ready."""
    start: AwareDatetime
    until: AwareDatetime | None = None
    firm: bool = False
    seen: tuple[Seen, ...] = ()
    """What is to be seen then, where `looks` are named; filled in by the program."""

    @model_validator(mode="after")
    def _in_order(self) -> VisitBooked:
        if self.until is not None and self.until <= self.start:
            raise ValueError("a visit ends after it starts")
        return self


class VisitConfirmed(EventRecord):
    """The other side confirmed a booked visit."""

    name: Literal["visit_confirmed"] = "visit_confirmed"
    visit: Ref


class VisitCancelled(EventRecord):
    """A booked visit will not happen."""

    name: Literal["visit_cancelled"] = "visit_cancelled"
    visit: Ref
    why: Words = ""


class _Inspected(Fact):
    looks: Annotated[tuple[Ref, ...], Field(min_length=1)]
    """The inspection activities that were looked at."""
    inspector: Who
    firm: Words = ""
    """The inspector's firm or authority at that time."""
    seen: tuple[Seen, ...] = ()
    """Empty: the entry is older than this field, or nothing is known of these looks."""


class InspectionPassed(_Inspected):
    """The inspector found the work good. The hold still needs its release."""

    name: Literal["inspection_passed"] = "inspection_passed"
    notes: Words = ""


class InspectionPassedWithConditions(_Inspected):
    """The inspector found the work good, provided that something is done."""

    name: Literal["inspection_passed_with_conditions"] = "inspection_passed_with_conditions"
    conditions: Told


class InspectionFailed(_Inspected):
    """The inspector turned the work down."""

    name: Literal["inspection_failed"] = "inspection_failed"
    faults: Told
    repair_hours: Annotated[float, Field(ge=0, le=10_000)] = 0.0
    """Working hours to mend it before it can be looked at again."""


class PassStands(_Inspected):
    """After rain, standing water or a changed design the authority gave word that its pass still stands."""

    name: Literal["pass_stands"] = "pass_stands"
    words: Told


class HoldReleased(Fact):
    """The authority released a hold point; evidence in words, and a photo or PDF by its hash."""

    name: Literal["hold_released"] = "hold_released"
    hold: Ref
    person: Ref
    role: Ref
    """The person's role in the site file."""
    firm: Words = ""
    rests_on: tuple[Annotated[int, Field(ge=1)], ...] = ()
    """Numbers of the entries of the looks that passed; empty: none was on record, or it is older than this field."""
    seen: tuple[Seen, ...] = ()
    evidence: Told
    attachment: Digest | None = None


class TicketAnswered(Fact):
    """The owner of a marked line answered a locate ticket."""

    name: Literal["ticket_answered"] = "ticket_answered"
    ticket: Ref
    who: Who
    answer: Literal["clear", "marked", "not_complete"]


class PlanAccepted(EventRecord):
    """A plan was accepted; it is the one to work by from then on, and earlier ones stay on record."""

    name: Literal["plan_accepted"] = "plan_accepted"
    plan: Digest
    """Hash of the plan kept in the journal."""
    data_date: AwareDatetime
    why: Words = ""
    expected: tuple[ComingExpected, ...] = ()
    """Whom the plan before let come at another time, with no call on record; filled in by the program."""


class Corrected(EventRecord):
    """An earlier entry was wrong and no longer counts; what is right is written as an entry of its own."""

    name: Literal["corrected"] = "corrected"
    supersedes: Annotated[int, Field(ge=1)]
    reason: Told
    right: Literal["", "writer", "contractor"] = ""
    """Why it may be taken back by whoever wrote this; empty: the entry is older than this field."""


class Refused(EventRecord):
    """Something was asked for and refused."""

    name: Literal["refused"] = "refused"
    asked: Ref
    """Name of the event that was asked for, such as 'hold_released'."""
    about: Ref
    """The hold, visit or activity it concerned."""
    who: Who
    """Who asked."""
    reason: Told


Event = Annotated[
    Started
    | Finished
    | RemainingReported
    | TestFailed
    | NotDone
    | Delayed
    | TakenOver
    | VisitBooked
    | VisitConfirmed
    | VisitCancelled
    | Called
    | AskedInWriting
    | InspectionPassed
    | InspectionPassedWithConditions
    | InspectionFailed
    | PassStands
    | HoldReleased
    | CoverReported
    | UncoverReported
    | RepairReported
    | WaterStood
    | StopWork
    | StopWorkLifted
    | TrenchInspected
    | LineStruck
    | NoteKept
    | TicketAnswered
    | Rained
    | Measured
    | PlanAccepted
    | Corrected
    | Refused,
    Field(discriminator="name"),
]
"""Anything the journal can hold, told apart by `name`."""

BY_NAME: dict[str, type[EventRecord]] = {t.model_fields["name"].default: t for t in get_args(get_args(Event)[0])}
"""Every kind of event by its name."""

Inspected = InspectionPassed | InspectionPassedWithConditions | InspectionFailed

EVENT: TypeAdapter[Event] = TypeAdapter(Event)
"""Reads any event; raises pydantic.ValidationError when it is none."""

_FAULTS = {
    "string_too_short": "is empty; it must be said",
    "too_short": "is empty; pick at least one",
    "string_too_long": "is too long",
    "missing": "is missing",
}


def read_event(name: str, body: Mapping[str, Any]) -> Event:
    """Return an event of a name with the fields that somebody filled in; raises BadInput with every fault."""
    try:
        return EVENT.validate_python({"name": name, **body})
    except ValidationError as error:
        faults = []
        for detail in error.errors(include_url=False):
            fields = [str(step) for step in detail["loc"] if isinstance(step, str) and step != name]
            where = fields[0].replace("_", " ").capitalize() if fields else "The report"
            words = _FAULTS.get(detail["type"]) or detail["msg"].removeprefix("Value error, ")
            faults.append(Finding("report/input", Severity.STOP, where, words.rstrip(".") + "."))
        raise BadInput(faults) from None
