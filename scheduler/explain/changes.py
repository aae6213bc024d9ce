"""Changes that people can agree on to make a plan possible, one for each kind of rule.

Each is tried at its widest first; from the plan that gives, it is cut down to what is needed.
What guards people's lives or the work's soundness is never offered: hold points, room between
people and machines, test times, and when a ticket is clear.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

from scheduler.explain.families import AGREED
from scheduler.explain.more_days import more_days
from scheduler.explain.possible import Ask, Change
from scheduler.explain.rules import Rule, without
from scheduler.network.lowering import lower
from scheduler.network.model import Activity, Network, Renewal, Resource, ResourceKind, Ticket
from scheduler.schedule import Schedule
from scheduler.solve.outcome import Options
from scheduler.solve.run import solve
from scheduler.spoken import count, short_day
from scheduler.units import format_counted

LONGEST_PASS_DAYS = 90
FINISH_EFFORT = 2.0


def change(network: Network, rule: Rule, ask: Ask) -> Change | None:
    """Return the least change to one rule that makes a plan possible; None when none is known to.

    Setting `ask.stop` ends it soon, with the least change found by then.
    """
    maker = WAYS_OUT.get(rule.kind)
    return maker(network, rule, ask) if maker else None


def _later_target(network: Network, rule: Rule, ask: Ask) -> Change | None:
    target = network.target
    if target is None or ask(replace(network, target=None)).schedule is None:
        return None
    options = Options(only_finish=True, finish_effort=FINISH_EFFORT)
    schedule = solve(replace(network, target=None), options, stop=ask.stop).schedule
    if schedule is None:
        return None
    finish = schedule.finish
    days = (network.clock.when(finish).date() - network.clock.when(target.at - 1).date()).days
    text = f"Agree a later finish: {network.clock.spoken(finish)} instead of {_end_said(network, target.at)}."
    changed = replace(network, target=replace(target, at=finish))
    return Change(rule, changed, schedule, text, (network.rates.overhead_per_day or 0.0) * days or None)


def _with(network: Network, family: str, record: Any) -> Network:
    """Return a network with a record in place of the one of its family with its id."""
    records: Any = tuple(record if r.id == record.id else r for r in getattr(network, family))
    return replace(network, **{family: records})


def _end_said(network: Network, tick: int) -> str:
    """Return an end as people say it: midnight is the end of the day before."""
    when = network.clock.when(tick)
    if when.hour or when.minute:
        return network.clock.spoken(tick)
    return f"the end of {short_day(when - timedelta(days=1))}"


def _one_more(network: Network, rule: Rule, ask: Ask) -> Change | None:
    resource = network.resource_by_id[rule.record.id]
    changed = _with(network, "resources", replace(resource, capacity=resource.capacity + 1))
    answer = ask(changed)
    if answer.schedule is None:
        return None
    days = _days_over(network, answer.schedule, resource)
    named = (ResourceKind.MACHINE, ResourceKind.INSPECTOR, ResourceKind.MEMBER)
    what = resource.kind.value if resource.kind in named else "crew"
    text = f"Have one more {what} ({resource.name}) on {count(len(days), 'day')}."
    return Change(rule, changed, answer.schedule, text, (resource.day_rate or 0.0) * len(days) or None)


def _days_over(network: Network, schedule: Schedule, resource: Resource) -> set[date]:
    """Return the days on which more units are in use at once than a resource has."""
    capacity = next(c for c in lower(network).capacities if (c.family, c.record) == ("resources", resource.id))
    uses = [(*schedule.dates[use.first], use.units) for use in capacity.uses]
    days: set[date] = set()
    for start, _, _ in uses:
        together = [(s, f, u) for s, f, u in uses if s <= start < f]
        if sum(u for _, _, u in together) > resource.capacity:
            first, last = network.clock.when(start), network.clock.when(min(f for _, f, _ in together) - 1)
            days |= {first.date() + timedelta(days=n) for n in range((last.date() - first.date()).days + 1)}
    return days


def _moved_booking(network: Network, rule: Rule, ask: Ask) -> Change | None:
    booking = next(b for b in network.bookings if b.id == rule.record.id)

    def told(plan: Schedule) -> str:
        to = network.clock.spoken(min(plan.dates[a][0] for a in booking.activities))
        return f'Move the appointment "{booking.name}" to {to}.'

    return _left_out(network, rule, ask, told, booking.move_cost or None)


def _left_out(
    network: Network, rule: Rule, ask: Ask, told: Callable[[Schedule], str], cost: float | None = None
) -> Change | None:
    """Return what a plan without a rule comes to."""
    changed = without(network, [rule])
    plan = ask(changed).schedule
    return None if plan is None else Change(rule, changed, plan, told(plan), cost)


def _renewed_ticket(network: Network, rule: Rule, ask: Ask) -> Change | None:
    id_ = rule.record.id
    if rule.record.part != "expiry":
        return None
    ticket = next(t for t in network.tickets if t.id == id_)
    renewed = _with_renewals(network, ticket)
    changed = _with(network, "tickets", renewed)
    answer = ask(changed)
    if answer.schedule is None:
        return None
    known = {r.id for r in ticket.renewals}
    used = [r for r in renewed.renewals if r.id in answer.schedule.renewals and r.id not in known]
    by = network.clock.spoken(used[0].call_by) if used else ""
    text = f"Renew {ticket.name} {len(used)} time{'s' * (len(used) != 1)} more, calling by {by}."
    return Change(rule, changed, answer.schedule, text, (ticket.renewal_cost or 0.0) * len(used) or None)


def _with_renewals(network: Network, ticket: Ticket) -> Ticket:
    """Return a ticket renewed as often as the job may need, each time for a life like its first, a week at least."""
    renewals = [r for r in ticket.renewals if r.call_by >= network.data_date]
    life = max(ticket.expiry - ticket.clear, network.clock.ticks(days=7))
    last = max([ticket.expiry, network.data_date, *(r.expiry for r in renewals)])
    while last < network.horizon:
        call_by = max(network.data_date, last - network.clock.ticks(days=2))
        last += life
        renewals.append(Renewal(f"{ticket.id}/further-{len(renewals) + 1}", call_by, last))
    return replace(ticket, renewals=tuple(renewals))


def _more_open(network: Network, rule: Rule, ask: Ask) -> Change | None:
    limit = next(o for o in network.open_limits if o.id == rule.record.id)
    before = format_counted(limit.capacity, limit.unit).removesuffix(f" {limit.unit}")

    return _least(
        rule,
        ask,
        lambda capacity: _with(network, "open_limits", replace(limit, capacity=capacity)),
        limit.capacity,
        sum(amount for _, amount in limit.amounts),
        lambda capacity: (
            f"Let {format_counted(capacity, limit.unit)} of trench stand open at once, instead of {before}."
        ),
    )


def _longer_pass(network: Network, rule: Rule, ask: Ask) -> Change | None:
    ids = {record.id for record in rule.records}
    lag = max(k.lag for k in network.links if k.id in ids)
    day = network.clock.ticks(days=1)

    def longer(days: int) -> Network:
        links = tuple(replace(k, lag=k.lag + days * day) if k.id in ids else k for k in network.links)
        return replace(network, links=links)

    def told(days: int) -> str:
        return f"Ask for a pass good for {lag / day + days:.3g} days, not {lag / day:.3g}, or for a second look."

    return _least(rule, ask, longer, 0, LONGEST_PASS_DAYS, told)


def _tested_by_reach(network: Network, rule: Rule, ask: Ask) -> Change | None:
    """Test a line reach by reach before its cover, and over its whole length when all of it is laid."""
    ids = {record.id for record in rule.records}
    links = [k for k in network.links if k.id not in ids]
    parts: dict[str, Activity] = {}
    for wait in (k for k in network.links if k.id in ids):
        whole, reach = network.by_id[wait.before], network.by_id[wait.after].reach
        id_ = f"{whole.id}/{reach}"
        links.append(replace(wait, id=f"{id_} > {wait.after}", before=id_))
        if id_ not in parts:
            parts[id_] = replace(whole, id=id_, name=f"{whole.name}: {reach} alone", reach=reach)
            laid = (k for k in network.links if k.after == whole.id and network.by_id[k.before].reach in ("", reach))
            links += [replace(k, id=f"{k.before} > {id_}", after=id_) for k in laid]
    changed = replace(network, activities=(*network.activities, *parts.values()), links=tuple(links))
    answer = ask(changed)
    if answer.schedule is None:
        return None
    names = " and ".join(dict.fromkeys(f'"{network.by_id[k.before].name}"' for k in network.links if k.id in ids))
    text = f"{names}: test each reach alone before it is covered, its ends capped, and the whole once all is laid."
    return Change(rule, changed, answer.schedule, text, None)


def _bigger_visit(network: Network, rule: Rule, ask: Ask) -> Change | None:
    visit = next(v for v in network.visit_rules if v.id == rule.record.id)

    def seeing(times: int) -> Network:
        looks = None if visit.max_looks is None else visit.max_looks * times
        feet = None if visit.max_ft is None else visit.max_ft * times
        return _with(network, "visit_rules", replace(visit, max_looks=looks, max_ft=feet))

    def told(times: int) -> str:
        return f'Ask {visit.authority} to see {times} times as much in one visit "{visit.name}".'

    return _least(rule, ask, seeing, 1, max(2, len(visit.looks)), told)


def _least(
    rule: Rule, ask: Ask, changed: Callable[[int], Network], known: int, most: int, told: Callable[[int], str]
) -> Change | None:
    """Return the least change above `known`, up to `most`, that makes a plan possible."""
    found = ask(changed(most)).schedule
    if found is None:
        return None
    low, high = known, most
    while high - low > 1:
        middle = (low + high) // 2
        schedule = ask(changed(middle)).schedule
        if schedule is None:
            low = middle
        else:
            found, high = schedule, middle
    return Change(rule, changed(high), found, told(high), None)


def _given_up(network: Network, rule: Rule, ask: Ask) -> Change | None:
    """Leave out a rule, such as a notice or a date, as agreed with whoever asked for it."""
    return _left_out(network, rule, ask, lambda _: f"{AGREED[rule.kind]}: {rule.because.rstrip('.')}.")


def _open_at_night(network: Network, rule: Rule, ask: Ask) -> Change | None:
    """Leave a way's trench open at night, under plates or a bridge or behind a fence."""
    ids = {record.id for record in rule.records}
    reaches = {network.by_id[shut.closes].reach for shut in network.kept_shut if shut.id in ids}
    ways = [way for way in network.ways if way.reach in reaches]
    what = " and ".join(dict.fromkeys(way.what for way in ways)) or "the way"
    where = " and ".join(dict.fromkeys(way.reach for way in ways)) or "the reach"
    text = (
        f"Let the trench across {what} stay open at night, under plates or a bridge or behind a fence: agree it with "
        f"whoever needs the way, and write `at_night: plated` or `at_night: fenced` under `access` of {where}."
    )
    return _left_out(network, rule, ask, lambda _: text)


WAYS_OUT: dict[str, Callable[[Network, Rule, Ask], Change | None]] = {
    "target": _later_target,
    "hours": more_days,
    "resource": _one_more,
    "booking": _moved_booking,
    "ticket": _renewed_ticket,
    "open limit": _more_open,
    "pass": _longer_pass,
    "whole test": _tested_by_reach,
    "visit": _bigger_visit,
    "way": _open_at_night,
    **dict.fromkeys(AGREED, _given_up),
}
"""By kind of rule; what is not here is in `families.GIVEN` or `families.NEVER_SHORTER`, with the reason."""
