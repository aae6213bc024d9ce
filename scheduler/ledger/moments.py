"""Moments as people on site say them, and real time that passes between them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from scheduler.spoken import moment
from scheduler.worktime.clock import Clock


def said(clock: Clock, when: datetime) -> str:
    """Return a moment as people on this site say it: `Tue 9 Mar 10:30`."""
    return moment(when.astimezone(clock.when(0).tzinfo))


def elapsed(since: datetime, length: timedelta) -> datetime:
    """Return the instant a length of real time after another, also where clocks are put forward between them."""
    return since.astimezone(UTC) + length
