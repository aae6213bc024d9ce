"""Moments, spans, numbers and proof as people say them, on screens and on paper."""

from __future__ import annotations

from datetime import date, datetime

from scheduler.plan import Plan


def moment(when: datetime) -> str:
    """Write a moment: `Tue 9 Mar, 10:30`."""
    return f"{short_day(when)}, {when:%H:%M}"


def short_day(when: date) -> str:
    """Write a day in little room: `Tue 9 Mar`."""
    return f"{when:%a} {when.day} {when:%b}"


def day(when: date) -> str:
    """Write a day: `Tuesday 9 March`."""
    return f"{when:%A} {when.day} {when:%B}"


def from_to(start: datetime, finish: datetime) -> str:
    """Write a stretch of time, the day once when it ends on the day it begins."""
    if start.date() == finish.date():
        return f"{short_day(start)}, {start:%H:%M}-{finish:%H:%M}"
    return f"{moment(start)} to {moment(finish)}"


def count(number: int, one: str, many: str = "") -> str:
    """Write a number of things: `1 look`, `3 looks`."""
    return f"{number} {one if number == 1 else many or one + 's'}"


def is_best(plan: Plan) -> bool:
    """Whether no plan can finish earlier, by proof."""
    return plan.status == "optimal" and (plan.finish_bound is None or plan.finish == plan.finish_bound)


def proof(plan: Plan) -> str:
    """Say how sure the finish is."""
    if is_best(plan):
        return "Proved: no plan that keeps these rules finishes earlier."
    if plan.status == "optimal" and plan.finish_bound:
        return f"Proved: {moment(plan.finish_bound)} is the earliest finish; this plan gives some of that up."
    if plan.status == "infeasible":
        return "Proved: these rules cannot all be kept."
    said = "Stopped before it was proved best." if plan.status == "stopped" else "Not proved best."
    return f"{said} No plan can finish before {moment(plan.finish_bound)}." if plan.finish_bound else said
