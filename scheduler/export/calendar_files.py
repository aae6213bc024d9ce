"""Calendars for phones and desks: iCalendar (RFC 5545) in the PUBLISH method of RFC 5546, and reading our own back."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any
from uuid import uuid5

from icalendar import Alarm, Calendar, vCalAddress, vDuration, vText
from icalendar import Event as Entry

from scheduler.errors import BadInput
from scheduler.export.audiences import Audience
from scheduler.export.calendar_events import CANCELLED, CONFIRMED, NAMES, Event, events_of, job_uid
from scheduler.export.history import Published, follow, latest, published_by, raised
from scheduler.export.names import one_line
from scheduler.export.paper_facts import PaperFacts
from scheduler.export.zone import timezone
from scheduler.findings import Finding, Severity
from scheduler.spoken import moment
from scheduler.version import __version__

MAKER = f"-//joint-trench-scheduler//{__version__}//EN"
MAKERS = "joint-trench-scheduler"
LARGEST_MB = 5
REFRESH = timedelta(hours=1)
"""How often a calendar at an address asks to be read again (RFC 7986 section 5.7)."""
ARCHIVED = "This job is archived. Its dates are kept here no longer; ask the contractor what still holds."
SPEAK_UP = timedelta(hours=1)
"""How long before the notice ends a calendar at an address reminds whoever has not agreed yet."""


def calendar(
    facts: PaperFacts,
    party: Audience,
    *,
    made: datetime,
    earlier: Iterable[PaperFacts] = (),
    before: str = "",
    base: str = "",
    at_address: bool = False,
) -> bytes:
    """Return a party's calendar as an iCalendar file.

    `at_address`: it is read again and again from one address, so that it says how often, and reminds of what has to be
    agreed before the notice for it ends.

    `made` is when it is made, an aware time. `earlier` are the plans published before, the oldest
    first, and `before` is the text of the calendar they last got: from either, or both, it follows which
    events move and which are called off. `base` is the address of the dashboard for links.

    Raises BadInput when `before` is no calendar of this program.
    """
    sent, accepted = read_calendar(before) if before else {}, published_by(earlier, party)
    # What was sent since a plan was accepted differs by the record alone: the entries of that number it further.
    unseen = raised({uid: p for uid, p in accepted.items() if uid not in sent}, facts.entries)
    record = latest(sent, {**accepted, **unseen})
    outgoing = follow(record, events_of(facts, party, base), made, facts.plan.data_date, facts.entries)
    shown = sorted(outgoing.values(), key=lambda p: (p.event.start, p.event.uid))
    zone = facts.plan.site.time_zone
    out = Calendar()
    out.add("prodid", MAKER)
    out.add("version", "2.0")
    out.add("method", "PUBLISH")
    name = one_line(f"{facts.plan.site.name}: {party.name}")
    out.add("name", vText(name))  # RFC 7986 section 5.1; the older way is the next
    out.add("x-wr-calname", vText(name))
    if facts.record:
        out.add("description", facts.record)  # RFC 7986 section 5.2, of the whole calendar
    if at_address:
        _lives_at_an_address(out, f"{job_uid(facts.plan)}/{party.kind}/{party.id}", made)
    days = [d.date() for p in shown for d in (p.event.start, p.event.finish)] or [facts.plan.data_date.date()]
    out.add_component(timezone(zone, min(days), max(days)))
    organiser = _organiser(facts)
    reminded = _reminders(facts, party, [p.event for p in shown], made) if at_address else {}
    for state in shown:
        entry = _entry(facts, state, made, organiser)
        if state.event.uid in reminded:
            entry.add_component(reminded[state.event.uid])
        out.add_component(entry)
    text: bytes = out.to_ical()
    return text


def empty_calendar(site: str, party: Audience, made: datetime, *, archived: bool = False) -> bytes:
    """Return the calendar of a party of a job without dates, for the address of that calendar.

    No plan is in force there yet; or it was `archived` at the moment given, which an entry on that day says.
    """
    out = Calendar()
    out.add("prodid", MAKER)
    out.add("version", "2.0")
    out.add("method", "PUBLISH")
    name = one_line(f"{site}: {party.name}")
    out.add("name", vText(name))
    out.add("x-wr-calname", vText(name))
    out.add("description", ARCHIVED if archived else "No plan is in force yet.")
    _lives_at_an_address(out, f"{site}/{party.kind}/{party.id}", made)
    if archived:
        entry = Entry()
        entry.add("uid", str(uuid5(NAMES, f"{site}/{party.kind}/{party.id}/archived")))
        entry.add("dtstamp", made.astimezone(UTC))
        entry.add("dtstart", made.date())
        entry.add("summary", vText(one_line(f"{site}: {ARCHIVED}")))
        entry.add("transp", "TRANSPARENT")
        out.add_component(entry)
    text: bytes = out.to_ical()
    return text


def _lives_at_an_address(out: Calendar, name: str, made: datetime) -> None:
    out.add("uid", str(uuid5(NAMES, name)))  # RFC 7986 section 5.3
    out.add("last-modified", made.astimezone(UTC))  # section 5.4
    out.add("refresh-interval", vDuration(REFRESH), parameters={"VALUE": "DURATION"})  # section 5.7
    out.add("x-published-ttl", vDuration(REFRESH))


def _reminders(facts: PaperFacts, party: Audience, events: Sequence[Event], made: datetime) -> dict[str, Alarm]:
    """Return a reminder by the UID of its event, for each call that is still to be agreed and in time for its notice.

    A trade is reminded of its own comings, not of the visits to its work.
    """
    found: dict[str, Alarm] = {}
    for call in facts.calls:
        if party.kind == "trade" and call.of != party.id:
            continue
        day = call.now.date() if call.now is not None else None
        theirs = (e for e in events if set(e.about) & set(call.activities) and facts.local(e.start).date() == day)
        event = next(theirs, None)
        if event is None or call.by - SPEAK_UP <= made or event.status == CANCELLED:
            continue
        alarm = Alarm()
        alarm.add("action", "DISPLAY")
        alarm.add("description", one_line(f"Not agreed yet. The notice for it ends {moment(facts.local(call.by))}."))
        alarm.add("trigger", (call.by - SPEAK_UP).astimezone(UTC), parameters={"VALUE": "DATE-TIME"})
        found.setdefault(event.uid, alarm)
    return found


def _organiser(facts: PaperFacts) -> vCalAddress:
    """Return who publishes, which RFC 5546 section 3.2.1 asks for; the site file knows no mail addresses."""
    general = next((p for p in facts.site.people if p.role == "general_contractor"), None)
    name = ", ".join(n for n in (general.name, general.of) if n) if general else facts.plan.site.name
    address = vCalAddress(job_uid(facts.plan).urn)
    address.params["CN"] = one_line(name.replace('"', "'"))
    return address


def _entry(facts: PaperFacts, state: Published, made: datetime, organiser: vCalAddress) -> Entry:
    event, entry = state.event, Entry()
    entry.add("uid", event.uid)
    entry.add("sequence", state.sequence)
    entry.add("dtstamp", made.astimezone(UTC))
    entry.add("last-modified", (state.modified or made).astimezone(UTC))
    entry.add("dtstart", facts.local(event.start))
    if event.finish > event.start:  # RFC 5545 section 3.6.1: without an end it ends as it begins
        entry.add("dtend", facts.local(event.finish))
    entry.add("summary", one_line(event.summary))
    if event.place:
        entry.add("location", one_line(event.place))
    if event.description:
        entry.add("description", "\n".join(map(one_line, event.description.splitlines())))
    if event.categories:
        entry.add("categories", [one_line(c) for c in event.categories])
    entry.add("status", event.status)
    entry.add("organizer", organiser)
    if event.link:
        entry.add("url", event.link)
    return entry


def read_calendar(text: str) -> dict[str, Published]:
    """Return the events of a calendar that this program wrote, by UID.

    Raises BadInput when it is too large, no calendar, or somebody else's.
    """
    try:
        if len(text) > LARGEST_MB * 1_000_000:
            raise unreadable(f"{len(text) / 1e6:.1f} MB")
        read = Calendar.from_ical(text)
        if MAKERS not in str(read.get("prodid", "")):
            raise unreadable(f"a calendar made by {str(read.get('prodid', 'nobody'))[:60]}")
        return {p.event.uid: p for p in map(_published, read.walk("VEVENT"))}
    except (ValueError, KeyError, TypeError, AttributeError, IndexError):
        raise unreadable("text that is no iCalendar") from None


def _published(entry: Any) -> Published:
    start = entry.decoded("dtstart")
    finish = entry.decoded("dtend", start)
    if not (isinstance(start, datetime) and start.tzinfo and isinstance(finish, datetime) and finish.tzinfo):
        raise unreadable("an event without time zone")
    event = Event(
        uid=str(entry["uid"]),
        start=start,
        finish=finish,
        summary=str(entry.get("summary", "")),
        place=str(entry.get("location", "")),
        description=str(entry.get("description", "")),
        categories=tuple(str(c) for group in _groups(entry) for c in group.cats),
        status=str(entry.get("status", CONFIRMED)),
        link=str(entry.get("url", "")),
    )
    return Published(event, int(entry.get("sequence", 0)), entry.decoded("last-modified", None))


def _groups(entry: Any) -> list[Any]:
    groups = entry.get("categories", [])
    return groups if isinstance(groups, list) else [groups]


def unreadable(found: str, where: str = "earlier calendar") -> BadInput:
    """Return the fault of a calendar that was to be updated and cannot be read."""
    text = "The calendar exported earlier cannot be read, so its events cannot be updated in place."
    required = "a calendar that this program wrote, or none"
    return BadInput([Finding("export/calendar", Severity.STOP, where, text, found, required)])
