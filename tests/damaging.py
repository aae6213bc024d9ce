"""Schedules with other dates than they had, to break them on purpose."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from scheduler.network.model import Network
from scheduler.schedule import Schedule, Span

Damaged = tuple[Schedule, str]


def moved(schedule: Schedule, spans: Mapping[str, Span]) -> Schedule:
    """Return the schedule with other dates for some activities."""
    return replace(schedule, dates={**schedule.dates, **spans})


def span_from(network: Network, activity: str, start: int) -> Span:
    """Return the span of an activity from a start, by its calendar where that goes so far."""
    work = network.by_id[activity].work
    finish = network.calendar_of(activity).advance(start, work)
    return (start, start + work if finish is None else finish)


def start_at(network: Network, schedule: Schedule, starts: Mapping[str, int]) -> Schedule:
    """Return the schedule with other starts for some activities."""
    return moved(schedule, {a: span_from(network, a, tick) for a, tick in starts.items()})
