"""The site as it stands at a moment: the one record that every page, paper, calendar and command reads.

Three things are never mixed in it. *Recorded*: what the journal says happened. *Planned*: what the plan in force
has. *Due and not reported*: what the plan has by now and the record has not.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property

from scheduler.findings import Finding
from scheduler.ledger.covered_early import covered_unreleased
from scheduler.ledger.doers import trade_said
from scheduler.ledger.heads import head_of
from scheduler.ledger.holds import HoldPoint, hold_points
from scheduler.ledger.known import KnownJob
from scheduler.ledger.state import State, state_at
from scheduler.ledger.store import Entry
from scheduler.ledger.trench_watch import InspectionDue, trench_inspection_due
from scheduler.measures import open_ft, worked
from scheduler.network.model import Network
from scheduler.network.parties import parties_of
from scheduler.plan import Plan
from scheduler.site.site_record import Site
from scheduler.situation.breaches import Breach, breaches
from scheduler.situation.facts_records import JobFacts
from scheduler.situation.in_order import pushed_in_order
from scheduler.situation.job import job_of
from scheduler.situation.job_facts import facts_at
from scheduler.situation.plan_in_force import PlanInForce
from scheduler.situation.stretch_layers import StretchStands, layer_states
from scheduler.situation.work_states import WorkReading, WorkStands, WorkState


@dataclass(frozen=True)
class Situation:
    """The site at a moment. Times are local to the site; lengths in feet."""

    moment: datetime
    site: Site
    network: Network
    state: State
    in_force: PlanInForce | None
    """The plan to work by; None where there is none yet."""
    work: Mapping[str, WorkStands]
    """By activity, in the order of the plan."""
    stretches: tuple[StretchStands, ...]
    holds: tuple[HoldPoint, ...]
    breaches: tuple[Breach, ...]
    """Why the plan no longer holds, the earliest first; empty while it does."""
    earliest_finish: datetime | None
    """The finish that the rest of the plan would still give in its order; None: it no longer fits the hours known."""
    covered: tuple[Finding, ...]
    """What lies covered over a hold point that was not released."""
    to_inspect: tuple[InspectionDue, ...]
    """Open stretches that the competent person has not found safe today, or since the last rain."""
    taken_as_done: tuple[str, ...]
    """Activities that nobody reported and that what followed shows to be done."""
    head: str
    """The last entry of the journal with its short code; empty when nothing is written down."""

    @property
    def plan(self) -> Plan | None:
        """The plan to work by."""
        return self.in_force.plan if self.in_force else None

    @property
    def holds_still(self) -> bool:
        """Whether there is a plan, and nothing on record differs from it."""
        return self.plan is not None and self.plan.finish is not None and not self.breaches

    @property
    def later_minutes(self) -> int | None:
        """How much later than planned the rest of the plan would end in its order; None where that is not known."""
        planned = self.plan.finish if self.plan else None
        if planned is None or self.earliest_finish is None:
            return None
        return round((self.earliest_finish - planned).total_seconds() / 60)

    @cached_property
    def doers(self) -> dict[str, str]:
        """Who does, or did, each piece of a trade's work in the plan, by name."""
        rows = self.plan.activities if self.plan is not None else ()
        return {a.id: trade_said(self.site, self.state, a.trade, self._done_at(a.id)) for a in rows if a.trade}

    def _done_at(self, id_: str) -> datetime | None:
        """Return when a piece of work was done; of what is only taken as done, not later than now."""
        stands = self.work.get(id_)
        return (stands.finished or self.moment) if stands is not None and stands.over else None

    def hold(self, id_: str) -> HoldPoint | None:
        """Return a hold point by its id."""
        return next((p for p in self.holds if p.hold.id == id_), None)

    def hours_on(self, id_: str, on: date) -> tuple[datetime, datetime] | None:
        """Return from when to when the plan has a piece of work worked on on a day; None when it has not."""
        force, stands = self.in_force, self.work[id_]
        if force is None or stands.planned is None or id_ not in force.network.by_id:
            return stands.planned if stands.planned and stands.planned[0].date() == on else None
        if id_ not in self._plan_hours:
            tick, when = force.network.clock.tick, force.network.clock.when
            blocks = worked(force.network, id_, (tick(stands.planned[0]), tick(stands.planned[1])))
            self._plan_hours[id_] = tuple((when(a), when(b)) for a, b in blocks)
        days = [span for span in self._plan_hours[id_] if span[0].date() == on]
        if not days and stands.planned[0].date() == on:
            return stands.planned if stands.planned[0] < stands.planned[1] or stands.kind.takes_time else None
        return (days[0][0], days[-1][1]) if days else None

    @cached_property
    def _plan_hours(self) -> dict[str, tuple[tuple[datetime, datetime], ...]]:
        """From when to when the plan has each piece of work worked on; filled as it is asked for."""
        return {}

    def on_day(self, on: date) -> list[WorkStands]:
        """Return the work that the plan has on a day and that is not on record as done, in order of its hours."""
        found = [(hours, w) for w in self.work.values() if not w.over and (hours := self.hours_on(w.id, on))]
        return [w for _, w in sorted(found, key=lambda pair: (pair[0], pair[1].id))]

    @property
    def proposed(self) -> bool:
        """Whether the plan shown is only a proposal, as none was put in force yet."""
        return self.in_force is not None and self.in_force.proposal

    @property
    def overdue(self) -> list[WorkStands]:
        """Return what the record should have by now and has not, and what has not gone on since an earlier day."""
        return [w for w in self.work.values() if w.overdue]

    @property
    def on_site_now(self) -> list[WorkStands]:
        """Return the work that somebody should be at now: begun by the record, or planned for this hour."""
        here = []
        for stands in self.work.values():
            if stands.over or not stands.kind.takes_time:
                continue
            hours = self.hours_on(stands.id, self.moment.date())
            if stands.started is not None or (hours is not None and hours[0] <= self.moment < hours[1]):
                here.append(stands)
        return here

    @property
    def open_tonight_ft(self) -> float:
        """Feet of trench that stand open as recorded."""
        return sum(o.length_ft for o in self.network.openings if o.id in self._open)

    def is_open(self, opening: str) -> bool:
        """Whether a stretch of trench is recorded dug, or begun, and not closed again."""
        return opening in self._open

    @cached_property
    def _open(self) -> frozenset[str]:
        return frozenset(o.id for o in self.network.openings if self._dug(o.opens) and not self.work[o.closes].over)

    def planned_open_ft(self, on: date) -> float | None:
        """Return the feet of trench that the plan has open in the night after a day; None without a plan."""
        force = self.in_force
        if force is None or force.schedule is None:
            return None
        tick = force.network.clock.tick
        dates = {a.id: (tick(a.start), tick(a.finish)) for a in force.plan.activities}
        return open_ft(self.network, dates, on)

    def _dug(self, dig: str) -> bool:
        stands = self.work[dig]
        return stands.over or stands.started is not None


