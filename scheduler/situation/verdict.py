"""What a situation comes to, in the words that pages, papers and the command line share."""

from __future__ import annotations

from scheduler.situation.situation import Situation
from scheduler.situation.work_states import Blocker, WorkStands, WorkState
from scheduler.spoken import count, day_and_time, length, moment
from scheduler.units import format_station

PROPOSAL = "No plan is in force yet: what is shown is a proposal, not agreed."


def verdict(situation: Situation) -> str:
    """Say whether the plan in force still holds, and the finish that is to be expected, in one or two sentences."""
    plan = situation.plan
    if plan is None:
        return "No plan is in force."
    if plan.finish is None:
        return "There is no plan with dates."
    planned = day_and_time(plan.finish)
    if situation.proposed:
        return as_proposed(situation)
    if situation.holds_still:
        return f"The plan holds. Will finish {planned}."
    return f"The plan no longer holds. {expected(situation)}"


def as_proposed(situation: Situation) -> str:
    """Say that the plan shown is only proposed, and whether it still fits what is on record."""
    plan = situation.plan
    assert plan is not None
    assert plan.finish is not None
    if situation.holds_still:
        return f"{PROPOSAL} It would finish {day_and_time(plan.finish)}."
    return f"{PROPOSAL} What is on record is not in it: plan again from that first."


def expected(situation: Situation) -> str:
    """Say which finish the rest of the plan would still give if its order of work is kept."""
    plan = situation.plan
    assert plan is not None
    assert plan.finish is not None
    if situation.earliest_finish is None:
        return "Kept in its order, the work no longer fits into the hours known: plan again."
    later = situation.later_minutes or 0
    if later <= 0:
        return f"Kept in its order, the work may still finish {day_and_time(plan.finish)}; nothing proves it."
    when = day_and_time(situation.earliest_finish)
    return f"Kept in its order, the work finishes not before {when}, {length(later)} later than planned."


def expected_briefly(situation: Situation) -> str:
    """Say the same in a few words, for the head of a small screen."""
    plan = situation.plan
    assert plan is not None
    assert plan.finish is not None
    if situation.earliest_finish is None:
        return "The work no longer fits: plan again."
    later = situation.later_minutes or 0
    if later <= 0:
        return f"May still finish {moment(plan.finish)}."
    return f"Will finish {moment(situation.earliest_finish)} at the earliest, {length(later)} late."


def why_not(situation: Situation, most: int = 3) -> list[str]:
    """Return why the plan no longer holds, a sentence each, and how many more there are.

    What is merely missing from the record comes last, in one sentence.
    """
    missing = [b for b in situation.breaches if b.kind == "not reported"]
    told = list(dict.fromkeys(b.because for b in situation.breaches if b.kind != "not reported"))
    told = told[:most] + ([f"And {count(len(told) - most, 'more reason')}."] if len(told) > most else [])
    if len(missing) == 1:
        told.append(missing[0].because)
    elif missing:
        first = situation.work[missing[0].ref].name
        told.append(f"{len(missing)} tasks should be on record by now and are not, the first {first}.")
    return told


def held_up(situation: Situation) -> list[str]:
    """Return what keeps work from going on and how much waits for it, a sentence or two each.

    What is merely missing from the record is no part of it.
    """
    found: dict[tuple[str, str], tuple[Blocker, list[WorkStands]]] = {}
    for stands in situation.work.values():
        for blocker in stands.blocked_by:
            if blocker.kind != "late":
                found.setdefault((blocker.kind, blocker.ref), (blocker, []))[1].append(stands)
    told = []
    for blocker, kept in found.values():
        first = situation.work.get(blocker.ref) if blocker.kind == "failed" else None
        again = first is not None and first.state is WorkState.AGAIN
        cause = blocker.because if first is None else f"{first.name} {'is to be done again' if again else 'failed'}."
        wait = "wait" if len(kept) > 1 else "waits"
        told.append(f"{cause} {count(len(kept), 'task')} {wait} for that, first {kept[0].name}.")
    return told


def before_it(stands: WorkStands) -> list[str]:
    """Return what must be so before a piece of work may begin or go on, a sentence each; empty when nothing is missing.

    Whatever shows a piece of work that is still to be done shows these beside it.
    """
    told = [b.because for b in stands.blocked_by]
    held = {b.ref for b in stands.blocked_by if b.kind == "hold"}
    for point in stands.holds:
        if point.hold.id not in held:
            told.append(f"Only after {point.hold.name} is released: {point.status.value}.")
    return list(dict.fromkeys(told))


def in_this_order(stands: WorkStands) -> str:
    """Say what is still to be done of mending, testing and looking again, in a sentence; empty where nothing is."""
    return f"In this order: {'; '.join(stands.steps)}." if stands.steps else ""


def before_anybody_enters(situation: Situation) -> list[str]:
    """Return the open stretches that the competent person must find safe first, a sentence each.

    Source: 29 CFR 1926.651(k)(1).
    """
    names = {a.id: a.name for a in situation.site.alignments}
    return [
        f"{names.get(d.alignment, d.alignment)} {format_station(d.from_ft)} to {format_station(d.to_ft)}: {d.because}"
        for d in situation.to_inspect
    ]


def to_make_good(situation: Situation) -> list[str]:
    """Return what failed, and what must be tested or looked at again for that, a sentence or two each."""
    states = (WorkState.FAILED, WorkState.AGAIN)
    found = (w for w in situation.work.values() if w.state in states)
    return [f"{w.name} ({w.doer or 'site'}): {w.because.rstrip('. ')}. {in_this_order(w)}".rstrip() for w in found]
