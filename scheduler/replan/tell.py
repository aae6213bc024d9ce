"""What an alternative means for people: what moves and why, and whom to call today."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime

from scheduler.explain.calls import desk_hours, last_call
from scheduler.ledger.rights import names
from scheduler.measures import exposure, midnights
from scheduler.network.model import Network
from scheduler.network.parties import Party
from scheduler.plan import Plan, PlanActivity
from scheduler.replan.replan_records import Call, Move
from scheduler.schedule import Schedule
from scheduler.situation.appointments import Appointment
from scheduler.situation.job import StandingJob
from scheduler.situation.trade_notice import InTime
from scheduler.solve.goals import Cost, Money
from scheduler.spoken import length


@dataclass(frozen=True, slots=True)
class Bought:
    """What a plan has over the plan before with everything pushed that must move."""

    text: str
    """Empty when it has nothing over it."""
    pushed: Schedule | None


def bought(network: Network, schedule: Schedule, pushed: Schedule | None) -> Bought:
    """Return what moving more than must be moved buys, in words."""
    if pushed is None:
        return Bought("Moved so that every rule is kept; leaving the order of work as it was leads to no plan.", None)
    gains = []
    ticks = pushed.finish - schedule.finish
    if ticks > 0:
        gains.append(f"all is finished {length(ticks * network.clock.tick_minutes)} sooner")
    nights = exposure(network, pushed.dates) - exposure(network, schedule.dates)
    if nights >= 1:
        gains.append(f"{nights:,.0f} ft nights less of open trench")
    money = _money(network, pushed) - _money(network, schedule)
    cost = _cost(network, pushed) - _cost(network, schedule)
    if money >= 1:
        gains.append(f"{money:,.0f} less for visits and coming to site")
    if cost >= 1 and not (ticks > 0 or nights >= 1 or abs(cost - money) < 1):
        gains.append(f"{cost:,.0f} less in all")
    return Bought(f"Part of what buys this: {', '.join(gains)}." if gains else "", pushed)


def _money(network: Network, schedule: Schedule) -> float:
    return Money().amount(network, schedule) / Money().per_unit


def _cost(network: Network, schedule: Schedule) -> float:
    return Cost().amount(network, schedule) / Cost().per_unit


def moves(
    job: StandingJob, plan: Plan, schedule: Schedule, gain: Bought, told: Mapping[str, InTime]
) -> tuple[Move, ...]:
    """Return what is planned for another time than before, the soonest first."""
    before = {a.id: a for a in job.before.activities}
    found = []
    for row in plan.activities:
        activity = job.network.by_id[row.id]
        old = before.get(row.id)
        if activity.happened or activity.work == 0:
            continue
        if old is not None and (old.start, old.finish) == (row.start, row.finish):
            continue
        found.append(
            Move(
                activity=row.id,
                name=row.name,
                trade=doer(job, row.id, row.trade),
                was=old.start if old else None,
                now=row.start,
                finish_now=row.finish,
                outside=activity.kind.by_others,
                buys=_why(job, row, schedule, gain),
                short_notice=row.id in told and not told[row.id].holds(schedule.dates[row.id][0]),
            )
        )
    return tuple(sorted(found, key=lambda m: (m.now, m.finish_now, m.activity)))


def doer(job: StandingJob, activity: str, trade: str) -> str:
    """Return who does a piece of work, by name: an outside party, else its trade."""
    party = next((p for p in job.parties if activity in p.activities), None)
    if party is not None:
        return party.who
    return next((t.name for t in job.site.trades if t.id == trade), trade)


def _why(job: StandingJob, row: PlanActivity, schedule: Schedule, gain: Bought) -> str:
    """Return why a piece of work moves: what it waits for, or what that buys."""
    for told in (job.new, job.delayed):
        if row.id in told:
            return told[row.id]
    if row.id in job.facts.begun:
        return "It has begun; what is left of it goes on from now."
    must = gain.pushed is not None and gain.pushed.dates[row.id] == schedule.dates[row.id]
    if gain.text and not must:
        return gain.text
    reason = next((d.because for d in row.driven_by if d.because), "")
    return f"It must move: {reason[:1].lower() + reason[1:]}" if reason else "It must make way for what moves."


def calls(job: StandingJob, plan: Plan, schedule: Schedule) -> tuple[Call, ...]:
    """Return the calls to make now: what moves, new appointments whose notice runs out today, releases to ask for."""
    found = [*_moved(job, schedule), *_new(job, schedule), *_releases(job, plan)]
    return tuple(sorted(found, key=lambda c: (c.by, c.now or job.facts.as_of, c.id)))


def moved_appointments(job: StandingJob, schedule: Schedule) -> list[Appointment]:
    """Return the appointments known to the other side that a plan does not keep."""
    every = [*(f.appointment for f in job.fallen), *job.standing]
    return [a for a in every if a.called and not a.kept(dict(schedule.dates))]


def _moved(job: StandingJob, schedule: Schedule) -> Iterator[Call]:
    because = {f.appointment.id: f.because for f in job.fallen}
    for a in moved_appointments(job, schedule):
        start = min(schedule.dates[x][0] for x in a.activities)
        was, now = job.network.clock.when(a.shown), job.network.clock.when(start)
        gives = f" It gives up {a.party.notice_said()}." if a.in_notice and a.party.notice_days else ""
        why = f" {because[a.id]}" if a.id in because else ""
        text = (
            f"Call {a.party.contact}: move {a.party.about} from {job.network.clock.spoken(a.shown)} "
            f"to {job.network.clock.spoken(start)}.{why}{gives}"
        )
        yield Call(f"move/{a.id}", a.party.contact, a.party.about, was, now, _now(job), a.in_notice, text, a.activities)


def _now(job: StandingJob) -> datetime:
    return job.facts.as_of.astimezone(job.network.clock.when(0).tzinfo)


def _new(job: StandingJob, schedule: Schedule) -> Iterator[Call]:
    """Yield a call for each appointment nobody has made yet and whose notice must be given before tomorrow."""
    known = {x for a in moved_appointments(job, schedule) for x in a.activities}
    known |= {x for a in job.standing if a.called and a.kept(dict(schedule.dates)) for x in a.activities}
    clock = job.network.clock
    for party in job.parties:
        visits: dict[object, list[str]] = {}
        for x in party.activities:
            activity = job.network.by_id[x]
            if x not in known and not activity.happened and x not in job.facts.begun:
                visits.setdefault(clock.when(schedule.dates[x][0]).date(), []).append(x)
        for activities in visits.values():
            start = min(schedule.dates[x][0] for x in activities)
            by = _deadline(job, party, start)
            if by.date() <= _now(job).date():
                text = f"Call {party.contact}: book {party.about} for {clock.spoken(start)} ({party.notice_said()})."
                when = clock.when(start)
                yield Call(
                    f"book/{party.of}/{when.date().isoformat()}",
                    party.contact,
                    party.about,
                    None,
                    when,
                    max(by, _now(job)),
                    False,
                    text,
                    tuple(activities),
                )


def _deadline(job: StandingJob, party: Party, start: int) -> datetime:
    """Return the last moment at which a call gives a party its notice."""
    desk = desk_hours(job.site, job.network)
    return job.network.clock.when(last_call(job.network, party.calendar, desk, start, party.notice_days))


def _releases(job: StandingJob, plan: Plan) -> Iterator[Call]:
    starts = {a.id: a.start for a in plan.activities}
    for point in job.facts.unreleased.values():
        open_ = [g for g in point.hold.gates if g in starts and g not in job.facts.done]
        if not open_:
            continue
        first = min(open_, key=lambda g: starts[g])
        who = names(point.releasers)
        text = f"Ask {who} to release: {point.hold.name}. {job.network.by_id[first].name} waits for it."
        by = max(starts[first], _now(job))
        yield Call(f"release/{point.hold.id}", who, point.hold.name, None, None, by, False, text, tuple(open_))


def open_ft_nights_left(job: StandingJob, schedule: Schedule) -> float:
    """Return the feet of trench open over the nights still to come, summed [ft nights]."""
    nights = midnights(job.network.clock, job.facts.now, job.network.horizon)
    total = 0.0
    for opening in job.network.openings:
        opens, closes = schedule.dates[opening.opens][0], schedule.dates[opening.closes][1]
        total += opening.length_ft * sum(opens < n < closes for n in nights)
    return total


def cost_of(job: StandingJob, network: Network, schedule: Schedule) -> float:
    """Return the whole job's cost with a plan, the fees for looking again included."""
    again = sum(p.reinspection_fee for look in job.facts.failed for p in job.parties if look in p.activities)
    return round(_cost(network, schedule) + again, 2)