def situation_at(
    site: Site,
    network: Network,
    entries: Sequence[Entry],
    moment: datetime,
    in_force: PlanInForce | None,
    *,
    state: State | None = None,
) -> Situation:
    """Return the site as it stands at an aware moment.

    `network` is the one derived from the site; `state` is what the entries amount to, where the caller has read it
    already (what was written down by the moment, when left out).
    """
    moment = moment.astimezone(network.clock.when(0).tzinfo)
    state = state_at(entries, moment) if state is None else state
    plan = in_force.plan if in_force is not None else None
    points = hold_points(site, network, state, moment)
    job = job_of(site, network, entries, moment, plan, state=state) if plan is not None and plan.activities else None
    facts = job.facts if job is not None else facts_at(site, network, state, moment)
    reading = WorkReading(
        KnownJob(site, network, state, moment),
        facts,
        plan,
        points,
        _doers(facts, plan),
        in_force.network if in_force is not None else network,
        proposal=in_force is not None and in_force.proposal,
    )
    work = reading.all()
    found = breaches(reading, plan, work) if plan is not None and plan.activities else ()
    finish = plan.finish if plan is not None else None
    if job is not None and found and in_force is not None and in_force.schedule is not None:
        pushed = pushed_in_order(in_force.network, in_force.schedule, job.network)
        finish = None if pushed is None else network.clock.when(max(f for _, f in pushed.values()))
    last = state.last.entry if state.last else None
    return Situation(
        moment,
        site,
        network,
        state,
        in_force,
        work,
        layer_states(network, work, moment),
        points,
        found,
        finish,
        tuple(covered_unreleased(site, network, state, moment)) if entries else (),
        trench_inspection_due(site, network, state, moment),
        tuple(w.id for w in work.values() if w.state is WorkState.TAKEN),
        str(head_of([last])) if last is not None and last.hash else "",
    )


def _doers(facts: JobFacts, plan: Plan | None) -> dict[str, str]:
    """Return who does each piece of work, by name."""
    found = {}
    for a in (*(plan.activities if plan else ()), *facts.network.activities):
        done = facts.done.get(a.id)
        found[a.id] = trade_said(facts.site, facts.state, a.trade, done.finish if done is not None else None)
    for party in parties_of(facts.site, facts.network):
        found.update(dict.fromkeys(party.activities, party.who))
    return found
