"""The appointments in force with those who come from outside, and what a new one must wait for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from scheduler.ledger.call_events import Called
from scheduler.ledger.corrections import superseded
from scheduler.ledger.events import VisitCancelled
from scheduler.ledger.moments import said
from scheduler.ledger.store import Entry
from scheduler.network.hours import after_notice
from scheduler.network.model import Booking, DateRole, DateRule, Network
from scheduler.network.parties import Party
from scheduler.plan import Plan
from scheduler.schedule import Span
from scheduler.situation.facts_records import JobFacts
from scheduler.situation.what_was_told import WhatWasTold, what_was_told
from scheduler.worktime.calendar import Calendar


@dataclass(frozen=True, slots=True)
class Appointment:
    """When somebody from outside is expected, for which activities."""

    id: str
    party: Party
    activities: tuple[str, ...]
    at: int
    until: int
    """Each activity starts in [at, until)."""
    shown: int
    """The tick people know it by: the start of the visit or of the work."""
    booked: bool
    """Whether a booking is on record; else it stands in the plan alone."""
    firm: bool
    in_notice: bool
    """Whether a new appointment at that time could no longer be made: its notice has begun to run."""
    move_cost: float | None = None

    @property
    def called(self) -> bool:
        """Whether the other side knows of it, so that moving it takes a call."""
        return self.booked or self.in_notice

    @property
    def weight(self) -> int:
        """What moving it weighs: one call, and the days of notice it burns."""
        return (1 + (self.party.notice_days if self.in_notice else 0)) if self.called else 0

    @property
    def name(self) -> str:
        """What people call it."""
        return f"{self.party.about}, {self.party.who}"

    def booking(self, network: Network, *, firm: bool) -> Booking:
        """Return it as a booking of a network."""
        when = self.party.asked(network.clock, self.shown)
        given = f"{self.party.about} ({self.party.who}) is appointed for {when}"
        if firm and self.in_notice and not self.firm:
            given += f"; that is inside {self.party.notice_said()}, so it cannot move"
        return Booking(
            self.id,
            f"{self.party.about}, {when}",
            self.activities,
            self.at,
            self.until,
            firm=firm,
            move_cost=self.move_cost,
            because=f"{given}.",
            source="journal" if self.booked else "plan in force",
        )

    def kept(self, dates: dict[str, Span]) -> bool:
        """Tell whether dates keep it."""
        return all(self.at <= dates[a][0] < self.until for a in self.activities)


@dataclass(frozen=True, slots=True)
class Asked:
    """Everything needed to say which appointments stand."""

    facts: JobFacts
    network: Network
    parties: tuple[Party, ...]
    before: Plan
    entries: tuple[Entry, ...]

    def open(self, activities: Iterable[str]) -> tuple[str, ...]:
        """Return those activities of the job that have not begun."""
        by_id = self.network.by_id
        return tuple(
            dict.fromkeys(a for a in activities if a in by_id and not by_id[a].happened and a not in self.facts.begun)
        )

    def floor(self, party: Party) -> int:
        """Return the first tick for which a party can be called now."""
        tick = after_notice(self.network.clock, party.calendar, self.facts.now, party.notice_days)
        return self.network.horizon if tick is None else tick


def appointments(asked: Asked) -> list[Appointment]:
    """Return the appointments in force: booked ones first, then those of the plan that nothing booked replaces."""
    taken: set[str] = set()
    found: list[Appointment] = []
    gone = _called_off(asked)
    told = what_was_told(asked.facts.site, asked.facts.network, asked.facts.state)
    for appointment in [*_agreed(asked, told), *_booked(asked, told), *_of_site(asked, gone), *_planned(asked)]:
        mine = tuple(a for a in appointment.activities if a not in taken)
        if appointment.booked:
            taken.update(appointment.activities)
        elif set(mine) & gone or not mine:
            mine = tuple(a for a in mine if a not in gone)
        if mine and appointment.until > asked.facts.now:
            found.append(replace(appointment, activities=mine))
    return found


def _called_off(asked: Asked) -> set[str]:
    """Return the activities, and ids of bookings, whose appointments were called off and not made again."""
    gone: set[str] = set()
    for visit in asked.facts.state.visits.values():
        if visit.cancelled:
            gone.update(
                _meant(asked, visit.booked.of, visit.booked.looks, asked.network.clock.tick(visit.booked.start))
            )
    for word in asked.facts.state.words:
        if isinstance(word, Called) and word.answer == "agreed":
            gone = gone - set(word.activities) if word.told_start else gone | set(word.activities)
    dropped = superseded(asked.entries)
    gone |= {e.event.visit for e in asked.entries if isinstance(e.event, VisitCancelled) and e.number not in dropped}
    return gone


def _meant(asked: Asked, of: str, looks: tuple[str, ...], at: int) -> tuple[str, ...]:
    """Return what an appointment is for: what it names, else what the plan has in that window, else what is ready."""
    party = next((p for p in asked.parties if p.of == of), None)
    if party is None:
        return ()
    if looks or len(party.activities) == 1:
        return asked.open(looks or party.activities)
    if party.calendar.window_at(at) is not None:
        clock = asked.network.clock
        window = party.kept_in(clock, at)
        dates = {a.id: clock.tick(a.start) for a in asked.before.activities}
        planned = [a for a in party.activities if a in dates and window[0] <= dates[a] < window[1]]
        if there := asked.open(planned):
            return there
    waiting = {k.after for k in asked.network.links if not k.at_most and not asked.network.by_id[k.before].happened}
    return asked.open(a for a in party.activities if a not in waiting)


def _make(
    asked: Asked, id_: str, party: Party, activities: tuple[str, ...], at: int, *, booked: bool, firm: bool = False,
    move_cost: float | None = None,
) -> Appointment:  # fmt: skip
    """Return an appointment: for a visit anywhere in its window or half-day, for other work exactly then."""
    first, until = party.kept_in(asked.network.clock, at)
    return Appointment(id_, party, activities, first, until, at, booked, firm, at < asked.floor(party), move_cost)


def _agreed(asked: Asked, told: WhatWasTold) -> list[Appointment]:
    """Return the appointments that were agreed on in a call, the last one first."""
    found = []
    for word in reversed(told.arranged):
        at = asked.network.clock.tick(word.at)
        party = next((p for p in asked.parties if p.of == word.of), None)
        activities = asked.open(word.activities)
        if word.how == "agreed" and party is not None and activities and at >= asked.facts.now:
            found.append(_make(asked, word.id, party, activities, at, booked=True))
    return found


def _booked(asked: Asked, told: WhatWasTold) -> list[Appointment]:
    """Return the appointments that the journal says are booked, the last word on each activity first."""
    found = []
    stands = {a.id for a in told.arranged}
    for id_, visit in reversed(list(asked.facts.state.visits.items())):
        at = asked.network.clock.tick(visit.booked.start)
        party = next((p for p in asked.parties if p.of == visit.booked.of), None)
        if visit.cancelled or at < asked.facts.now or (party is not None and id_ not in stands):
            continue
        if party is None or not (activities := _meant(asked, visit.booked.of, visit.booked.looks, at)):
            asked.facts.notes.append(f"The visit '{id_}' is booked, but nothing is left for it to see or do.")
            continue
        cost = next((b.move_cost for b in asked.facts.network.bookings if b.id == id_), None)
        found.append(_make(asked, id_, party, activities, at, booked=True, firm=visit.booked.firm, move_cost=cost))
    return found


def _of_site(asked: Asked, gone: set[str]) -> list[Appointment]:
    """Return the appointments of the site file that still stand; one that the plan moved stands where it moved it."""
    found = []
    clock = asked.network.clock
    dates = {a.id: clock.tick(a.start) for a in asked.before.activities}
    for booking in asked.facts.network.bookings:
        activities = asked.open(booking.activities)
        party = next((p for p in asked.parties if set(p.activities) & set(booking.activities)), None)
        rebooked = booking.id in asked.facts.state.visits
        if not activities or party is None or booking.id in gone or rebooked:
            continue
        at = booking.at
        if not booking.firm and not all(booking.at <= dates.get(a, booking.at) < booking.until for a in activities):
            at = min(dates[a] for a in activities if a in dates)
        if at >= asked.facts.now:
            cost = booking.move_cost
            found.append(
                _make(asked, booking.id, party, activities, at, booked=True, firm=booking.firm, move_cost=cost)
            )
    return found


def _planned(asked: Asked) -> list[Appointment]:
    """Return the appointments that stand in the plan in force alone."""
    clock, found = asked.network.clock, []
    starts = {a.id: clock.tick(a.start) for a in asked.before.activities}
    for party in asked.parties:
        by_window: dict[Span, list[str]] = {}
        for activity in asked.open(a for a in party.activities if starts.get(a, -1) >= asked.facts.now):
            window = party.kept_in(clock, starts[activity])
            by_window.setdefault(window, []).append(activity)
        for n, activities in enumerate(by_window.values(), 1):
            at = min(starts[a] for a in activities)
            found.append(_make(asked, f"planned/{party.of}/{n}", party, tuple(activities), at, booked=False))
    return found


def with_notice(asked: Asked, network: Network, standing: Iterable[Appointment]) -> Network:
    """Return a network in which whoever is not appointed yet comes only after the notice they ask for.

    One whose appointment lies before that keeps it, or takes a new one with full notice: its hours
    are those of the appointment, and all its usual hours after the notice.
    """
    kept = {a: appointment for appointment in standing for a in appointment.activities}
    dates, calendars, changed = list(network.dates), dict(network.calendars), {}
    for party in asked.parties:
        floor = asked.floor(party)
        for id_ in asked.open(party.activities) if floor > asked.facts.now else ():
            activity, appointment = network.by_id[id_], kept.get(id_)
            if appointment is None or appointment.at >= floor:
                since = said(network.clock, asked.facts.as_of)
                because = f"{party.who} asks for {party.notice_said()}, counted from {since}."
                source = "site file: notice_days"
                dates.append(
                    DateRule(f"notice/{id_}", id_, floor, role=DateRole.NOTICE, because=because, source=source)
                )
                continue
            hours = network.calendars[activity.calendar]
            name = f"{hours.name}, as appointed or with {party.notice_said()}"
            new = f"{hours.id}, {appointment.id} or from {floor}"
            end = appointment.until if appointment.until - appointment.at > 1 else appointment.at + activity.work
            calendars[new] = Calendar(new, name, within(hours, ((appointment.at, end), (floor, network.horizon))))
            changed[id_] = replace(activity, calendar=new)
    activities = tuple(changed.get(a.id, a) for a in network.activities)
    return replace(network, dates=tuple(dates), calendars=calendars, activities=activities)


def within(hours: Calendar, spans: Iterable[Span]) -> tuple[Span, ...]:
    """Return the windows of a calendar as far as they lie inside one of some spans [ticks]."""
    spans = tuple(spans)
    return tuple(
        (max(start, first), min(end, last))
        for start, end in hours.windows
        for first, last in spans
        if max(start, first) < min(end, last)
    )
