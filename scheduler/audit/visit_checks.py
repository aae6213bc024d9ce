"""Checks of inspectors' visits: each look in exactly one, in one window, within what one visit can see."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping

from scheduler.audit.audit_facts import AuditCheck, AuditFacts, broken
from scheduler.findings import Finding
from scheduler.network.model import VisitRule
from scheduler.schedule import Visit
from scheduler.units import format_feet
from scheduler.worktime.calendar import Window

FEET_TOLERANCE = 1e-6


def looks(facts: AuditFacts) -> Iterator[Finding]:
    """Every look is made in exactly one visit of its own rule."""
    seen = Counter((visit.rule, look) for visit in facts.schedule.visits for look in visit.looks)
    for rule in facts.network.visit_rules:
        for look in rule.looks:
            times = seen[rule.id, look]
            if times != 1:
                yield _visit_broken(
                    rule,
                    facts.place(look),
                    f"{facts.name(look)} is in {f'{times} visits' if times else 'no visit'} of {rule.authority}.",
                    found=f"{times} visits",
                    required="exactly one visit",
                    remedy="Put it in one visit.",
                )


def visits(facts: AuditFacts) -> Iterator[Finding]:
    """Every visit lies in one window of its rule, is the only one there, and sees no more than it can."""
    rules = {r.id: r for r in facts.network.visit_rules}
    ids = Counter(v.id for v in facts.schedule.visits)
    taken: dict[tuple[str, Window], Visit] = {}
    for visit in facts.schedule.visits:
        rule = rules.get(visit.rule)
        if rule is None or ids[visit.id] > 1:
            yield _unknown(visit, known=rule is not None)
        if rule is None:
            continue
        window = facts.network.calendars[rule.calendar].window_at(visit.start)
        if window is None or not visit.start <= visit.finish <= window[1]:
            yield _outside(facts, rule, visit)
        elif (rule.id, window) in taken:
            yield _second(facts, rule, visit, taken[rule.id, window], window)
        else:
            taken[rule.id, window] = visit
        yield from _contents(facts, rule, visit)
        yield from _caps(facts, rule, visit)


def _visit_broken(rule: VisitRule, where: str, text: str, *, found: str, required: str, remedy: str) -> Finding:
    return broken(
        rule.id,
        where,
        text,
        found=found,
        required=required,
        because=rule.because,
        source=rule.source,
        remedy=remedy,
    )


def _unknown(visit: Visit, *, known: bool) -> Finding:
    return broken(
        f"unknown/{visit.id}",
        visit.id,
        f'Visit "{visit.id}" ' + ("has the same id as another visit." if known else "is of no inspection of this job."),
        found=f'inspection "{visit.rule}"',
        required="one visit to an id, of one of this job's inspections",
        remedy="Remove it, or fix it.",
    )


def _outside(facts: AuditFacts, rule: VisitRule, visit: Visit) -> Finding:
    opens = facts.network.calendars[rule.calendar].next_open(visit.start)
    after = f", next from {facts.when(opens)}" if opens is not None else ""
    return _visit_broken(
        rule,
        rule.name,
        f'The visit "{rule.name}" is outside the hours in which {rule.authority} comes.',
        found=facts.span((visit.start, visit.finish)),
        required=f"inside one stretch of {facts.calendar_name(rule.calendar)}{after}",
        remedy="Book it inside those hours.",
    )


def _second(facts: AuditFacts, rule: VisitRule, visit: Visit, first: Visit, window: Window) -> Finding:
    return _visit_broken(
        rule,
        rule.name,
        f'{rule.authority} makes two visits "{rule.name}" where one is meant.',
        found=f"from {facts.when(first.start)} and from {facts.when(visit.start)}",
        required=f"one visit in {facts.span(window)}",
        remedy="Join the two.",
    )


def _contents(facts: AuditFacts, rule: VisitRule, visit: Visit) -> Iterator[Finding]:
    """The looks of a visit are its rule's, and lie inside it."""
    own = set(rule.looks)
    if not visit.looks:
        yield _visit_broken(
            rule,
            rule.name,
            f'The visit "{rule.name}" has nothing to look at.',
            found="no look",
            required="at least one look",
            remedy="Cancel it.",
        )
    for look in visit.looks:
        span = facts.spans.get(look)
        if look not in own:
            yield _visit_broken(
                rule,
                facts.place(look),
                f'{facts.name(look)} is not for the visit "{rule.name}" of {rule.authority}.',
                found="in this visit",
                required="in a visit of its own inspection",
                remedy="Move it to the right visit.",
            )
        elif span is not None and not visit.start <= span[0] <= span[1] <= visit.finish:
            yield _visit_broken(
                rule,
                facts.place(look),
                f"{facts.name(look)} is not made while {rule.authority} is on site.",
                found=facts.span(span),
                required=f"within the visit, {facts.span((visit.start, visit.finish))}",
                remedy="Move the look into the visit, or the visit to the look.",
            )


def _caps(facts: AuditFacts, rule: VisitRule, visit: Visit) -> Iterator[Finding]:
    """One visit sees no more looks, and no more feet, than it can."""
    feet = sum(rule.look_ft.get(look, 0.0) for look in visit.looks)
    day = facts.when(visit.start)
    if rule.max_looks is not None and len(visit.looks) > rule.max_looks:
        yield _visit_broken(
            rule,
            rule.name,
            f'The visit "{rule.name}" on {day} has more looks than {rule.authority} can make.',
            found=f"{len(visit.looks)} looks",
            required=f"{rule.max_looks} at most",
            remedy="Spread them over more visits.",
        )
    if rule.max_ft is not None and feet > rule.max_ft + FEET_TOLERANCE:
        yield _visit_broken(
            rule,
            rule.name,
            f'The visit "{rule.name}" on {day} covers more trench than {rule.authority} can see.',
            found=format_feet(feet),
            required=f"{format_feet(rule.max_ft)} at most",
            remedy="Spread it over more visits.",
        )


CHECKS: Mapping[str, tuple[AuditCheck, ...]] = {
    "visit_rules": (looks, visits),
}
"""By field of the network."""
