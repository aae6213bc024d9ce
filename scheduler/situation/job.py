"""What is to be planned again: the standing network, the appointments in force, and those that fall away."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from scheduler.ledger.state import State, state_at
from scheduler.ledger.store import Entry
from scheduler.network.dates import Propagation
from scheduler.network.model import DateRole, DateRule, Network
from scheduler.network.parties import Party, parties_of
from scheduler.plan import Plan
from scheduler.schedule import Span
from scheduler.site.site_record import Site
from scheduler.situation.added_by_events import with_events
from scheduler.situation.appointments import Appointment, Asked, appointments, with_notice
from scheduler.situation.facts_records import JobFacts
from scheduler.situation.job_facts import facts_at
from scheduler.situation.standing import standing
from scheduler.solve.first_plan.calendar_fit import CalendarFit
from scheduler.solve.first_plan.partial_schedule import PartialSchedule, plannable


@dataclass(frozen=True, slots=True)
class Fallen:
    """An appointment that the delay itself makes impossible, and why."""

    appointment: Appointment
    because: str


@dataclass(frozen=True)
class StandingJob:
    """Everything the alternatives are made from."""

    site: Site
    facts: JobFacts
    network: Network
    """As it stands, with no bookings in it."""
    parties: tuple[Party, ...]
    before: Plan
    standing: tuple[Appointment, ...]
    fallen: tuple[Fallen, ...]
    new: dict[str, str]
    delayed: dict[str, str]

    def going_on(self) -> StandingJob:
        """Return the same job in which work in progress goes on at once, as far as people and room allow it."""
        job = plannable(self.network)
        dates = forward(job)
        if dates is None:
            return self
        propagation = Propagation(job)
        partial, rules = PartialSchedule(job, propagation, CalendarFit(job)), []
        for id_ in sorted(self.facts.begun, key=lambda a: (self.facts.begun[a].start, a)):
            start = dates[id_][0]
            if partial.earliest(id_, start) == start:
                partial.insert(id_, start)
                because = f"{job.by_id[id_].name} is under way and is not broken off."
                rules.append(DateRule(f"goes on/{id_}", id_, start, sense="max", because=because, source="journal"))
        return replace(self, network=replace(self.network, dates=(*self.network.dates, *rules))) if rules else self

    @property
    def bound(self) -> tuple[Appointment, ...]:
        """The appointments that cannot move: firm ones, and booked ones inside their notice."""
        return tuple(a for a in self.standing if a.firm or (a.booked and a.in_notice))

    def starts_before(self) -> dict[str, int]:
        """Return the starts of the plan before, in ticks."""
        tick = self.network.clock.tick
        return {a.id: tick(a.start) for a in self.before.activities if a.id in self.network.by_id}

    def with_firm(self, firm: Sequence[Appointment]) -> Network:
        """Return the network in which some appointments are fixed and other booked ones cost to move."""
        fixed = {a.id for a in firm}
        soft = [a for a in self.standing if a.booked and a.id not in fixed]
        bookings = [a.booking(self.network, firm=True) for a in firm]
        bookings += [a.booking(self.network, firm=False) for a in soft]
        return replace(self.network, bookings=tuple(bookings))


def job_of(
    site: Site,
    network: Network,
    entries: Sequence[Entry],
    as_of: datetime,
    before: Plan,
    *,
    state: State | None = None,
) -> StandingJob:
    """Return what is to be planned again at an aware moment.

    `state` is what the entries amount to, where the caller has read it already.

    A pass that would lapse before anything could follow it counts as not given: it is looked at again.
    """
    known = tuple(e for e in entries if e.at <= as_of)
    facts = facts_at(site, network, state_at(known, as_of) if state is None else state, as_of)
    parties = parties_of(site, network)
    made = _made(facts, parties, before, known)
    for look in _lapsing(made.network, facts):
        facts.done.pop(look)
        facts.again[look] = "Its pass lapses before what waits for it can begin, so it is looked at again."
        made = _made(facts, parties, before, known)
    return made


def _made(facts: JobFacts, parties: tuple[Party, ...], before: Plan, entries: tuple[Entry, ...]) -> StandingJob:
    eventful = with_events(facts, standing(facts, tuple(before.renewals)), parties)
    asked = Asked(facts, eventful.network, parties, before, entries)
    left = appointments(asked)
    rules = {d.activity: d for d in eventful.network.dates if d.role is DateRole.DELAY}
    off = {a: r.because for a, r in rules.items()}
    kept, fallen = _parted(left, lambda a, x: x in off and rules[x].at >= a.until, lambda x: off[x])
    while True:
        network = with_notice(asked, eventful.network, kept)
        kept, new = _too_early(network, kept)
        if not new:
            return StandingJob(
                facts.site,
                facts,
                network,
                parties,
                before,
                tuple(kept),
                tuple(fallen),
                eventful.new | facts.again,
                eventful.delayed,
            )
        fallen += new


def _parted(
    appointments: Sequence[Appointment], falls: Callable[[Appointment, str], bool], because: Callable[[str], str]
) -> tuple[list[Appointment], list[Fallen]]:
    """Return what is left of appointments, and what of them falls away; a visit may lose some of its looks."""
    kept, fallen = [], []
    for appointment in appointments:
        gone = tuple(x for x in appointment.activities if falls(appointment, x))
        rest = tuple(x for x in appointment.activities if x not in gone)
        if rest:
            kept.append(replace(appointment, activities=rest))
        if gone:
            part = replace(appointment, activities=gone, id=appointment.id + ("/part" if rest else ""))
            fallen.append(Fallen(part, because(gone[0])))
    return kept, fallen


def forward(network: Network) -> dict[str, Span] | None:
    """Return the earliest dates that links, hours and dates leave, upper bounds aside; None when work fits nowhere."""
    links = tuple(k for k in network.links if not k.at_most)
    bare = replace(network, links=links, kept_shut=(), bookings=(), target=None)
    return Propagation(bare).forward()


def _too_early(network: Network, kept: Sequence[Appointment]) -> tuple[list[Appointment], list[Fallen]]:
    """Tell the appointments that come before what they wait for can be done, even if all else makes way."""
    dates = forward(network)
    if dates is None:
        return list(kept), []

    def because(activity: str) -> str:
        when = network.clock.spoken(dates[activity][0])
        return f"What it waits for cannot be done by then; the earliest for it is now {when}."

    return _parted(kept, lambda a, x: dates[x][0] >= a.until, because)


def _lapsing(network: Network, facts: JobFacts) -> list[str]:
    """Return looks that are done and whose pass lapses before what waits for them can start."""
    dates = forward(network)
    if dates is None:
        return []
    found: dict[str, None] = {}
    for link in network.links:
        if link.at_most and link.before in facts.done and not network.by_id[link.after].happened:
            calendar = network.calendars[link.lag_calendar] if link.lag_calendar else None
            since = dates[link.before][1]
            limit = since + link.lag if calendar is None else calendar.advance(since, link.lag)
            if limit is not None and dates[link.after][0] > limit:
                found[link.before] = None
    return list(found)
