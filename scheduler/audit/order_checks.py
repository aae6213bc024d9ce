"""Checks of what comes before what: links with their lags, hold points, locate tickets."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from scheduler.audit.audit_facts import SAID, AuditCheck, AuditFacts, broken
from scheduler.findings import Finding, Severity
from scheduler.network.model import Hold, Link, LinkType, Ticket


def links(facts: AuditFacts) -> Iterator[Finding]:
    """Every link holds, by its type, lag, lag calendar, and sense."""
    for link in facts.network.links:
        before, after = facts.spans.get(link.before), facts.spans.get(link.after)
        if before is None or after is None:
            continue
        since = before[0] if link.type in (LinkType.SS, LinkType.SF) else before[1]
        tick = after[0] if link.type in (LinkType.FS, LinkType.SS) else after[1]
        if link.lag_calendar is None:
            limit: int | None = since + link.lag
        else:
            limit = facts.network.calendars[link.lag_calendar].advance(since, link.lag)
        late = limit is not None and tick > limit
        early = limit is None or tick < limit
        if late if link.at_most else early:
            yield _link_broken(facts, link, since=since, tick=tick, limit=limit)


def _link_broken(facts: AuditFacts, link: Link, *, since: int, tick: int, limit: int | None) -> Finding:
    edge = "start" if link.type in (LinkType.FS, LinkType.SS) else "finish"
    event = "start" if link.type in (LinkType.SS, LinkType.SF) else "finish"
    name, other = facts.name(link.after), facts.name(link.before)
    bound = f"the {event} of {other}"
    if link.lag:
        hours = link.lag_calendar
        lag = f"{facts.hours(link.lag)} of {facts.calendar_name(hours)}" if hours else facts.length(link.lag)
        bound = f"{lag} {'before' if link.lag < 0 else 'after'} {bound}"
    relation = "later than" if link.at_most else "sooner than" if link.lag else "before"
    required = (
        f"{facts.when(limit)} or {'earlier' if link.at_most else 'later'}"
        if limit is not None
        else "later than the working hours known for it"
    )
    return broken(
        link.id,
        facts.place(link.after),
        f"{name} {SAID[edge]} {relation} {bound}.",
        found=f"{facts.when(tick)}; the other's {event} {facts.when(since)}",
        required=required,
        because=link.because,
        source=link.source,
        remedy=f"Let it {edge} {required}, or move the other.",
    )


def holds(facts: AuditFacts) -> Iterator[Finding]:
    """Nothing that waits at a hold point starts before the look that releases it is over."""
    for hold in facts.network.holds:
        release = facts.spans.get(hold.look)
        if release is None:
            continue
        for gate in hold.gates:
            span = facts.spans.get(gate)
            if span is not None and span[0] < release[1]:
                yield _covered_early(facts, hold, gate, start=span[0], release=release[1])


def _covered_early(facts: AuditFacts, hold: Hold, gate: str, *, start: int, release: int) -> Finding:
    covers = facts.network.by_id[gate].kind.covers
    by = "" if facts.name(hold.look) == f'"{hold.name}"' else f" by {facts.name(hold.look)}"
    return broken(
        hold.id,
        facts.place(gate),
        f"{'Covered' if covers else 'Started'} before release: {facts.name(gate)} starts before "
        f'the {hold.kind} point "{hold.name}" is released{by}.',
        found=facts.when(start),
        required=f"{facts.when(release)} or later",
        because=hold.because,
        source=hold.source,
        remedy="Hold it until the release, or bring the release forward.",
        severity=Severity.STOP,
    )


def tickets(facts: AuditFacts) -> Iterator[Finding]:
    """Digging starts after the locates are clear and finishes by the expiry then in force."""
    for ticket in facts.network.tickets:
        expiry = _expiry_in_force(facts, ticket)
        for dig in ticket.digs:
            span = facts.spans.get(dig)
            if span is None:
                continue
            early, late = span[0] < ticket.clear, span[1] > expiry
            if early:
                yield _dig_broken(facts, ticket, dig, expiry=expiry, early=True)
            if late:
                yield _dig_broken(facts, ticket, dig, expiry=expiry, early=False)


def _expiry_in_force(facts: AuditFacts, ticket: Ticket) -> int:
    """Return the expiry after the renewals used, as far as each is possible and follows the one before."""
    expiry = ticket.expiry
    for renewal in ticket.renewals:
        if renewal.id not in facts.schedule.renewals or renewal.call_by < facts.network.data_date:
            break
        expiry = renewal.expiry
    return expiry


def _dig_broken(facts: AuditFacts, ticket: Ticket, dig: str, *, expiry: int, early: bool) -> Finding:
    start, finish = facts.spans[dig]
    name = facts.name(dig)
    if early:
        text = f'{name} starts before locate ticket "{ticket.name}" is clear.'
        found, required = facts.when(start), f"{facts.when(ticket.clear)} or later"
        remedy = f"Do not dig until every owner has answered: {required}."
    else:
        text = f'{name} is still digging after locate ticket "{ticket.name}" has expired.'
        found, required = facts.when(finish), f"finished {facts.when(expiry)} or earlier"
        remedy = "Renew the ticket in time, or finish the dig before it expires."
    return broken(
        ticket.id,
        facts.place(dig),
        text,
        found=found,
        required=required,
        because=ticket.because,
        source=ticket.source,
        remedy=remedy,
        severity=Severity.STOP,
    )


def renewals(facts: AuditFacts) -> Iterator[Finding]:
    """Each ticket renewal used exists, follows the one before it, and can still be called for."""
    used, known = set(facts.schedule.renewals), set()
    for ticket in facts.network.tickets:
        gap = ""
        for renewal in ticket.renewals:
            known.add(renewal.id)
            if renewal.id not in used:
                gap = renewal.id
                continue
            if gap:
                yield broken(
                    ticket.id,
                    ticket.name,
                    f'Renewal "{renewal.id}" of locate ticket "{ticket.name}" is used without the one before it.',
                    found=f'"{gap}" is not used',
                    required=f'"{gap}" used first',
                    because=ticket.because,
                    source=ticket.source,
                    remedy=f'Call for "{gap}" too, or drop "{renewal.id}".',
                )
            if renewal.call_by < facts.network.data_date:
                yield broken(
                    ticket.id,
                    ticket.name,
                    f'It is too late to call for renewal "{renewal.id}" of locate ticket "{ticket.name}".',
                    found=f"plan made {facts.when(facts.network.data_date)}",
                    required=f"called by {facts.when(renewal.call_by)}",
                    because=ticket.because,
                    source=ticket.source,
                    remedy="Call in a new ticket and wait until it is clear.",
                    severity=Severity.STOP,
                )
    for renewal_id in facts.schedule.renewals:
        if renewal_id not in known:
            yield broken(
                f"unknown/{renewal_id}",
                renewal_id,
                f'"{renewal_id}" is used as a renewal but no locate ticket has it.',
                found=f'"{renewal_id}"',
                required="renewals of this job's locate tickets only",
                remedy="Remove it, or fix its id.",
            )


CHECKS: Mapping[str, tuple[AuditCheck, ...]] = {
    "links": (links,),
    "holds": (holds,),
    "tickets": (tickets, renewals),
}
"""By field of the network."""
