"""How much a piece of work may slip, in words: the same on every page, paper and calendar."""

from __future__ import annotations

from scheduler.plan import PlanActivity
from scheduler.spoken import working

TIGHT_MINUTES = 8 * 60
"""Slack below a working day is worth a word on every line; more is told where somebody asks."""


def slack_said(activity: PlanActivity) -> str:
    """Return how much an activity may slip, as a sentence; empty where the plan does not know.

    That the finish slips is said only where it does as soon as the activity starts later, everybody's turn kept.
    """
    minutes = activity.total_float_minutes
    if minutes is None:
        return ""
    if activity.moves_finish:
        return "No slack: if this slips, the finish slips."
    if minutes <= 0:
        return "No slack: if this slips, a visit or a set date is missed."
    return f"{working(minutes)} of slack."


def slack_in_short(activity: PlanActivity) -> str:
    """Return the same in few words for a line of a list: `moves the finish`, `no slack`, `2 h of slack`."""
    if activity.moves_finish:
        return "moves the finish"
    minutes = activity.total_float_minutes
    return "" if minutes is None else f"{working(minutes)} of slack" if minutes > 0 else "no slack"


def has_little_slack(activity: PlanActivity) -> bool:
    """Return whether an activity may slip by less than a working day."""
    minutes = activity.total_float_minutes
    return minutes is not None and minutes < TIGHT_MINUTES
