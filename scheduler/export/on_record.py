"""What papers say of the record beside the plan: what is done or begun, what is due and missing, what stops work."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from scheduler.export.paper_facts import PaperFacts
from scheduler.ledger.events import InspectionFailed
from scheduler.ledger.hold_standing import HoldStatus
from scheduler.ledger.holds import HoldPoint
from scheduler.plan import PlanHold
from scheduler.situation.verdict import before_it, in_this_order
from scheduler.situation.work_states import WorkStands, WorkState
from scheduler.spoken import moment

MARKS = {
    WorkState.DONE: "Done",
    WorkState.TAKEN: "Taken as done",
    WorkState.FAILED: "FAILED",
    WorkState.AGAIN: "To do again",
    WorkState.BLOCKED: "BLOCKED",
    WorkState.UNREPORTED: "Not on record",
    WorkState.BEGUN: "Begun",
}
"""One or two words for how work stands by the record; what is merely planned has none."""
GRAVEST = (WorkState.FAILED, WorkState.BLOCKED, WorkState.AGAIN, WorkState.UNREPORTED)
DONE = tuple(MARKS[s] for s in (WorkState.DONE, WorkState.TAKEN))


def mark_of(stands: WorkStands | None) -> str:
    """Return the word for how work stands by the record; empty where it is planned, or no journal is kept."""
    if stands is None:
        return ""
    if stands.blocked_by and not stands.over and stands.state is not WorkState.FAILED:
        return MARKS[WorkState.BLOCKED]
    return MARKS.get(stands.state, "")


def mark_of_all(stands: Iterable[WorkStands]) -> str:
    """Return one word for the looks of a visit together: done when all are, else that of the one that is worst off."""
    marks = {mark_of(s) for s in stands}
    if marks and marks <= set(DONE):
        return DONE[0]
    gravest = (MARKS[s] for s in GRAVEST)
    return next((m for m in gravest if m in marks), "")


def stops_of(facts: PaperFacts, activity: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return why a piece of work may not begin or go on now, and what must be released before its planned time.

    Each is a sentence that begins with a word to shout. The first begin BLOCKED or FAILED and are said before
    anything else; the second begin HOLD POINT or WITNESS POINT. Both are empty for what is done.
    """
    stands = facts.stands(activity)
    if stands is None:
        return (), tuple(stop_sentence(facts, hold) for hold in facts.waits_for.get(activity, ()))
    if stands.over:
        return (), ()
    now = {b.ref for b in stands.blocked_by if b.kind == "hold"}
    own = {p.hold.id: stop_sentence(facts, _hold(facts, p)) for p in stands.holds}
    first = []
    if stands.state is WorkState.FAILED:
        first.append(f"FAILED: {stands.because.removeprefix('Failed ').rstrip('. ')}. {in_this_order(stands)}")
    first += [f"BLOCKED, {own[h]}" for h in own if h in now]
    first += [f"BLOCKED: {b.because}" for b in stands.blocked_by if not (b.kind == "hold" and b.ref in own)]
    return tuple(dict.fromkeys(first)), tuple(own[h] for h in own if h not in now)


def visit_stops(looks: Iterable[WorkStands]) -> tuple[str, ...]:
    """Return why the looks of a visit cannot be made now, each a sentence that begins FAILED or BLOCKED."""
    left = [s for s in looks if not s.over]
    failed = [f"FAILED: {s.name}. {in_this_order(s)}" for s in left if s.state is WorkState.FAILED]
    return tuple(dict.fromkeys([*failed, *(f"BLOCKED: {b}" for s in left for b in before_it(s))]))


def stop_sentence(facts: PaperFacts, hold: PlanHold) -> str:
    """Say what a hold or witness point asks before work goes on, how it stands by the record, and what is planned."""
    stands = hold_said(facts, hold.id)
    record = f" By the record: {stands}." if stands else ""
    release = facts.local(hold.planned_release) if hold.planned_release else None
    when = "Was planned for" if release and facts.now and release <= facts.now else "Planned"
    planned = f" {when} {moment(release)}." if release else ""
    if hold.kind == "witness":
        return (
            f"WITNESS POINT: {facts.hold_name(hold)}. Go on when {facts.releases(hold)} has seen it, "
            f"or once the time agreed has passed.{record}{planned}"
        )
    return f"HOLD POINT: {facts.hold_name(hold)}. Only after {facts.releases(hold)} releases it.{record}{planned}"


