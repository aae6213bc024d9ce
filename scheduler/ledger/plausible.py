"""Why an event cannot be true, or is not theirs to say who say it: what is refused before it is written down."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from difflib import get_close_matches

from scheduler.findings import Finding, Severity
from scheduler.ledger.call_events import AskedInWriting, Called
from scheduler.ledger.corrections import OF_AUTHORITY, may_correct
from scheduler.ledger.day_events import LineStruck, TestFailed, TrenchInspected
from scheduler.ledger.events import (
    Corrected,
    Event,
    HoldReleased,
    Inspected,
    InspectionFailed,
    PassStands,
)
from scheduler.ledger.ground_events import Rained, StopWork, StopWorkLifted
from scheduler.ledger.halts import may_lift
from scheduler.ledger.rights import COMPETENT, CONTRACTOR, in_office, local_day, may_look, person_of
from scheduler.ledger.seen import Looking
from scheduler.ledger.state import State, fold
from scheduler.ledger.store import Entry
from scheduler.ledger.timed import CLOCK_SLACK
from scheduler.ledger.trade_events import TakenOver
from scheduler.network.model import Network
from scheduler.network.outside import outside_id
from scheduler.network.parties import ids_to_call
from scheduler.site.site_record import Site
from scheduler.spoken import length, typed
from scheduler.units import format_inches, format_station

MOST_AGE = timedelta(days=7)
"""A fact that is older when it is written down must say why only now."""
MOST_RAIN_IN_AN_HOUR_IN = 12.0
"""The most rain ever measured in an hour (Holt, Missouri, 1947; World Meteorological Organization)."""
DEEPEST_IN = 600.0
"""No trench of this program is as deep."""
ADDED = ("repair/", "rain/")
"""How the ids of work begin that only re-plans have."""


@dataclass(frozen=True, slots=True)
class Writing:
    """One event before it is written down, and what is known then."""

    site: Site
    network: Network
    entries: tuple[Entry, ...]
    at: datetime
    by: str
    looking: Looking

    @property
    def state(self) -> State:
        """What is known then."""
        return fold(self.entries, self.at)


def faults_of(writing: Writing, happened: Event) -> list[Finding]:
    """Return every reason why an event is not written down."""
    faults = [*_blanks(happened), *_times(writing, happened), *_places(writing, happened), *_people(writing, happened)]
    if isinstance(happened, Corrected):
        faults += _correction(writing, happened)
    return faults


def _fault(where: str, text: str, required: str = "", found: str = "") -> Finding:
    return Finding("report/input", Severity.STOP, where, text, found, required)


def _blanks(happened: Event) -> Iterator[Finding]:
    """Give words that must be said and say nothing: blanks, dots, letters that cannot be seen."""
    for name in ("evidence", "conditions", "faults", "reason", "because", "what", "told"):
        said = getattr(happened, name, None)
        if isinstance(said, str) and not any(letter.isalnum() for letter in said):
            yield _fault(name.capitalize(), "It says nothing; say it in words.")


def _times(writing: Writing, happened: Event) -> Iterator[Finding]:
    """Give what is wrong with when it is said to have happened, against the clock at hand."""
    when = getattr(happened, "when", None)
    if isinstance(happened, Rained):
        when = happened.until
    if when is None:
        return
    if when - writing.at > CLOCK_SLACK:
        yield _fault(
            "When",
            "It has not happened yet by the clock here; what is still to come is planned or booked, not reported.",
            f"at most {typed(writing.at.astimezone(when.tzinfo))}",
            typed(when),
        )
    if writing.at - when > MOST_AGE and not getattr(happened, "late_because", "").strip():
        yield Finding(
            "report/late",
            Severity.STOP,
            "When",
            f"It is more than {length(int(MOST_AGE / timedelta(minutes=1)))} ago: say why it is written down only now.",
            typed(when),
            "a reason",
        )


def _places(writing: Writing, happened: Event) -> Iterator[Finding]:
    """Give stations beyond the end of an alignment, and amounts that cannot be."""
    id_ = getattr(happened, "alignment", None)
    alignment = next((a for a in writing.site.alignments if a.id == id_), None)
    if id_ is not None and alignment is None:
        yield _fault("Alignment", "It names nothing on this site.", found=str(id_))
    for name in ("from_ft", "to_ft", "station_ft"):
        station = getattr(happened, name, None)
        if alignment is not None and station is not None and station > alignment.length_ft + 0.01:
            yield _fault(
                name.removesuffix("_ft").capitalize() + " station",
                f"{alignment.name} ends before that.",
                f"at most {format_station(alignment.length_ft)}",
                format_station(station),
            )
    if isinstance(happened, Rained) and happened.inches is not None:
        hours = (happened.until - happened.start) / timedelta(hours=1)
        if happened.inches > MOST_RAIN_IN_AN_HOUR_IN * max(1.0, hours):
            yield _fault(
                "Rain",
                "No rain is as heavy as that.",
                f"at most {format_inches(MOST_RAIN_IN_AN_HOUR_IN * max(1.0, hours))}, in the unit asked for",
                format_inches(happened.inches),
            )
    deep = getattr(happened, "cover_in", None)
    if deep is not None and max(deep, abs(getattr(happened, "offset_in", 0.0))) > DEEPEST_IN:
        yield _fault(
            "Cover and offset",
            "No trench is as wide or deep.",
            f"at most {format_inches(DEEPEST_IN)}",
            format_inches(deep),
        )


def _people(writing: Writing, happened: Event) -> Iterator[Finding]:
    """Give who is not known, or may not say what they are said to have said."""
    if isinstance(happened, Inspected | PassStands):
        yield from _inspector(writing, happened)
    if isinstance(happened, HoldReleased):
        if all(h.id != happened.hold for h in writing.network.holds):
            yield _fault("Hold", "It is no hold point of this site.", found=happened.hold)
        if person_of(writing.site, happened.person) is None:
            yield _fault("Person", "This is nobody in the site's list of people.", found=happened.person)
    if isinstance(happened, StopWorkLifted):
        yield from _lifting(writing, happened)
    if isinstance(happened, Called | AskedInWriting):
        yield from _call(writing, happened)
    if isinstance(happened, TrenchInspected):
        yield from _competent(writing, happened)
    if isinstance(happened, TestFailed):
        yield from _activity(writing, happened)
    if isinstance(happened, TakenOver) and all(t.id != happened.trade for t in writing.site.trades):
        known = ", ".join(t.id for t in writing.site.trades)
        yield _fault("Trade", "It is no trade of this site.", f"one of {known}", happened.trade)


def _inspector(writing: Writing, happened: Inspected | PassStands) -> Iterator[Finding]:
    holds = {h.look: h for h in writing.network.holds}
    if person_of(writing.site, happened.inspector) is None:
        known = ", ".join(p.id for p in writing.site.people if p.role in ("inspector", "utility")) or "somebody"
        text = "This inspector is nobody in the site's list of people."
        yield _fault("Inspector", text, f"one of {known}, or a new person under `people`", happened.inspector)
        return
    for look in happened.looks:
        if look not in writing.looking.inspections:
            yield _fault("Looks", "This is no look of an inspection.", found=look)
        elif look in holds and not isinstance(happened, InspectionFailed):
            allowed = may_look(writing.site, writing.network, holds[look], happened.inspector, happened.when)
            if not allowed.yes:
                yield _fault("Inspector", allowed.because, found=happened.inspector)


def _call(writing: Writing, happened: Called | AskedInWriting) -> Iterator[Finding]:
    """Give what is wrong with a call: somebody nobody knows, work that is not theirs, a time that has passed."""
    theirs = _work_of(writing, happened.of)
    if theirs is None:
        known = ", ".join(ids_to_call(writing.site, writing.network))
        text = "It is no inspection, outside work, trade or locate ticket here."
        yield _fault("Party", text, f"one of {known}", happened.of)
        return
    for activity in happened.activities:
        if activity not in theirs and not activity.startswith(ADDED):
            yield _fault("Activities", "This is not theirs to do.", found=activity)
    called_off = isinstance(happened, AskedInWriting) and happened.called_off
    times = (("Told start", None if called_off else happened.told_start), ("Offers", getattr(happened, "offers", None)))
    for name, moment in times:
        if moment is not None and moment < happened.when:
            text = "It had passed when they were called."
            yield _fault(name, text, f"after {typed(happened.when.astimezone(moment.tzinfo))}", typed(moment))


def _work_of(writing: Writing, party: str) -> set[str] | None:
    """Return the work of an inspection, outside work or trade, or the renewals of a ticket; None when it is none."""
    network, site = writing.network, writing.site
    looks = next((set(r.looks) for r in network.visit_rules if r.id == party), None)
    if looks is not None or any(i.id == party for i in site.inspections):
        return looks or set()
    ticket = next((t for t in network.tickets if t.id == party), None)
    if ticket is not None:
        return {r.id for r in ticket.renewals}
    if any(w.id == party for w in site.outside_work):
        return {outside_id(party)}
    if any(t.id == party for t in site.trades):
        return {a.id for a in network.activities if a.trade == party}
    return None


def _lifting(writing: Writing, happened: StopWorkLifted) -> Iterator[Finding]:
    order = next((n.entry.event for n in writing.state.evidence.stops if n.number == happened.stop), None)
    if not isinstance(order, StopWork | LineStruck):
        yield _fault("Stop", "This entry is no order to stop that still counts.", found=str(happened.stop))
    elif not may_lift(order, happened.who, firm_of(writing, happened.who)):
        struck = isinstance(order, LineStruck)
        text = "Only whoever ordered the stop, or somebody of the same firm, may lift it."
        if struck:
            text = "Only whoever reported the struck line, somebody of the same firm, or the line's owner may lift it."
        firms = [f for f in (order.firm, order.owner if isinstance(order, LineStruck) else "") if f]
        yield _fault("Who", text, " or somebody of ".join([order.who, *firms]), happened.who)


def _competent(writing: Writing, happened: TrenchInspected) -> Iterator[Finding]:
    """Give why somebody's word about an open trench does not count: only the competent person's does."""
    day = local_day(writing.site, happened.when)
    here = [p for p in writing.site.people if p.role == COMPETENT and in_office(p, day)]
    if all(p.id != happened.who for p in here):
        text = "Only the site's competent person on that day inspects the trench (29 CFR 1926.651(k)(1))."
        yield _fault("Who", text, " or ".join(p.id for p in here) or "a competent person under `people`", happened.who)


def _activity(writing: Writing, happened: TestFailed) -> Iterator[Finding]:
    tests = [a for a in writing.network.activities if a.kind.is_test]
    if all(a.id != happened.activity for a in tests):
        near = ", ".join(get_close_matches(happened.activity, [a.id for a in tests], n=3, cutoff=0.3))
        text = "Only a test can fail. What an inspector turned down is reported as a look that failed."
        yield _fault("Activity", text, f"a test, such as {near}" if near else "a test", happened.activity)


def firm_of(writing: Writing, id_: str) -> str:
    """Return the firm or authority of a person by id; empty where it is not known."""
    person = person_of(writing.site, id_)
    return person.of if person is not None else ""


def _correction(writing: Writing, happened: Corrected) -> Iterator[Finding]:
    rows = {e.number: e for e in writing.entries}
    wrong = rows.get(happened.supersedes)
    if wrong is None:
        yield _fault("Entry", "It does not exist, so it cannot be taken back.", found=str(happened.supersedes))
    elif not may_correct(wrong, rows, writing.by, contractor=_is_contractor(writing)):
        others = "" if isinstance(wrong.event, OF_AUTHORITY) else ", or the contractor"
        text = f"Entry {wrong.number} was written by {wrong.by}; only they{others} may take it back."
        yield _fault("Entry", text, found=writing.by)


def _is_contractor(writing: Writing) -> bool:
    name = writing.by.strip().casefold()
    day = local_day(writing.site, writing.at)
    return any(
        p.role == CONTRACTOR and name in (p.id.casefold(), p.name.casefold()) and in_office(p, day)
        for p in writing.site.people
    )
