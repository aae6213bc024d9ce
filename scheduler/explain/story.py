"""The story of one activity, told back to its start; and what stands against another start."""

from __future__ import annotations

from dataclasses import replace

from scheduler.audit import audit
from scheduler.explain.chain import ChainStep, chain_to
from scheduler.explain.driving import drivers
from scheduler.explain.floats import floats
from scheduler.findings import Finding
from scheduler.network.model import Network
from scheduler.schedule import Schedule
from scheduler.shared_visits import visits_of
from scheduler.spoken import working


def story(network: Network, schedule: Schedule, activity_id: str) -> list[str]:
    """Return the reasons for an activity's date, one short paragraph a step, back to where they begin."""
    steps = chain_to(network, schedule, activity_id)[::-1]
    reasons = drivers(network, schedule)
    lines = [_room(network, schedule, activity_id)]
    for step in steps:
        hours = [d.because for d in reasons[step.activity] if d.kind in ("closed", "window") and d != step.tie]
        name = network.by_id[step.activity].name
        lines.append(f"{name}, {_span(network, step)}. {' '.join([_tie(step), *hours])}")
    return lines


def _tie(step: ChainStep) -> str:
    """Return what ties a step to the one told next; a rule's own sentence says enough when there is one."""
    tie = step.tie
    if tie.kind not in ("logic", "hold") or not tie.rule or tie.since > step.start:
        return tie.because
    return tie.rule.rstrip(".") + "."


def _span(network: Network, step: ChainStep) -> str:
    return network.clock.spoken_span(step.start, step.finish)


def _room(network: Network, schedule: Schedule, activity_id: str) -> str:
    room = floats(network, schedule)[activity_id]
    name, finish = network.by_id[activity_id].name, network.clock.spoken(schedule.finish)
    if schedule.dates[activity_id][1] == schedule.finish:
        return f"{name} ends the job, {finish}. Here is why it is not sooner."
    if room.total == 0:
        return f"{name} has no room: if it slips, the finish ({finish}) or an inspector's visit slips with it."
    length = working(room.total * network.clock.tick_minutes)
    return f"{name} may slip {length} of its working time before the finish ({finish}) or a visit moves."


def why_not_earlier(network: Network, schedule: Schedule, activity_id: str, start: int) -> Finding | None:
    """Return the first rule that would break if one activity started at `start` [tick] and nothing else moved.

    None means that it could. An inspector's look leaves its visit for the one at its new time,
    or for a new visit when there is none.
    """
    activity = network.by_id[activity_id]
    finish = network.calendars[activity.calendar].advance(start, activity.work)
    if finish is None:
        finish = start + activity.work
    dates = {**schedule.dates, activity_id: (start, finish)}
    moved = replace(schedule, dates=dates, visits=visits_of(network, dates))
    known = set(audit(network, schedule))
    return next((f for f in audit(network, moved) if f not in known), None)