def _hold(facts: PaperFacts, point: HoldPoint) -> PlanHold:
    """Return a hold point as the plan has it; one that the plan does not know is taken from the site."""
    hold = point.hold
    return facts.holds.get(hold.id) or PlanHold(
        id=hold.id, kind=hold.kind, name=hold.name, released_by=hold.released_by, gates=list(hold.gates)
    )


def hold_said(facts: PaperFacts, hold: str) -> str:
    """Say how a hold point stands by the record, without an end; nothing where no journal is kept."""
    point = facts.point(hold)
    if point is None:
        return ""
    if point.status is HoldStatus.RELEASED and point.release is not None:
        return f"released by {facts.person(point.release.person)} {moment(facts.local(point.release.when))}"
    if point.status is HoldStatus.FAILED and isinstance(point.look, InspectionFailed):
        return f"failed {moment(facts.local(point.look.when))}: {point.look.faults.rstrip('. ')}"
    if point.status is HoldStatus.PASSED and point.look is not None:
        return f"passed {moment(facts.local(point.look.when))}, not released"
    tail = f": {point.because.rstrip('. ')}" if point.because else ""
    return f"{point.status.value}{tail}"


def recorded_said(facts: PaperFacts, activity: str) -> list[str]:
    """Say what is on record of a piece of work, and what is missing, a sentence each; nothing without a journal."""
    stands = facts.stands(activity)
    if stands is None:
        return []
    if stands.state is WorkState.TAKEN:
        return ["Not on record; taken as done, because what follows has begun. Report it if that is wrong."]
    if stands.state is WorkState.DONE:
        found = [f"Recorded done {moment(stands.finished)}."] if stands.finished else [f"{stands.because}"]
        held = [h for h in facts.waits_for.get(activity, ()) if (p := facts.point(h.id)) is not None and p.clear]
        return found + [f"{facts.hold_name(h)}: {hold_said(facts, h.id)}." for h in held]
    found = [f"Begun {moment(stands.started)}."] if stands.started else []
    found += [f"To be done again: {_again(stands)}"] if stands.state is WorkState.AGAIN else []
    late = late_said(stands, facts.now)
    found += [f"{late[0].upper()}{late[1:]}."] if late else []
    return found + [f"{facts.hold_name(h)}: {hold_said(facts, h.id)}." for h in _cleared(facts, activity)]


def _again(stands: WorkStands) -> str:
    """Say why work is done again, without what stops it just now, which is said before."""
    return stands.because.removesuffix(" ".join(b.because for b in stands.blocked_by)).strip()


def _cleared(facts: PaperFacts, activity: str) -> list[PlanHold]:
    points = ((h, facts.point(h.id)) for h in facts.waits_for.get(activity, ()))
    return [h for h, point in points if point is not None and point.clear]


def late_said(stands: WorkStands, now: datetime | None) -> str:
    """Say what should be on record by now and is not: `due Wed 3 Mar 11:30, not on record`; else nothing."""
    if stands.planned is None or now is None or stands.over or stands.state in (WorkState.FAILED, WorkState.AGAIN):
        return ""
    start, finish = stands.planned
    if stands.overdue and finish <= now:
        return f"due {moment(finish)}, not on record" + (" as finished" if stands.started else "")
    if stands.started is None and (stands.overdue or stands.state is WorkState.UNREPORTED):
        return f"due to start {moment(start)}, not on record"
    return ""


def look_said(facts: PaperFacts, stands: WorkStands) -> str:
    """Say in a few words how a look stands by the record; nothing while it is merely planned."""
    if stands.state is WorkState.DONE and stands.finished:
        return f"passed {moment(stands.finished)}"
    if stands.state is WorkState.TAKEN:
        return "not on record, taken as done"
    if stands.state is WorkState.FAILED:
        return stands.because[:1].lower() + stands.because[1:].rstrip(". ")
    if stands.state is WorkState.AGAIN:
        return "to be looked at again"
    return late_said(stands, facts.now)


def to_do_since(stands: WorkStands, now: datetime | None) -> datetime | None:
    """Return since when work is left over: its planned time is past, or it was to begin on an earlier day.

    None while it is in time, and for what is done.
    """
    if stands.planned is None or now is None or stands.over:
        return None
    start, finish = stands.planned
    if stands.state in (WorkState.FAILED, WorkState.AGAIN) or stands.overdue:
        at = finish if finish <= now else start
        return at if at <= now else None
    return None


def shown_on(facts: PaperFacts, first: date, last: date) -> date | None:
    """Return the day of some days on which left-over work is shown: today, or the first of days that are to come.

    None without a journal, and when all the days are past.
    """
    if facts.now is None or last < facts.now.date():
        return None
    return max(first, facts.now.date())
