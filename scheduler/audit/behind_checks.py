"""Checks of work that follows other work along a stretch: it keeps its distance at every moment."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from scheduler.audit.audit_facts import AuditCheck, AuditFacts, broken
from scheduler.findings import Finding, Severity
from scheduler.network.kept_behind import KeptBehind
from scheduler.units import format_feet

TOLERANCE_FT = 1e-3


def kept_behind(facts: AuditFacts) -> Iterator[Finding]:
    """What follows along a stretch is nowhere nearer than it may be, as long as what goes before is at work.

    Both go at an even pace while their hours are open, so that the distance is the least at a moment at which hours
    open or close, or where one of them starts or finishes.
    """
    for rule in facts.network.kept_behind:
        first, then = facts.spans.get(rule.before), facts.spans.get(rule.after)
        if first is None or then is None or then[0] >= first[1]:
            continue
        for moment in _moments(facts, rule, then[0], first[1]):
            ahead = _reached(facts, rule.before, rule.before_from_ft, rule.length_ft, moment)
            behind = _reached(facts, rule.after, rule.after_from_ft, rule.length_ft, moment)
            if ahead - behind < rule.apart_ft - TOLERANCE_FT:
                yield _too_near(facts, rule, moment, max(0.0, ahead - behind))
                break


def _moments(facts: AuditFacts, rule: KeptBehind, begin: int, end: int) -> list[int]:
    moments = {begin, end}
    for activity in (rule.before, rule.after):
        for opens, closes in facts.network.calendar_of(activity).windows_from(begin):
            if opens >= end:
                break
            moments |= {t for t in (opens, closes) if begin < t < end}
    return sorted(moments)


def _reached(facts: AuditFacts, activity: str, done_ft: float, length_ft: float, moment: int) -> float:
    """Return the feet of a stretch that are done at a moment."""
    start, finish = facts.spans[activity]
    work = facts.network.by_id[activity].work
    if moment >= finish or work <= 0:
        return length_ft if moment >= finish else done_ft
    worked = facts.network.calendar_of(activity).open_ticks(start, moment) if moment > start else 0
    return done_ft + (length_ft - done_ft) * min(1.0, worked / work)


def _too_near(facts: AuditFacts, rule: KeptBehind, moment: int, apart_ft: float) -> Finding:
    return broken(
        rule.id,
        facts.place(rule.after),
        f"{facts.name(rule.after)} comes too near to {facts.name(rule.before)}, which is still at work ahead of it.",
        found=f"{format_feet(apart_ft)} behind, {facts.when(moment)}",
        required=f"at least {format_feet(rule.apart_ft)} behind",
        because=rule.because,
        source=rule.source,
        remedy="Let it start later, or when the other is done.",
        severity=Severity.STOP,
    )


CHECKS: Mapping[str, tuple[AuditCheck, ...]] = {"kept_behind": (kept_behind,)}
"""By field of the network."""
