"""The next hours on site: who does what, who waits for what, and who is in whose way."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import combinations

from scheduler.situation.situation import Situation
from scheduler.situation.verdict import before_it
from scheduler.situation.work_states import WorkStands
from scheduler.spoken import time_of_day
from scheduler.units import format_station

HOURS = 2.0
LOOK_AHEAD_DAYS = 14


@dataclass(frozen=True, slots=True)
class NextJob:
    """What one party does first in the next hours, by the plan. Times are local to the site."""

    who: str
    start: datetime
    finish: datetime
    work: WorkStands
    waits: tuple[str, ...]
    """Why it may not begin or go on, a sentence each; empty where nothing on record keeps it."""
    more: int
    """How many more pieces of work the same party has in these hours."""


def next_hours(situation: Situation, hours: float = HOURS) -> tuple[NextJob, ...]:
    """Return what each party does in the next hours, who comes first first.

    Where nothing is planned in them, these are the first hours with work after them; empty when no work is left.
    """
    found = _planned(situation, situation.moment, hours)
    for days in range(LOOK_AHEAD_DAYS + 1):
        if found:
            break
        on = (situation.moment + timedelta(days=days)).date()
        starts = [h[0] for w in situation.on_day(on) if (h := situation.hours_on(w.id, on)) and w.kind.takes_time]
        ahead = [start for start in starts if start > situation.moment]
        if ahead:
            found = _planned(situation, min(ahead), hours)
    parties: dict[str, list[tuple[datetime, datetime, WorkStands]]] = {}
    for start, finish, work in found:
        parties.setdefault(work.doer or "Site", []).append((start, finish, work))
    return tuple(NextJob(who, *jobs[0], tuple(before_it(jobs[0][2])), len(jobs) - 1) for who, jobs in parties.items())


def _planned(situation: Situation, begin: datetime, hours: float) -> list[tuple[datetime, datetime, WorkStands]]:
    """Return the work that takes time and falls in so many hours from a moment on, in order of time."""
    found = []
    for work in situation.on_day(begin.date()):
        span = situation.hours_on(work.id, begin.date())
        if span and work.kind.takes_time and span[0] < begin + timedelta(hours=hours) and span[1] > begin:
            found.append((*span, work))
    return sorted(found, key=lambda job: (job[0], job[2].id))


def in_the_way(situation: Situation, jobs: Sequence[NextJob]) -> list[str]:
    """Say who is in whose way: two parties in one stretch at one time, and ways that open trench blocks now."""
    told = []
    for one, other in combinations(jobs, 2):
        a, b = one.work, other.work
        met = max(a.from_ft, b.from_ft), min(a.to_ft, b.to_ft)
        if a.alignment and a.alignment == b.alignment and met[0] < met[1] and _at_once(one, other):
            where = f"{format_station(met[0])} to {format_station(met[1])}"
            told.append(
                f"{one.who} and {other.who} are both at {where} from {time_of_day(max(one.start, other.start))}."
            )
    for reach in situation.site.reaches:
        parts = [p for p in situation.stretches if p.reach == reach.id]
        if reach.access is not None and any(situation.is_open(p.opening) for p in parts):
            told.append(f"Open trench lies across {reach.access.what}.")
    return told


def _at_once(one: NextJob, other: NextJob) -> bool:
    return one.start < other.finish and other.start < one.finish
