"""What events add to the job: repairs after a failed look, a look at wet trench, waits for those who are late."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from scheduler.ledger.ground_events import Rained
from scheduler.ledger.known import KnownJob
from scheduler.ledger.mending import mender
from scheduler.ledger.moments import said
from scheduler.ledger.trade_events import TakenOver
from scheduler.ledger.trench_watch import found_safe
from scheduler.network.kind import Kind
from scheduler.network.model import (
    Activity,
    DateRole,
    DateRule,
    Link,
    Network,
    Resource,
)
from scheduler.network.parties import Party
from scheduler.network.prices import Mobilisation
from scheduler.network.setting import crew_id
from scheduler.site.calendars import build_calendars
from scheduler.site.site_record import Site
from scheduler.situation.facts_records import JOURNAL, Failed, JobFacts, rain_look_id, repair_id
from scheduler.situation.late_words import delayed_work, last_words, named
from scheduler.situation.standing import as_it_happened, not_before_now
from scheduler.units import format_station

RAIN_RULE = "29 CFR 1926.651(k)(1)"
"""Inspections of excavations by a competent person, after every rainstorm too, before anyone enters."""


@dataclass(frozen=True, slots=True)
class Eventful:
    """A network with what events add to it."""

    network: Network
    new: dict[str, str]
    """Activities that the plan before did not have, and why they are needed."""
    delayed: dict[str, str]
    """Activities that wait for somebody who gave word, and the sentence that says so."""


def with_events(facts: JobFacts, network: Network, parties: tuple[Party, ...]) -> Eventful:
    """Return a standing network with repairs, looks after rain, and waits after notices of delay."""
    new: dict[str, str] = {}
    for failed in facts.failed.values():
        network = _repaired(facts, network, failed, new)
    network = _after_tests(facts, network)
    network = _looked_at_after(facts, network, new)
    network, delayed = _delayed(facts, network, parties)
    for taken in facts.state.taken_over.values():
        network = _coming(facts.site, network, taken)
    return Eventful(_tickets(facts, network), new, delayed)


def _happened(network: Network, activity: Activity, start: datetime, finish: datetime) -> tuple[Network, Activity]:
    """Return a network with the calendar of something that happened, and the activity on it."""
    clock = network.clock
    last = max(1, clock.tick(finish, up=True))
    span = (max(0, min(clock.tick(start), last - 1)), last)
    done, calendar = as_it_happened(activity, span, activity.because)
    calendars = {**network.calendars, calendar.id: calendar}
    return replace(network, calendars=calendars, data_date=min(network.data_date, span[0])), done


def _repaired(facts: JobFacts, network: Network, failed: Failed, new: dict[str, str]) -> Network:
    """Return the network with the repair that a failed look or test asks for: mended, tested again, looked at again."""
    activity, clock = network.by_id[failed.activity], network.clock
    again = "tested again" if activity.kind.is_test else "looked at again"
    new[activity.id] = f"It failed {said(clock, failed.last.when)} ({failed.last.faults}) and is {again}."
    hours = failed.last.repair_hours
    if hours <= 0:
        return network
    doer = mender(facts.network, activity.id) or activity
    because = f"{activity.name} failed {said(clock, failed.last.when)}: {failed.last.faults}"
    repair = replace(
        activity,
        id=repair_id(activity.id, failed.times),
        name=f"Fix what failed: {activity.name}",
        kind=Kind.PLAIN,
        work=max(1, clock.ticks(hours=hours)),
        calendar=doer.calendar,
        needs=doer.needs if doer is not activity or activity.kind.is_test else (),
        trade=doer.trade,
        one_window=False,
        because=because,
        source=JOURNAL,
    )
    if repair.calendar not in network.calendars:
        return network
    known = facts.state.actual(repair.id).finish
    if known is not None and failed.last.when <= known <= facts.as_of:
        network, repair = _happened(network, repair, failed.last.when, known)
    else:
        new[repair.id] = because
        network = _bound(network, not_before_now(repair.id, facts.now, because))
    links = [
        Link(f"{repair.id} > {id_}", repair.id, id_, because=f"It is fixed before it is {how}.")
        for id_, how in [(activity.id, again), *((t, "tested again") for t in facts.tested_again[activity.id])]
        if not network.by_id[id_].happened and id_ not in facts.begun
    ]
    spaces = tuple(
        replace(s, occupants=(*s.occupants, (repair.id, group)))
        if (group := dict(s.occupants).get(doer.id)) is not None and repair.needs
        else s
        for s in network.spaces
    )
    return replace(network, activities=(*network.activities, repair), links=(*network.links, *links), spaces=spaces)


def _after_tests(facts: JobFacts, network: Network) -> Network:
    """Let a look made again wait for the tests made again, each held as long as it is held before cover."""
    pairs = [(test, failed) for failed, tests in facts.tested_again.items() for test in tests]
    pairs += [(test, look) for test, looks in facts.looked_again.items() for look in looks]
    links = []
    for test, look in pairs:
        lag = max((k.lag for k in facts.network.links if k.before == test and k.lag_calendar is None), default=0)
        because = "What was fixed is tested before it is looked at again."
        links.append(Link(f"{test} > {look}/again", test, look, lag=lag, because=because))
    return replace(network, links=(*network.links, *links))


def _bound(network: Network, rule: DateRule) -> Network:
    return replace(network, dates=(*network.dates, rule))


def _last_rain(facts: JobFacts) -> Rained | None:
    """Return the last rain that has begun."""
    return max((r for r in facts.state.rain if r.start <= facts.as_of), key=lambda r: r.until, default=None)


def wet_reaches(facts: JobFacts) -> dict[str, str]:
    """Return the reaches that stand open and were not looked at since the last rain, and the sentence that says so.

    Looked at: it is reported, the trench was found safe all along it, or work in the reach was reported begun or
    finished after the rain.
    """
    rain = _last_rain(facts)
    if rain is None:
        return {}
    because = (
        f"It rained until {said(facts.network.clock, rain.until)}: the competent person looks at the open trench "
        "before anyone goes in."
    )
    dug = dict.fromkeys(
        o.reach
        for o in facts.network.openings
        if o.closes not in facts.done and (o.opens in facts.done or o.opens in facts.begun)
    )
    return {reach: because for reach in dug if not _entered_since(facts, reach, rain.until)}


def _looked_at_after(facts: JobFacts, network: Network, new: dict[str, str]) -> Network:
    """Let every stretch that stands open be looked at by the competent person before anybody goes in again."""
    rain = _last_rain(facts)
    if rain is None:
        return network
    general = facts.site.general_trade
    calendar = build_calendars(facts.site, network.clock)[general.calendar]
    for reach, because in wet_reaches(facts).items():
        inside = [a for a in network.activities if a.reach == reach and not a.happened and a.work]
        if not inside:
            continue
        name = f"Look at the open trench after rain, {_place(facts.site, inside)}"
        id_ = rain_look_id(reach)
        first = inside[0]
        look = Activity(
            id_,
            name,
            Kind.PLAIN,
            1,
            calendar.id,
            because=because,
            source=RAIN_RULE,
            one_window=True,
            trade=general.id,
            reach=reach,
            alignment=first.alignment,
            from_ft=min(a.from_ft for a in inside),
            to_ft=max(a.to_ft for a in inside),
        )
        at = max(facts.now, network.clock.tick(rain.until, up=True))
        network = _bound(network, not_before_now(id_, at, because))
        links = tuple(Link(f"{id_} > {a.id}", id_, a.id, because=because, source=RAIN_RULE) for a in inside)
        network = replace(
            network,
            calendars={**network.calendars, calendar.id: calendar},
            activities=(*network.activities, look),
            links=(*network.links, *links),
        )
        new[id_] = because
    return network


def _place(site: Site, activities: list[Activity]) -> str:
    """Name the ground of activities in one reach: `Main trench 0+40 to 1+20`."""
    alignment = activities[0].alignment
    name = next((a.name for a in site.alignments if a.id == alignment), alignment)
    first, last = min(a.from_ft for a in activities), max(a.to_ft for a in activities)
    return f"{name} {format_station(first)} to {format_station(last)}"


def _entered_since(facts: JobFacts, reach: str, moment: datetime) -> bool:
    looked = facts.state.actual(rain_look_id(reach)).finish
    times = [looked] if looked else []
    for activity in facts.network.activities:
        if activity.reach == reach:
            known = facts.state.actual(activity.id)
            times += [t for t in (known.start, known.finish) if t is not None]
    if any(moment <= t <= facts.as_of for t in times):
        return True
    known_job = KnownJob(facts.site, facts.network, facts.state, facts.as_of)
    stretches = [(r.alignment, r.from_, r.to) for r in facts.site.reaches if r.id == reach]
    return any(found_safe(known_job, s, moment) for s in stretches)


def _delayed(facts: JobFacts, network: Network, parties: tuple[Party, ...]) -> tuple[Network, dict[str, str]]:
    """Return the network with the last word of everybody who is late, for each activity of theirs."""
    for word in facts.state.delays:
        if not delayed_work(facts.site, network, parties, word, facts.state.taken_over):
            facts.notes.append(
                f"{named(facts.site, word.who)} gave word of a delay, but nothing in this job is theirs to do."
            )
    last = last_words(facts.site, network, facts.state.words, parties, {*facts.begun, *facts.done})
    told: dict[str, str] = {}
    for activity, word in last.items():
        at = network.clock.tick(word.not_before, up=True)
        if at <= facts.now or network.by_id[activity].happened:
            continue
        why = f" ({word.why.strip().rstrip('.')})" if word.why.strip() else ""
        told[activity] = f"{named(facts.site, word.who)} said they cannot come before {network.clock.spoken(at)}{why}."
        rule = DateRule(
            f"delayed/{activity}", activity, at, role=DateRole.DELAY, because=told[activity], source=JOURNAL
        )
        network = _bound(network, rule)
    return network, told


def _coming(site: Site, network: Network, taken: TakenOver) -> Network:
    """Return a network in which a firm that takes over comes to site for what is left, and the trade no more."""
    theirs = tuple(a.id for a in network.activities if a.trade == taken.trade and not a.happened and a.kind.takes_time)
    before = next((m for m in network.mobilisations if m.id == f"mobilise/{taken.trade}"), None)
    rest = tuple(m for m in network.mobilisations if m is not before)
    if before is not None and (been := tuple(a for a in before.activities if a not in theirs)):
        rest = (*rest, replace(before, activities=been))
    if taken.mobilisation_cost > 0 and theirs:
        stay = next((t.stay_days for t in site.trades if t.id == taken.trade), 0)
        id_, cost = f"mobilise/{taken.trade}/{taken.firm}", taken.mobilisation_cost
        paid = Mobilisation(id_, taken.firm, theirs, cost, stay) if before is None else before
        rest = (*rest, replace(paid, id=id_, name=taken.firm, activities=theirs, cost=cost, stay_days=stay, rate_at=""))
    was = next((t.name for t in site.trades if t.id == taken.trade), "")
    crews = tuple(_now_of(r, was, taken.firm) if _of(r, taken.trade) else r for r in network.resources)
    dates = tuple(d for d in network.dates if d.role is not DateRole.TRADE_NOTICE or d.activity not in theirs)
    return replace(network, mobilisations=rest, resources=crews, dates=dates)


def _of(resource: Resource, trade: str) -> bool:
    """Tell whether a resource is the crews of a trade, or their members."""
    return resource.id == crew_id(trade) or resource.id.startswith(f"{crew_id(trade)}/")


def _now_of(crew: Resource, was: str, firm: str) -> Resource:
    """Return the crews of a trade, or their members, as those of the firm that took it over."""
    return replace(crew, name=crew.name.replace(was, firm), because=crew.because.replace(was, firm))


def _tickets(facts: JobFacts, network: Network) -> Network:
    """Let digs wait until the next working day where an owner has not finished marking."""
    for ticket in network.tickets:
        answers = {a.who: a for a in facts.state.tickets.get(ticket.id, ()) if a.when <= facts.as_of}
        open_ = [a for a in answers.values() if a.answer == "not_complete"]
        for dig in ticket.digs if open_ else ():
            calendar = network.calendar_of(dig)
            day = network.clock.when(facts.now).date()
            after = next((w for w in calendar.windows_from(facts.now) if network.clock.when(w[0]).date() > day), None)
            if after is not None:
                because = (
                    f"{named(facts.site, open_[-1].who)} has not finished marking for {ticket.name}: "
                    "nobody digs until that is answered; the next working day at the earliest."
                )
                rule = DateRule(f"{ticket.id}/answer/{dig}", dig, after[0], because=because, source=JOURNAL)
                network = _bound(network, rule)
    return network
