"""Witness points: work may go on when the witness was called in time, for hours they keep, and did not come."""

from __future__ import annotations

from datetime import datetime, timedelta

from scheduler import spoken
from scheduler.ledger.call_events import Called
from scheduler.ledger.covering import covered
from scheduler.ledger.events import Delayed, Finished, VisitBooked
from scheduler.ledger.evidence import begun_again
from scheduler.ledger.hold_standing import HeldPlace, HoldStatus, Stand
from scheduler.ledger.known import KnownJob
from scheduler.ledger.moments import elapsed, said
from scheduler.ledger.seen import LinePart
from scheduler.ledger.since import undone
from scheduler.ledger.timed import TimedEntry
from scheduler.network.hours import after_notice
from scheduler.network.model import Hold


def kept_away(known: KnownJob, place: HeldPlace) -> Stand:
    """Judge a witness point that nobody looked at: by the best appointment that was made for it."""
    because = ""
    for noted in known.evidence.bookings.values():
        booked = noted.entry.event
        assert isinstance(booked, VisitBooked)
        if not _is_for(known, place.hold, place.part, booked):
            continue
        wrong = _amiss(known, place, noted, booked)
        if not wrong:
            return Stand(HoldStatus.UNATTENDED, since=booked.start, look=noted)
        because = f"the visit booked for {said(known.network.clock, booked.start)} does not count: {wrong}"
    return Stand(HoldStatus.WAITING, because)


def _is_for(known: KnownJob, hold: Hold, part: LinePart, booked: VisitBooked) -> bool:
    inspection = known.looking.looked_for(hold)
    if booked.seen:
        return any(s.inspection == inspection and s.holds(part.alignment, part.line, part.at_ft) for s in booked.seen)
    return hold.look in booked.looks if booked.looks else booked.of == inspection


def _amiss(known: KnownJob, place: HeldPlace, noted: TimedEntry, booked: VisitBooked) -> str:
    """Return what is wrong with an appointment of a witness who did not come; empty when they had their chance."""
    network, clock = known.network, known.network.clock
    length = timedelta(minutes=network.by_id[place.hold.look].work * clock.tick_minutes)
    end = booked.until or elapsed(booked.start, length)
    calendar = network.calendars[network.by_id[place.hold.look].calendar]
    called = after_notice(clock, calendar, clock.tick(noted.by_then, up=True), place.inspection.notice_days)
    first, last = clock.tick(booked.start), clock.tick(elapsed(booked.start, length), up=True)
    if noted.contested_by is not None:
        return f"entry {noted.contested_by} says that it is wrong"
    if end > known.moment:
        return "its time has not passed"
    if end < elapsed(booked.start, length):
        return f"it is shorter than a look takes ({spoken.length(int(length / timedelta(minutes=1)))})"
    if noted.by_then >= booked.start:
        return "it was written down after it began"
    if later := _sent_word(known, place, booked):
        return f"{place.inspection.authority} gave word before it that they cannot come before {said(clock, later)}"
    if called is None or clock.when(called) > booked.start:
        days = place.inspection.notice_days
        return f"{place.inspection.authority} asks for {spoken.count(days, 'working day')} of notice"
    if not any(a <= first and last <= b for a, b in calendar.windows_from(first)):
        return f"{place.inspection.authority} does not come at that hour"
    if unready := _unready(known, place, booked):
        return unready
    since = undone(known, place.hold, place.part, booked.start)
    return f"after it, {since[1]}" if since else ""


def _sent_word(known: KnownJob, place: HeldPlace, booked: VisitBooked) -> datetime | None:
    """Return before when the witness cannot come, by their last word given before an appointment that lies earlier."""
    look, authority, later = place.hold.look, place.inspection.authority.casefold(), None
    ours = {authority, place.inspection.id.casefold()}
    ours |= {n.casefold() for p in known.site.people if p.of.casefold() == authority for n in (p.id, p.name)}
    for noted in known.evidence.words:
        event = noted.entry.event
        if noted.by_then >= booked.start or not isinstance(event, Delayed | Called):
            continue
        who, about = (event.who, event.about) if isinstance(event, Delayed) else (event.of, event.activities)
        if look not in about and (about or who.casefold() not in ours):
            continue
        if event.not_before is not None:
            later = event.not_before if event.not_before > booked.start else None
        elif isinstance(event, Called) and event.answer == "agreed" and event.told_start is not None:
            later = None if event.told_start <= booked.start else later
    return later


def _unready(known: KnownJob, place: HeldPlace, booked: VisitBooked) -> str:
    """Return what work a witness could not have seen, because it was not on record as finished by then."""
    shown = known.looking.directly_before(place.hold.look)
    for activity in known.looking.work_of(place.hold):
        to_be_seen = activity.kind.buries and activity.id in shown
        if not (activity.kind.needs_open_trench or to_be_seen) or not _concerns(place.part, activity.lines):
            continue
        if activity.alignment and not (activity.from_ft < place.part.to_ft and activity.to_ft > place.part.from_ft):
            continue
        reports = [
            (n.felt(booked.start), n.number, n)
            for lo, hi, n in known.evidence.work_on(activity)
            if (not activity.alignment or lo <= place.part.at_ft <= hi) and n.felt(booked.start) <= booked.start
        ]
        last = max(reports, key=lambda r: r[:2], default=None)
        if to_be_seen and (last is None or not begun_again(last[2])):
            if covered(known.evidence, activity, place.part, booked.start).done is None:
                return f"{activity.name} was not on record as finished by then"
            continue
        if last is None or begun_again(last[2]) or not isinstance(last[2].entry.event, Finished) or last[2].ahead:
            return f"{activity.name} was not on record as finished by then"
    return ""


def _concerns(part: LinePart, lines: tuple[str, ...]) -> bool:
    return not part.line or part.line in lines
