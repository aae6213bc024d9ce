"""Moments, spans and amounts as people say them."""

from __future__ import annotations

from datetime import date, datetime

from scheduler.plan import Plan


def moment(when: datetime) -> str:
    """Write a moment: `Tue 9 Mar, 10:30`."""
    return f"{when:%a} {when.day} {when:%b, %H:%M}"


def day(when: date) -> str:
    """Write a day: `Tuesday 9 March`."""
    return f"{when:%A} {when.day} {when:%B}"


def amount(value: float | None) -> str:
    """Write a number without needless digits."""
    return "-" if value is None else f"{value:,.1f}".removesuffix(".0")


def proof(plan: Plan) -> str:
    """Say how sure the finish is."""
    if plan.status == "optimal":
        return "Proved: no plan that keeps these rules finishes earlier."
    if plan.status == "infeasible":
        return "Proved: these rules cannot all be kept."
    if plan.finish_bound:
        return f"Not proved best. No plan can finish before {moment(plan.finish_bound)}."
    return "Not proved best."
