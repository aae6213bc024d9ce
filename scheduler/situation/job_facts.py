"""What the journal says of each activity at a moment: done, begun, or not begun."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from scheduler.ledger.day_events import TestFailed
from scheduler.ledger.events import InspectionFailed
from scheduler.ledger.hold_standing import HoldStatus
from scheduler.ledger.holds import hold_points, visits_for
from scheduler.ledger.moments import said
from scheduler.ledger.state import State
from scheduler.network.kind import Kind
from scheduler.network.model import Activity, LinkType, Network
from scheduler.site.site_record import Site
from scheduler.situation.done_again import open_again
from scheduler.situation.facts_records import (
    START_AFTER,
    Begun,
    DoneWork,
    Failed,
    JobFacts,
    rain_look_id,
    remaining_ticks,
    repair_id,
)


def facts_at(site: Site, network: Network, state: State, as_of: datetime) -> JobFacts:
    """Return what is known of a job at an aware moment."""
    facts = JobFacts(site, network, state, as_of)
    looks = {look for rule in network.visit_rules for look in rule.looks}
    _looks(facts, looks)
    for activity in network.activities:
        if activity.id not in looks:
            _work(facts, activity)
    _failed_tests(facts)
    open_again(facts)
    _unknown(facts, looks)
    _assume(facts)
    _milestones(facts)
    return facts


def _looks(facts: JobFacts, looks: set[str]) -> None:
    """Settle the looks by their holds: a pass or a release ends them, a failure or a lapse opens them again."""
    for point in hold_points(facts.site, facts.network, facts.state, facts.as_of):
        look, hold = point.hold.look, point.hold
        if point.status is HoldStatus.PASSED:
            facts.unreleased[hold.id] = point
        if look not in looks:
            continue
        length = timedelta(minutes=facts.network.by_id[look].work * facts.network.clock.tick_minutes)
        when = point.look.when if point.look and not isinstance(point.look, InspectionFailed) else None
        match point.status:
            case HoldStatus.PASSED | HoldStatus.RELEASED | HoldStatus.DOUBTFUL:
                at = when or (point.release.when if point.release else facts.as_of)
                facts.done[look] = DoneWork(at - length, at, f"It passed {said(facts.network.clock, at)}.")
            case HoldStatus.UNATTENDED:
                visit = min(v.booked.start for v in visits_for(facts.network, facts.state, hold))
                because = f"Notice was given for {said(facts.network.clock, visit)}, and nobody came."
                facts.done[look] = DoneWork(visit, visit + length, because)
            case HoldStatus.FAILED if isinstance(point.look, InspectionFailed):
                past = [e for e in facts.state.looks[look] if e.when <= facts.as_of and isinstance(e, InspectionFailed)]
                facts.failed[look] = Failed(look, len(past), point.look)
            case HoldStatus.LAPSED:
                facts.again[look] = "Its pass has lapsed, so it is looked at again."
            case HoldStatus.UNDONE:
                facts.again[look] = f"It was looked at, but then {point.because}, so it is looked at again."


def _work(facts: JobFacts, activity: Activity) -> None:
    """Settle one piece of work by what was reported of it and of the cover over it."""
    known, clock = facts.state.actual(activity.id), facts.network.clock
    start, finish = _past(facts, known.start), _past(facts, known.finish)
    if activity.kind.buries:
        finish = _covered(facts, activity, finish)
    if finish is not None:
        if start is not None and start > finish:
            facts.notes.append(
                f"{activity.name}: {START_AFTER} ({said(clock, start)}) lies after its finish; "
                "the finish is taken to hold."
            )
            start = None
        begin = start or _begin(facts, activity, finish)
        facts.done[activity.id] = DoneWork(begin, finish, f"It was reported finished {said(clock, finish)}.")
    elif start is not None and activity.work > 0:
        facts.begun[activity.id] = Begun(start, remaining_ticks(facts, activity, start))
    elif known.remaining_hours is not None and known.remaining_at is not None and known.remaining_at <= facts.as_of:
        facts.left[activity.id] = max(1, clock.ticks(hours=known.remaining_hours))


def _failed_tests(facts: JobFacts) -> None:
    """Settle the tests that failed and were not begun or finished since: they stand open again."""
    every = [n.entry.event for n in facts.state.counting if isinstance(n.entry.event, TestFailed)]
    for id_, known in facts.state.actuals.items():
        last = known.failed
        if last is None or last.when > facts.as_of or id_ not in facts.network.by_id or id_ in facts.begun:
            continue
        facts.done.pop(id_, None)
        facts.failed[id_] = Failed(id_, sum(e.activity == id_ for e in every), last)


def _past(facts: JobFacts, when: datetime | None) -> datetime | None:
    return when if when is not None and when <= facts.as_of else None


def _covered(facts: JobFacts, activity: Activity, finish: datetime | None) -> datetime | None:
    """Return since when a place lies covered, by its own report or one of cover; None where it was dug open since."""
    times = [finish] if finish else []
    for cover in facts.state.covers:
        deep = cover.layer is None or (activity.layer is not None and activity.layer <= cover.layer)
        if (cover.depth == "fill" or activity.kind is Kind.SHADE) and deep and _inside(cover, activity):
            times += [cover.when] if cover.when <= facts.as_of else []
    opened = [
        u.when
        for u in facts.state.uncovers
        if u.when <= facts.as_of and _inside(u, activity) and (u.depth == "shading" or activity.kind is not Kind.SHADE)
    ]
    return min((t for t in times if not any(u > t for u in opened)), default=None)


def _inside(stretch: object, activity: Activity) -> bool:
    alignment, first, last = (getattr(stretch, k) for k in ("alignment", "from_ft", "to_ft"))
    return bool(alignment == activity.alignment and first <= activity.from_ft and activity.to_ft <= last)


def _begin(facts: JobFacts, activity: Activity, finish: datetime) -> datetime:
    """Return when work that took as long as planned must have begun to be finished by a moment."""
    clock = facts.network.clock
    tick = facts.network.calendars[activity.calendar].retreat(clock.tick(finish), activity.work)
    by_hours = finish - timedelta(minutes=activity.work * clock.tick_minutes)
    return by_hours if tick is None else min(clock.when(tick), finish)


def _unknown(facts: JobFacts, looks: Iterable[str]) -> None:
    """Say what cannot be used: unknown ids, times still to come, and looks with no result."""
    seen = set(looks)
    passing = {repair_id(look, n) for look, tries in facts.state.looks.items() for n in range(1, len(tries) + 1)}
    passing |= {rain_look_id(r.id) for r in facts.site.reaches}
    for id_, known in facts.state.actuals.items():
        activity = facts.network.by_id.get(id_)
        if activity is None:
            if id_ not in passing:
                facts.notes.append(f"'{id_}' is reported on, but is no activity of this job; it is left aside.")
        elif id_ in seen and id_ not in facts.done:
            facts.notes.append(f"{activity.name}: no result is reported, so it still stands open.")
        elif any(t is not None and t > facts.as_of for t in (known.start, known.finish)):
            facts.notes.append(f"{activity.name}: a time after this moment is reported; it is left aside.")


def _assume(facts: JobFacts) -> None:
    """Take as done what must have come before what is done or begun, though nobody reported it.

    Looks, tests and what others do are never taken as done, whatever later work shows.
    """
    before: dict[str, list[str]] = {}
    for link in facts.network.links:
        if link.type is LinkType.FS and not link.at_most:
            before.setdefault(link.after, []).append(link.before)
    for behind in facts.network.kept_behind:
        before.setdefault(behind.after, []).append(behind.before)
    since: dict[str, datetime] = {a: d.start for a, d in facts.done.items()}
    since |= {a: b.start for a, b in facts.begun.items()}
    since |= {a: min(f.last.when, facts.as_of) for a, f in facts.failed.items()}
    waiting = sorted(since, key=lambda a: (since[a], a))
    unsaid: dict[str, None] = {}
    while waiting:
        after = waiting.pop()
        for id_ in before.get(after, ()):
            when = min(since[after], since.get(id_, since[after]))
            if when == since.get(id_):
                continue
            activity = facts.network.by_id[id_]
            if id_ not in facts.begun and (id_ not in facts.done or facts.done[id_].assumed):
                if not activity.kind.only_if_reported:
                    _assume_one(facts, activity, when)
                elif id_ not in facts.again and id_ not in facts.failed:
                    unsaid[id_] = None
            since[id_] = when
            waiting.append(id_)
    if unsaid:
        names = "; ".join(a.name for a in facts.network.activities if a.id in unsaid)
        facts.notes.append(
            "What follows has begun, but a test or a look counts only when somebody reports it, so these stand open: "
            f"{names}."
        )


def _assume_one(facts: JobFacts, activity: Activity, when: datetime) -> None:
    if activity.work > 0:
        begin = _begin(facts, activity, when)
        because = "It is taken as done, because what follows has begun."
        facts.done[activity.id] = DoneWork(begin, when, because, assumed=True)


def _milestones(facts: JobFacts) -> None:
    """Settle work of no length whose every predecessor is done."""
    before: dict[str, list[str]] = {}
    for link in facts.network.links:
        before.setdefault(link.after, []).append(link.before)
    grew = True
    while grew:
        grew = False
        for activity in facts.network.activities:
            needs = before.get(activity.id, ())
            if activity.work == 0 and activity.id not in facts.done and needs and all(n in facts.done for n in needs):
                at = max(facts.done[n].finish for n in needs)
                facts.done[activity.id] = DoneWork(at, at, "All it waits for is done.")
                grew = True
