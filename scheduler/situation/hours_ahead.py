"""The next hours on site: who does what, who waits for what, and who is in whose way."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import combinations

from scheduler.language import in_words
from scheduler.network.setting import MACHINE
from scheduler.situation.situation import Situation
from scheduler.situation.verdict import before_it
from scheduler.situation.work_states import WorkStands
from scheduler.spoken import time_of_day
from scheduler.units import format_feet, format_station

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
    """Say who is in whose way: two parties in one stretch, machines' swing, ways that open trench blocks now."""
    told = [*_in_one_stretch(jobs), *_near_machines(situation, jobs)]
    for reach in situation.site.reaches:
        parts = [p for p in situation.stretches if p.reach == reach.id]
        if reach.access is not None and any(situation.is_open(p.opening) for p in parts):
            told.append(in_words("Open trench lies across {what}.", what=reach.access.what))
    return told


def _in_one_stretch(jobs: Sequence[NextJob]) -> Iterator[str]:
    for one, other in combinations(jobs, 2):
        a, b = one.work, other.work
        met = max(a.from_ft, b.from_ft), min(a.to_ft, b.to_ft)
        if a.alignment and a.alignment == b.alignment and met[0] < met[1] and _at_once(one, other):
            where = f"{format_station(met[0])}-{format_station(met[1])}"
            since = time_of_day(max(one.start, other.start))
            yield in_words(
                "{one} and {other} are both at {where} from {time}.",
                one=one.who, other=other.who, where=where, time=since,
            )  # fmt: skip


def _near_machines(situation: Situation, jobs: Sequence[NextJob]) -> Iterator[str]:
    """Say from where machines keep people in the next hours, who is to wait for that, and who is there all the same.

    What is reported begun and not finished is there now, whatever the plan has.
    """
    swing = format_feet(situation.site.limits.swing_ft)
    now = {w.id: w.doer or "Site" for w in situation.on_site_now}
    soon = {j.work.id: j for j in jobs}
    for work in [*(j.work for j in jobs), *(w for w in situation.on_site_now if w.id not in soon)]:
        near, job = _kept_away(situation, work.id), soon.get(work.id)
        if near is None:
            continue
        told = {"feet": swing, "where": f"{format_station(work.from_ft)}-{format_station(work.to_ft)}"}
        if job is not None:
            until = time_of_day(job.finish)
            yield in_words("Nobody within {feet} of the machine at {where} until {time}.", **told, time=until)
        else:  # it has overrun, or was begun out of turn
            yield in_words("Nobody within {feet} of the machine at {where} until it is reported finished.", **told)
        others = {j.who: j for j in jobs if j.work.id in near and j.who != (work.doer or "Site")}
        at_once = {who for id_, who in now.items() if id_ in near and work.id in now}
        at_once |= {who for who, other in others.items() if job is not None and _at_once(job, other)}
        for who in sorted(at_once):
            yield in_words("{who} is within its swing: keep out, or stop the machine.", who=who)
        for who in sorted(others.keys() - at_once):
            yield in_words("{who} waits until the machine is done there.", who=who)


def _kept_away(situation: Situation, machine: str) -> set[str] | None:
    """Return the work whose people a machine at work keeps away; None for work without one in anybody's room."""
    found: set[str] = set()
    rooms = [s.occupants for s in situation.network.spaces if (machine, MACHINE) in s.occupants]
    for room in rooms:
        found |= {id_ for id_, group in room if group != MACHINE}
    return found if rooms else None


def _at_once(one: NextJob, other: NextJob) -> bool:
    return one.start < other.finish and other.start < one.finish
