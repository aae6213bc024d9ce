"""Margin in words: who has how much of it, and what a plan does when own work takes longer."""

from __future__ import annotations

from collections.abc import Mapping

from scheduler.plan import Plan
from scheduler.spoken import moment, working


def who_has_margin(plan: Plan, trades: Mapping[str, str]) -> str:
    """Say who has how much contingency, as a sentence; empty where nobody has any.

    `trades` holds their names by id: `Margin: site crew 6 h on 60 h of work (10 %), plumber 1 h 30 min on ...`.
    """
    shares = plan.margin.shares if plan.margin else []
    work: dict[str, tuple[int, int]] = {}
    for share in shares:
        plain, extra = work.get(share.trade, (0, 0))
        work[share.trade] = plain + share.work_minutes, extra + share.contingency_minutes
    told = [
        f"{trades.get(trade, trade) or 'work of no trade'} {working(extra)} on {working(plain)} of work "
        f"({extra / plain:.0%})".replace("%", " %")
        for trade, (plain, extra) in work.items()
        if extra
    ]
    return f"Margin: {', '.join(told)}." if told else ""


def margin_borne(plan: Plan, *, year: bool = False) -> str:
    """Say how much longer all own work may take in the plan's own order; empty where the plan does not know."""
    margin = plan.margin
    if margin is None or plan.finish is None:
        return ""
    kept = "Everybody keeping their turn,"
    if margin.borne_percent:
        first = f"{kept} all own work may take {margin.borne_percent} % longer than quantities give: the finish stands."
    else:
        first = f"{kept} the finish moves as soon as all own work takes longer than quantities give."
    if margin.borne_percent >= margin.longer_percent:
        return first
    later = margin.longer_finish
    ends = "no longer fits into the hours known" if later is None else f"is finished {moment(later, year=year)}"
    return f"{first} With {margin.longer_percent} % more time all {ends}."
