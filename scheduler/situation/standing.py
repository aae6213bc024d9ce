"""The job as it stands: what happened fixed at its actual times, the rest free from now on.

Finished work keeps its place on a calendar of its own, 'as it happened', whatever the site's hours
say, and needs nobody any more. Work in progress is cut in two: its beginning, which happened, and
the rest, which keeps the activity's id. Links between things that have begun are dropped; those from
what is done to what is open stay, with the actual time. What has not begun waits for now.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime

from scheduler.network.kept_behind import KeptBehind
from scheduler.network.kind import Kind
from scheduler.network.model import (
    Activity,
    DateRole,
    DateRule,
    Link,
    LinkType,
    Network,
    Opening,
    OpenLimit,
    Ticket,
)
from scheduler.network.open_records import KeptShut
from scheduler.network.prices import Mobilisation
from scheduler.schedule import Span
from scheduler.situation.facts_records import JOURNAL, JobFacts
from scheduler.units import format_counted
from scheduler.worktime.calendar import Calendar


def begun_id(activity: str) -> str:
    """Return the id of the part of an activity that has happened while the rest has not."""
    return f"{activity}/begun"


def as_it_happened(activity: Activity, span: Span, because: str) -> tuple[Activity, Calendar]:
    """Return an activity at the time [ticks] it was really done, and its calendar; it needs nobody any more."""
    calendar = Calendar(f"as it happened/{activity.id}", "as it happened", (span,))
    done = replace(
        activity,
        work=span[1] - span[0],
        calendar=calendar.id,
        one_window=True,
        least_start=0,
        needs=(),
        because=because,
        source=JOURNAL,
        happened=True,
    )
    return done, calendar


def not_before_now(activity: str, now: int, because: str) -> DateRule:
    """Return the rule that keeps what has not begun from starting before the moment of planning [tick]."""
    return DateRule(f"as of/{activity}", activity, now, role=DateRole.AS_OF, because=because, source=JOURNAL)


def past_of(facts: JobFacts) -> dict[str, Span]:
    """Return where everything that happened stands, by activity; the begun part of work under its own id.

    In whole ticks: starts rounded down, finishes up, so that what follows is never early.
    """
    spans = {a: _span(facts, d.start, d.finish) for a, d in facts.done.items()}
    for a, begun in facts.begun.items():
        spans[begun_id(a)] = _span(facts, begun.start, begun.start)
    return spans


def _span(facts: JobFacts, start: datetime, finish: datetime) -> Span:
    """Return a span of one tick at least, no later than now and no earlier than the clock's first day."""
    clock = facts.network.clock
    last = max(1, min(clock.tick(finish, up=True), facts.now))
    return max(0, min(clock.tick(start), last - 1)), last


def standing(facts: JobFacts, before_renewals: tuple[str, ...]) -> Network:
    """Return the network of what is left, with the past in it.

    `before_renewals` are the ticket renewals of the plan in force: those whose call is overdue are
    taken to have been called for, as nothing else is on record.
    """
    network, past = facts.network, past_of(facts)
    activities, calendars = _activities(facts, past)
    openings = tuple(_opened(o, facts) for o in network.openings if o.closes not in past)
    begin = min([network.data_date, *(s for s, _ in past.values())])
    return replace(
        network,
        data_date=max(0, begin),
        calendars={**network.calendars, **calendars},
        activities=activities,
        links=tuple(k for link in network.links if (k := _link(link, facts, past)) is not None),
        dates=(*_dates(facts, past), *_not_before_now(facts, past)),
        spaces=tuple(
            replace(s, occupants=tuple((a, g) for a, g in s.occupants if a not in past)) for s in network.spaces
        ),
        openings=openings,
        open_limits=tuple(_limit(limit, openings, facts) for limit in network.open_limits),
        kept_shut=tuple(_shut(s, facts) for s in network.kept_shut if s.closes not in past),
        kept_behind=tuple(_behind(k, facts) for k in network.kept_behind if not {k.before, k.after} & past.keys()),
        tickets=tuple(_ticket(t, facts, past, before_renewals) for t in network.tickets),
        visit_rules=tuple(
            replace(r, looks=looks)
            for r in network.visit_rules
            if (looks := tuple(k for k in r.looks if k not in past))
        ),
        holds=tuple(replace(h, gates=tuple(g for g in h.gates if g not in past)) for h in network.holds),
        bookings=(),
        mobilisations=tuple(_party(m, facts) for m in network.mobilisations),
    )


