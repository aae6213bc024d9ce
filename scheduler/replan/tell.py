"""What an alternative means for people: what moves and why, and whom to call today."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from scheduler.ledger.doers import trade_said
from scheduler.measures import exposure
from scheduler.network.model import Network
from scheduler.plan import Plan, PlanActivity
from scheduler.replan.looking_again import fees_again
from scheduler.replan.replan_records import Move
from scheduler.schedule import Schedule
from scheduler.situation.appointments import Appointment
from scheduler.situation.call_words import CallDue
from scheduler.situation.calls_due import calls_for_change
from scheduler.situation.job import StandingJob
from scheduler.situation.trade_notice import InTime
from scheduler.solve.goals import Cost, Money
from scheduler.spoken import length
from scheduler.units import format_nights, format_station


@dataclass(frozen=True, slots=True)
class Bought:
    """What a new plan gains by moving more than it must, beside the old plan in which only what must move was moved."""

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
        gains.append(f"{format_nights(nights)} less of open trench")
    money, cost = (
        (goal.amount(network, pushed) - goal.amount(network, schedule)) / goal.per_unit for goal in (Money(), Cost())
    )
    if money >= 1:
        gains.append(f"{money:,.0f} less for visits and coming to site")
    if cost >= 1 and not (ticks > 0 or nights >= 1 or abs(cost - money) < 1):
        gains.append(f"{cost:,.0f} less in all")
    return Bought(f"Part of what buys this: {', '.join(gains)}." if gains else "", pushed)


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
                place=_place(job, row),
                short_notice=row.id in told and not told[row.id].holds(schedule.dates[row.id][0]),
            )
        )
    return tuple(sorted(found, key=lambda m: (m.now, m.finish_now, m.activity)))


def _place(job: StandingJob, row: PlanActivity) -> str:
    name = next((a.name for a in job.site.alignments if a.id == row.alignment), row.alignment)
    return f"{name} {format_station(row.from_ft)} to {format_station(row.to_ft)}" if name else ""


def doer(job: StandingJob, activity: str, trade: str) -> str:
    """Return who does a piece of work, by name: an outside party, else its trade."""
    party = next((p for p in job.parties if activity in p.activities), None)
    if party is not None:
        return party.who
    done = job.facts.done.get(activity)
    return trade_said(job.site, job.facts.state, trade, done.finish if done is not None else None)


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


def calls(job: StandingJob, plan: Plan) -> tuple[CallDue, ...]:
    """Return the calls to make today if a plan is worked by from now on."""
    because = {a: f.because for f in job.fallen for a in f.appointment.activities}
    return calls_for_change(job.facts, plan, job.before, because)


def moved_appointments(job: StandingJob, schedule: Schedule) -> list[Appointment]:
    """Return the appointments known to the other side that a plan does not keep."""
    every = [*(f.appointment for f in job.fallen), *job.standing]
    return [a for a in every if a.called and not a.kept(dict(schedule.dates))]


def moved_before(job: StandingJob, schedule: Schedule, calls: Iterable[CallDue]) -> list[CallDue]:
    """Return the calls about appointments on record that a plan does not keep because the plan before did not.

    Such an appointment stands where the plan before put it; its people know the time on record all the same.
    """
    counted = {a for moved in moved_appointments(job, schedule) for a in moved.activities}
    outside = {p.of for p in job.parties}
    return [c for c in calls if c.kind == "moved" and c.on_record and c.of in outside and not counted & {*c.activities}]


def cost_of(job: StandingJob, network: Network, schedule: Schedule) -> float:
    """Return what is still to come costs with a plan [dollars], the fees for looking again included."""
    return round(Cost().amount(network, schedule) / Cost().per_unit + fees_again(job), 2)
