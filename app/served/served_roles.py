"""What somebody who is known may see, do and write, by their role. What does not stand in these tables is refused."""

from __future__ import annotations

from collections.abc import Mapping

from pydantic import BaseModel

from scheduler import Case
from scheduler.ledger import Event, HoldReleased, Refused
from scheduler.site import Person

DANGER = frozenset({"stop_work", "line_struck", "water_stood", "test_failed", "note_kept"})
"""Whoever works or looks here may tell of danger."""
WORK = frozenset({"started", "finished", "remaining_reported", "not_done", "test_failed"})
GROUND = frozenset({"cover_reported", "uncover_reported", "repair_reported", "rained", "measured"})
ASKED = frozenset(
    {"visit_booked", "visit_confirmed", "visit_cancelled", "called", "asked", "delayed", "ticket_answered"}
)
LOOKS = frozenset(
    {"inspection_passed", "inspection_passed_with_conditions", "inspection_failed", "pass_stands", "hold_released"}
)
ANSWERED = frozenset({"visit_confirmed", "visit_cancelled", "stop_work", "note_kept", "corrected"})

MAY_WRITE: Mapping[str, frozenset[str]] = {
    "general_contractor": DANGER
    | WORK
    | GROUND
    | ASKED
    | {"inspection_failed", "trench_inspected", "stop_work_lifted", "taken_over", "plan_accepted", "corrected"},
    "project_manager": ASKED | {"stop_work", "note_kept", "plan_accepted", "corrected"},
    "competent_person": DANGER | WORK | GROUND | {"trench_inspected", "stop_work_lifted", "corrected"},
    "trade": DANGER | WORK | {"called", "delayed", "corrected"},
    "inspector": LOOKS | ANSWERED | {"called"},
    "utility": LOOKS | ANSWERED | {"called", "delayed", "ticket_answered"},
    "customer": frozenset(),
}
"""Names of events by role of the site file. A release of one's own needs the second act as well."""
PLAN, MONEY, LINKS, EVERYBODYS, JOBS = "plan", "money", "links", "everybody's", "jobs"
"""To have the plan worked out, on and anew; to see what it costs; to send links; to see others' papers and calls; to
begin jobs, copy this one as a start, archive it and take that back."""
MAY_DO: Mapping[str, frozenset[str]] = {
    "general_contractor": frozenset({PLAN, MONEY, LINKS, EVERYBODYS, JOBS}),
    "project_manager": frozenset({PLAN, MONEY, EVERYBODYS}),
    "competent_person": frozenset({EVERYBODYS}),
    "trade": frozenset(),
    "inspector": frozenset(),
    "utility": frozenset(),
    "customer": frozenset(),
}
"""What a page offers beside writing something down."""
_AT_WORK = frozenset({"today", "record", "schedule", "inspections", "trench", "paper", "jobs"})
_OFFICE = _AT_WORK | {"delays", "critical-path", "conflicts"}
MAY_OPEN: Mapping[str, frozenset[str]] = {
    "general_contractor": _OFFICE | {"people"},
    "project_manager": _OFFICE,
    "competent_person": _AT_WORK,
    "trade": _AT_WORK | {"delays"},
    "inspector": _AT_WORK,
    "utility": _AT_WORK | {"delays"},
    "customer": frozenset({"today", "schedule", "inspections", "trench", "jobs"}),
}
"""Pages by the words that stand for them in the address; the site editor is nobody's on a served dashboard."""
OWN_CALLS = frozenset({"trade", "inspector", "utility"})
"""Roles that answer calls to themselves, and those of nobody else."""
SAYS_WHO: Mapping[str, str] = {
    "inspection_passed": "inspector",
    "inspection_passed_with_conditions": "inspector",
    "pass_stands": "inspector",
    "hold_released": "person",
    "trench_inspected": "who",
    "stop_work_lifted": "who",
}
"""What clears the way for work is written by nobody but the one who says it: the field that names them."""


def may(case: Case, person: Person, act: str, *, activity: str = "") -> bool:
    """Tell whether a person may do something: the name of an event, or one of what stands in `MAY_DO`.

    With an `activity`, whether they may say it of that work.
    """
    written = MAY_WRITE.get(person.role, frozenset())
    if activity and person.role == "trade":
        work = case.network.by_id.get(activity)
        if work is None or work.trade not in own_names(case, person):
            return False
    return act in written or act in MAY_DO.get(person.role, frozenset())


def own_names(case: Case, person: Person) -> frozenset[str]:
    """Return what the site file calls a person, their firm and its trades."""
    trades = [t for t in case.site.trades if t.contact == person.id or (person.of and t.name == person.of)]
    return frozenset({person.id, person.name, person.of, *(n for t in trades for n in (t.id, t.name))} - {""})


def refusal(case: Case, person: Person, happened: Event, *, second_act: bool = False) -> str:
    """Return why a person may not write an event, in a sentence that can be shown to them; empty: they may.

    `second_act` says that they have just confirmed this very entry with their own code.
    """
    if isinstance(happened, Refused):  # what they tried goes on record as refused
        tried = happened.who == person.id and happened.asked in MAY_WRITE.get(person.role, frozenset())
        return "" if tried else f"{person.name} may not write that down here."
    role, name = person.role.replace("_", " "), happened.name
    said = name.replace("_", " ")
    if name not in MAY_WRITE.get(person.role, frozenset()):
        return f"{person.name} ({role}) may not write down '{said}' here."
    field = SAYS_WHO.get(name)
    if field is not None and getattr(happened, field, None) != person.id:
        return f"Only whoever says '{said}' may write it down, signed in on their own device."
    if person.role == "trade" and not _own(case, person, happened):
        return f"{person.name} may write down the work of {person.of or 'their own firm'} only."
    if person.role == "utility" and name == "delayed" and getattr(happened, "who", "") not in own_names(case, person):
        return f"{person.name} may say of {person.of or 'their own firm'} only that it comes later."
    if name == "called" and person.role in OWN_CALLS and not _own_answer(case, person, happened):
        return f"{person.name} may answer for {person.of or 'their own firm'} only, yes or no."
    if isinstance(happened, HoldReleased) and not second_act:
        return "A release needs your own code as well."
    return ""


def _own_answer(case: Case, person: Person, happened: Event) -> bool:
    """Tell whether an answer to a call is a person's own: about a coming of their trade, authority or firm, by them."""
    own = own_names(case, person)
    theirs = {t.id for t in case.site.trades} & own
    theirs |= {i.id for i in case.site.inspections if i.authority in own}
    theirs |= {w.id for w in case.site.outside_work if w.by in own}
    by_them = getattr(happened, "person", "") in (person.id, person.name)
    return by_them and getattr(happened, "of", "") in theirs and getattr(happened, "answer", "") != "no_answer"


def _own(case: Case, person: Person, happened: Event) -> bool:
    """Tell whether what a trade's person reports is of their own work; what is about nobody's work is theirs to say."""
    own = own_names(case, person)
    body: BaseModel = happened
    about = list(getattr(body, "about", ()) or ()) if happened.name == "delayed" else []
    activity = getattr(body, "activity", None)
    about += [activity] if activity is not None else []
    if happened.name == "delayed" and getattr(body, "who", "") not in own:
        return False
    work = case.network.by_id
    return all(id_ in work and work[id_].trade in own for id_ in about)
