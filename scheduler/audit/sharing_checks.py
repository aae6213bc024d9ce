"""Checks of what is shared: crews and machines, room in the trench, and how much stands open."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import groupby

from scheduler.audit.audit_facts import AuditCheck, AuditFacts, broken, few
from scheduler.findings import Finding, Severity
from scheduler.network.model import Space
from scheduler.units import format_counted


@dataclass(frozen=True, slots=True)
class TimedUse:
    """An amount of something shared that `user` takes during [start, finish)."""

    user: str
    start: int
    finish: int
    amount: int


@dataclass(slots=True)
class Overload:
    """A stretch of time in which more was taken than there is."""

    start: int
    finish: int = 0
    peak: int = 0
    users: dict[str, None] = field(default_factory=dict)


def overloads(claims: Iterable[TimedUse], capacity: int) -> Iterator[Overload]:
    """Yield each unbroken stretch of time in which the claims together exceed the capacity."""
    events = [(c.start, 1, c) for c in claims if c.start < c.finish]
    events += [(c.finish, -1, c) for _, _, c in events]
    events.sort(key=lambda e: e[0])
    active: dict[TimedUse, None] = {}
    usage, over = 0, None
    for tick, group in groupby(events, key=lambda e: e[0]):
        fresh: list[TimedUse] = []
        for _, sign, claim in group:
            usage += sign * claim.amount
            if sign > 0:
                active[claim] = None
                fresh.append(claim)
            else:
                active.pop(claim, None)
        if usage > capacity:
            if over is None:
                over = Overload(tick)
                fresh = list(active)
            over.peak = max(over.peak, usage)
            over.users.update((c.user, None) for c in fresh)
        elif over is not None:
            over.finish = tick
            yield over
            over = None


def resources(facts: AuditFacts) -> Iterator[Finding]:
    """No crew, machine or inspector is in more places at once than there are of them."""
    claims: dict[str, list[TimedUse]] = {}
    for activity_id, (start, finish) in facts.spans.items():
        for resource_id, units in facts.network.by_id[activity_id].needs:
            claims.setdefault(resource_id, []).append(TimedUse(activity_id, start, finish, units))
    for resource in facts.network.resources:
        for over in overloads(claims.get(resource.id, ()), resource.capacity):
            yield broken(
                resource.id,
                resource.name,
                f'"{resource.name}" is needed in too many places at once, by {facts.names(over.users)}.',
                found=f"{over.peak} at once, {facts.span((over.start, over.finish))}",
                required=f"{resource.capacity} at most",
                because=resource.because,
                source=resource.source,
                remedy=f"Let one of them wait, or bring in one more {resource.kind}.",
            )


def spaces(facts: AuditFacts) -> Iterator[Finding]:
    """No two different groups are in one reach at once."""
    for space in facts.network.spaces:
        yield from _space(facts, space)


def _space(facts: AuditFacts, space: Space) -> Iterator[Finding]:
    """Sweep the arrivals in a space; each arrival among others is one finding."""
    arrivals = sorted(
        (*span, group, activity_id)
        for activity_id, group in space.occupants
        if (span := facts.spans.get(activity_id)) is not None and span[0] < span[1]
    )
    present: list[tuple[int, str, str]] = []
    for start, finish, group, activity_id in arrivals:
        present = [p for p in present if p[0] > start]
        others = [p for p in present if p[1] != group and p[2] != activity_id]
        present.append((finish, group, activity_id))
        if others:
            until = min(finish, max(p[0] for p in others))
            machine = "machine" in {group, *(p[1] for p in others)}
            where = f"in {space.reach}" if space.reach else f"at {space.where or space.id}"
            swing = ", with a machine at work there." if space.reach else ", within the machine's swing."
            yield broken(
                space.id,
                space.reach or space.where or space.id,
                f"{facts.name(activity_id)} and {facts.names(p[2] for p in others)} are {where} at once"
                + (swing if machine else "."),
                found=facts.span((start, until)),
                required="one after the other",
                because=space.because,
                source=space.source,
                remedy="Let one of them wait until the other is done.",
                severity=Severity.STOP if machine else Severity.FIX,
            )


def open_limits(facts: AuditFacts) -> Iterator[Finding]:
    """No more trench stands open at any moment than is allowed."""
    openings = {o.id: o for o in facts.network.openings}
    for limit in facts.network.open_limits:
        claims = []
        for opening_id, amount in limit.amounts:
            opening = openings[opening_id]
            opened, closed = facts.spans.get(opening.opens), facts.spans.get(opening.closes)
            if opened is not None and closed is not None:
                claims.append(TimedUse(opening_id, opened[0], closed[1], amount))
        for over in overloads(claims, limit.capacity):
            reaches = list(dict.fromkeys(openings[o].reach for o in over.users))
            yield broken(
                limit.id,
                few(reaches),
                "Too much trench stands open at once.",
                found=f"{format_counted(over.peak, limit.unit)}, {facts.span((over.start, over.finish))}",
                required=f"{format_counted(limit.capacity, limit.unit)} at most",
                because=limit.because,
                source=limit.source,
                remedy="Close a stretch before the next one is dug.",
            )


def kept_shut(facts: AuditFacts) -> Iterator[Finding]:
    """No stretch of trench stands open at a time at which it may not."""
    for shut in facts.network.kept_shut:
        already = facts.network.by_id[shut.opens].happened
        if already and (not shut.covers or facts.network.by_id[shut.covers].happened):
            continue
        opened, closed = facts.spans.get(shut.covers if already else shut.opens), facts.spans.get(shut.closes)
        if opened is None or closed is None:
            continue
        for begins, ends in facts.network.calendars[shut.times].windows_from(opened[0]):
            if begins < closed[1]:
                over = facts.span((max(begins, opened[0]), min(ends, closed[1])))
                yield broken(
                    shut.id,
                    facts.place(shut.closes),
                    "Trench stands open when it may not.",
                    found=f"{'half filled' if already else 'open'} {over}",
                    required=f"filled by {facts.when(begins)}, or begun {facts.when(ends)} or later",
                    because=shut.because,
                    source=shut.source,
                    remedy="Fill it before, or begin it after.",
                )
            break


CHECKS: Mapping[str, tuple[AuditCheck, ...]] = {
    "resources": (resources,),
    "spaces": (spaces,),
    "open_limits": (open_limits,),
    "kept_shut": (kept_shut,),
}
"""By field of the network."""
