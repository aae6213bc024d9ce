"""What a plan that keeps every rule was compared with, counted in plain words, and what is nearest to a conflict."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from datetime import datetime

from scheduler.explain.families import FAMILIES
from scheduler.network.model import Network
from scheduler.plan import Plan, PlanActivity

GROUPS: Mapping[str, tuple[str, ...]] = {
    "orders of work in the trench and outside it": ("order", "outside order", "junction", "behind", "wait"),
    "tests, looks and hold points": ("hold", "whole test", "pass", "visit"),
    "people, machines and room in the trench": ("resource", "space"),
    "working hours and notice": ("hours", "notice"),
    "limits of open trench, ways over it and ends to leave open": (
        "open limit",
        "closed weeks",
        "season",
        "way",
        "keep open",
    ),
    "locate tickets, appointments and other dates": ("ticket", "date", "booking", "target"),
}
"""What rules are about, in the order in which it is told, with the kinds of rule (`families.KINDS`) in it."""


def compared(network: Network) -> dict[str, int]:
    """Return how many rules a plan of a network keeps, by what they are about."""
    kinds = Counter(told.kind for family in FAMILIES.values() for told in family.told(network))
    found = {words: sum(kinds[kind] for kind in group) for words, group in GROUPS.items()}
    return {words: number for words, number in found.items() if number}


def nearest_to_conflict(plan: Plan, since: datetime, most: int = 5) -> list[PlanActivity]:
    """Return the pieces of work to come with the least slack before a visit or a set date is missed, earliest first.

    `since` is the moment, aware, from which on work is to come. What moves the finish is not among it: that has a page
    of its own.
    """
    slack = [
        (a.total_float_minutes, a.start, a.id, a)
        for a in plan.activities
        if a.total_float_minutes is not None and a.work_minutes and not a.moves_finish and a.start >= since
    ]
    return [a for *_, a in sorted(slack, key=lambda found: found[:3])[:most]]
