"""A plan with what its papers say of it: names instead of ids, worked hours, what waits for which hold point."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import cached_property

from scheduler.ledger.doers import in_todays_names, trade_said
from scheduler.ledger.holds import HoldPoint
from scheduler.ledger.rights import names, releasers
from scheduler.ledger.state import State
from scheduler.measures import open_ft, worked
from scheduler.network.kind import Kind
from scheduler.network.model import Hold, Network
from scheduler.network.outside import outside_id
from scheduler.network.own_steps import stranger
from scheduler.plan import Plan, PlanActivity, PlanHold, PlanVisit
from scheduler.schedule import Span
from scheduler.site.people import OutsideWork
from scheduler.site.site_record import Site
from scheduler.situation.call_list import calls_of
from scheduler.situation.call_words import CallDue
from scheduler.situation.calls_due import calls_due
from scheduler.situation.job_facts import facts_at
from scheduler.situation.situation import Situation
from scheduler.situation.what_was_told import WhatWasTold, what_was_told
from scheduler.situation.work_states import WorkStands, WorkState
from scheduler.spoken import count, moment
from scheduler.units import format_station

NO_APPOINTMENT = "No appointment on record yet."
Day = tuple[datetime, datetime]
"""From when to when something is worked on in one day."""


@dataclass(frozen=True, eq=False)
class PaperFacts:
    """A plan, the site it was made from, and the network that site gives. Times are local to the site.

    One equals itself only, so that what is made of it can be kept by it.
    """

    plan: Plan
    site: Site
    network: Network
    situation: Situation | None = None
    """The site as it stands by the journal, with this plan to work by; None: no journal is kept."""

    @property
    def record(self) -> str:
        """How far the record goes, in a line for every paper, so that one in a drawer can prove the journal.

        Empty where none is kept.
        """
        if self.situation is None:
            return ""
        head, when = self.situation.head, moment(self.situation.moment)
        return f"Record at entry {head}, {when}" if head else f"Nothing on record, {when}"

    @property
    def entries(self) -> int:
        """How many entries were on record, but for the plans accepted; it only grows."""
        state = self._state
        return max(0, state.last.number - len(state.plans)) if state.last is not None else 0

    @property
    def now(self) -> datetime | None:
        """The moment at which the record was read; None where none is kept."""
        return self.situation.moment if self.situation is not None else None

    def stands(self, activity: str) -> WorkStands | None:
        """Return how a piece of work stands by the record; None where none is kept."""
        return self.situation.work.get(activity) if self.situation is not None else None

    def point(self, hold: str) -> HoldPoint | None:
        """Return how a hold point stands by the record; None where none is kept."""
        return self.situation.hold(hold) if self.situation is not None else None

    def person(self, id_: str) -> str:
        """Return the name of a person; the id of one whom the site file does not know."""
        return next((p.name for p in self.site.people if p.id == id_), id_)

    @cached_property
    def work(self) -> Mapping[str, PlanActivity]:
        """Activities by id."""
        return {a.id: a for a in self.plan.activities}

    @cached_property
    def holds(self) -> Mapping[str, PlanHold]:
        """Hold points by id."""
        return {h.id: h for h in self.plan.holds}

    @cached_property
    def waits_for(self) -> Mapping[str, list[PlanHold]]:
        """Hold points that an activity waits for, by its id."""
        waiting: dict[str, list[PlanHold]] = {}
        for hold in self.plan.holds:
            for gate in hold.gates:
                waiting.setdefault(gate, []).append(hold)
        return waiting

    @cached_property
    def outside(self) -> Mapping[str, OutsideWork]:
        """Work that others do, by the id of its activity."""
        return {outside_id(w.id): w for w in self.site.outside_work}

    @cached_property
    def line_names(self) -> Mapping[str, str]:
        """Names of lines by id."""
        return {line.id: line.name for line in self.site.lines}

    @cached_property
    def _alignments(self) -> Mapping[str, str]:
        return {a.id: a.name for a in self.site.alignments}

    @cached_property
    def _network_holds(self) -> Mapping[str, Hold]:
        return {h.id: h for h in self.network.holds}

    @cached_property
    def _dates(self) -> Mapping[str, Span]:
        tick = self.network.clock.tick
        return {a.id: (tick(a.start), tick(a.finish)) for a in self.plan.activities}

    def local(self, when: datetime) -> datetime:
        """Return a moment in the site's time zone."""
        return when.astimezone(self.network.clock.when(0).tzinfo)

    def place(self, activity: PlanActivity) -> str:
        """Return where an activity is, with stations: `Main drive trench 1+60 to 2+20`; empty for the whole site."""
        name = self._alignments.get(activity.alignment, activity.alignment)
        return f"{name} {format_station(activity.from_ft)} to {format_station(activity.to_ft)}" if name else ""

    def what(self, activity: PlanActivity) -> str:
        """Return what is done without where, for papers that say where beside it."""
        return without(activity.name, self.place(activity))

    def who(self, activity: PlanActivity) -> str:
        """Return who does an activity, as people say it."""
        if activity.trade:
            known = self.situation.doers.get(activity.id) if self.situation is not None else None
            return known or self.trade_said(activity.trade)
        return self.outside[activity.id].by if activity.id in self.outside else stranger(self.site, activity.id)

    def trade_said(self, trade: str) -> str:
        """Return who does what is left of a trade's work: its name, or that of the firm that took it over."""
        return trade_said(self.site, self._state, trade)

    def in_todays_names(self, text: str) -> str:
        """Return what the plan says of work still to be done, by the firms that do it now."""
        return in_todays_names(self.site, self._state, text)

    @property
    def _state(self) -> State:
        return self.situation.state if self.situation is not None else State()

    def days(self, activity: PlanActivity) -> list[Day]:
        """Return the first and last worked moment of each day with work on an activity.

        Of what is done these are the recorded ones. They may lie outside the hours of its calendar; then the whole
        span counts.
        """
        when, tick = self.network.clock.when, self.network.clock.tick
        start, finish = self.span(activity)
        span = tick(start), tick(finish)
        known = activity.id in self.network.by_id
        blocks = worked(self.network, activity.id, span) if known else []
        by_day: dict[date, Day] = {}
        for begins, ends in blocks or [span]:
            for begun, ended in _by_midnight(when(begins), when(ends)):
                first, _ = by_day.get(begun.date(), (begun, ended))
                by_day[begun.date()] = (first, ended)
        days = list(by_day.values())
        if (start, finish) != (activity.start, activity.finish):  # recorded, to the minute
            days[0], days[-1] = (start, days[0][1]), (days[-1][0] if days[1:] else start, finish)
        return days

    def span(self, activity: PlanActivity) -> Day:
        """Return from when to when an activity is planned, or was done by the record."""
        stands = self.stands(activity.id)
        if stands is None or stands.state is not WorkState.DONE or stands.finished is None:
            return self.local(activity.start), self.local(activity.finish)
        return min(stands.started or activity.start, stands.finished), stands.finished

    def open_ft(self, on: date) -> float:
        """Return the feet of trench that stand open in the night after a day."""
        return open_ft(self.network, self._dates, on)

    def network_hold(self, hold: PlanHold) -> Hold | None:
        """Return a hold point of the plan as the network has it."""
        return self._network_holds.get(hold.id)

    def look(self, hold: PlanHold) -> PlanActivity | None:
        """Return the inspector's look, or the outside work, that a hold point waits for."""
        known = self.network_hold(hold)
        return self.work.get(known.look) if known else None

    def hold_place(self, hold: PlanHold) -> str:
        """Return where a hold point is, with stations."""
        look = self.look(hold)
        places = [self.place(look)] if look and self.place(look) else []
        places = places or [self.place(self.work[g]) for g in hold.gates if g in self.work]
        return "; ".join(dict.fromkeys(p for p in places if p))

    def hold_name(self, hold: PlanHold) -> str:
        """Return what a hold point is about, without where."""
        return without(hold.name, self.hold_place(hold))

    def hold_lines(self, hold: PlanHold) -> list[str]:
        """Return the names of the lines that a hold point is about."""
        known = self.network_hold(hold)
        return [self.line_names.get(line, line) for line in known.lines] if known else []

    def hold_trades(self, hold: PlanHold) -> frozenset[str]:
        """Return the trades whose work is looked at: those of its lines, or else whoever digs and fills."""
        known = self.network_hold(hold)
        lines = set(known.lines) if known else set()
        laid = {line.trade for line in self.site.lines if line.id in lines}
        return frozenset(laid) or frozenset(t.id for t in self.site.trades if t.own)

    def criteria(self, hold: PlanHold) -> str:
        """Return what is looked for."""
        known = self.network_hold(hold)
        return known.criteria if known else ""

    def releases(self, hold: PlanHold) -> str:
        """Return who may release a hold point, with the firm: `Carol Dunn (Sorrel County), or Ben Ito`."""
        known = self.network_hold(hold)
        people = releasers(self.site, self.network, known) if known else ()
        return names(people) if people else hold.released_by or "the authority"

    def opened(self, hold: PlanHold) -> datetime | None:
        """Return when the first dig in a hold point's reaches begins, or began; None when nothing is dug there."""
        digs = [self.begun(a) for a in self.plan.activities if a.kind is Kind.DIG and a.reach in hold.reaches]
        return min(digs, default=None)

    def begun(self, activity: PlanActivity) -> datetime:
        """Return when an activity began by the record, or is planned to begin."""
        stands = self.stands(activity.id)
        return stands.started if stands is not None and stands.started is not None else activity.start

    def visit_appointment(self, visit: PlanVisit) -> str:
        """Return what is amiss with a visit's appointment; empty when the inspector knows of that time."""
        holds = (self._network_holds[h].look for h in visit.covers if h in self._network_holds)
        looks = {k: self.work[k].start for k in holds if k in self.work}
        return self._appointment(visit.inspection, looks or {"": visit.start})

    def work_appointment(self, activity: PlanActivity) -> str:
        """Return what is amiss with the appointment for others' work; empty for own work, and where they know."""
        work = self.outside.get(activity.id)
        return "" if work is None else self._appointment(work.id, {activity.id: activity.start})

    def _appointment(self, of: str, starts: Mapping[str, datetime]) -> str:
        tick = self.network.clock.tick
        over = {a for a in starts if (stands := self.stands(a)) is not None and stands.over}
        unknown = [a for a, start in starts.items() if a not in over and not self._told.keeps(of, a, tick(start))]
        if not unknown:
            return ""
        if len(unknown) < len(starts):
            return f"On record for {len(starts) - len(unknown)} of {count(len(starts), 'look')} only."
        words = [w for a in unknown if (w := self._told.named(of, a)) is not None] or self._told.open_ones(of)
        known = next((w for w in words if w.how != "expected" and w.until > tick(self.asked_at)), None)
        if known is None:
            return NO_APPOINTMENT
        party, clock = next(p for p in self._told.parties if p.of == of), self.network.clock
        wanted = party.asked(clock, min(starts.values()))
        return f"{known.how.capitalize()} {party.asked(clock, known.at)}; the plan wants {wanted}."

    @property
    def asked_at(self) -> datetime:
        """As of when it is said whom to call: when the record was read, else the plan's data date."""
        return self.now or self.plan.data_date

    @cached_property
    def calls(self) -> tuple[CallDue, ...]:
        """The calls to make, what is overdue first."""
        if self.situation is not None:
            return calls_of(self.situation)
        return calls_due(facts_at(self.site, self.network, State(), self.plan.data_date), self.plan)

    @cached_property
    def _told(self) -> WhatWasTold:
        if self.situation is None:
            return what_was_told(self.site, self.network, State())
        return what_was_told(self.site, self.situation.network, self.situation.state)


def without(name: str, place: str) -> str:
    """Return a name without the place at its end."""
    return name.removesuffix(place).rstrip(" ,:") or name if place else name


def joined(words: Iterable[str]) -> str:
    """Write a list to read: `a, b and c`."""
    *most, last = list(words) or [""]
    return f"{', '.join(most)} and {last}" if most else last


def _by_midnight(start: datetime, finish: datetime) -> list[Day]:
    """Cut a stretch of time at local midnights; one of no length stays one."""
    pieces = []
    while start.date() < finish.date():
        night = datetime.combine(start.date() + timedelta(days=1), time(), start.tzinfo)
        pieces.append((start, night))
        start = night
    if start < finish or not pieces:
        pieces.append((start, finish))
    return pieces