def _activities(facts: JobFacts, past: Mapping[str, Span]) -> tuple[tuple[Activity, ...], dict[str, Calendar]]:
    calendars: dict[str, Calendar] = {}
    activities: list[Activity] = []

    def happened(activity: Activity, because: str) -> None:
        done, calendar = as_it_happened(activity, past[activity.id], because)
        calendars[calendar.id] = calendar
        activities.append(done)

    for activity in facts.network.activities:
        if activity.id in past:
            happened(activity, facts.done[activity.id].because)
        elif (begun := facts.begun.get(activity.id)) is not None:
            name = f"{activity.name} (begun)"
            first = replace(activity, id=begun_id(activity.id), name=name, kind=Kind.PLAIN, begun_part_of=activity.id)
            happened(first, "It was reported started.")
            activities.append(_rest(facts, activity, begun.remaining))
        elif activity.id in facts.left and activity.work:
            activities.append(_rest(facts, activity, facts.left[activity.id]))
        else:
            activities.append(activity)
    return tuple(activities), calendars


def _rest(facts: JobFacts, activity: Activity, work: int) -> Activity:
    """Return what is left of an activity; more than fits its longest window is done in several."""
    longest = max((b - a for a, b in facts.network.calendars[activity.calendar].windows), default=0)
    return replace(activity, work=work, one_window=activity.one_window and work <= longest, least_start=0)


def _link(link: Link, facts: JobFacts, past: Mapping[str, Span]) -> Link | None:
    """Return a link as it still binds, or None."""
    if link.after in past:
        return None
    if link.after in facts.begun:
        of_finish = link.type in (LinkType.FF, LinkType.SF)
        if link.at_most or link.before in facts.begun or (link.before in past and not of_finish):
            return None
    if link.before in facts.begun and link.type in (LinkType.SS, LinkType.SF):
        return replace(link, before=begun_id(link.before))
    return link


def _dates(facts: JobFacts, past: Mapping[str, Span]) -> list[DateRule]:
    """Return the dates that still bind; the notice of those who come is worked out anew from now."""
    called_anew = {look for r in facts.network.visit_rules for look in r.looks}
    called_anew |= {a.id for a in facts.network.activities if a.kind.is_outside_work}
    return [
        d
        for d in facts.network.dates
        if d.activity not in past
        and not (d.activity in facts.begun and d.edge == "start")
        and not (d.role is DateRole.NOTICE and d.activity in called_anew)
    ]


def _not_before_now(facts: JobFacts, past: Mapping[str, Span]) -> list[DateRule]:
    network = facts.network
    if facts.now <= network.data_date and not past:
        return []
    because = f"It had not begun by {network.clock.spoken(facts.now)}, from when this is planned."
    return [not_before_now(a.id, facts.now, because) for a in network.activities if a.work > 0 and a.id not in past]


def _opened(opening: Opening, facts: JobFacts) -> Opening:
    return replace(opening, opens=begun_id(opening.opens)) if opening.opens in facts.begun else opening


def _shut(shut: KeptShut, facts: JobFacts) -> KeptShut:
    opens, covers = (begun_id(a) if a in facts.begun else a for a in (shut.opens, shut.covers))
    return replace(shut, opens=opens, covers=covers)


def _behind(rule: KeptBehind, facts: JobFacts) -> KeptBehind:
    """Return what keeps behind what, from where each has got to: as far as the share of its work that is done."""
    done = {
        a: max(0.0, 1.0 - begun.remaining / facts.network.by_id[a].work) * rule.length_ft
        for a in (rule.before, rule.after)
        if (begun := facts.begun.get(a)) is not None
    }
    return replace(rule, before_from_ft=done.get(rule.before, 0.0), after_from_ft=done.get(rule.after, 0.0))


def _limit(limit: OpenLimit, openings: tuple[Opening, ...], facts: JobFacts) -> OpenLimit:
    """Return a limit on what is still open; where more stands open already, that much must be allowed."""
    left = {o.id for o in openings}
    opens = {o.id: o.opens for o in facts.network.openings if o.id in left}
    amounts = tuple((o, n) for o, n in limit.amounts if o in opens)
    standing_now = sum(n for o, n in amounts if opens[o] in facts.begun or opens[o] in facts.done)
    if standing_now > limit.capacity:
        facts.notes.append(
            f"{format_counted(standing_now, limit.unit)} of trench stand open, more than the "
            f"{format_counted(limit.capacity, limit.unit)} allowed: "
            "close some before anything else is dug."
        )
    return replace(limit, amounts=amounts, capacity=max(limit.capacity, standing_now))


def _ticket(ticket: Ticket, facts: JobFacts, past: Mapping[str, Span], used: tuple[str, ...]) -> Ticket:
    renewals = []
    for renewal in ticket.renewals:
        if renewal.call_by < facts.now and renewal.id not in used:
            break
        renewals.append(renewal)
    return replace(ticket, digs=tuple(d for d in ticket.digs if d not in past), renewals=tuple(renewals))


def _party(party: Mobilisation, facts: JobFacts) -> Mobilisation:
    begun = tuple(begun_id(a) for a in party.activities if a in facts.begun)
    return replace(party, activities=(*party.activities, *begun))
