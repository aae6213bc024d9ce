"""Hold and witness points as they stand: state, evidence, who may release them, and releasing them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.ledger.events import HoldReleased, Inspected, InspectionFailed, Refused
from scheduler.ledger.state import State, VisitState
from scheduler.ledger.store import Entry, Journal
from scheduler.network.model import Activity, Hold, Network
from scheduler.network.outside import outside_id
from scheduler.site.people import Person
from scheduler.site.site_record import Site
from scheduler.spoken import moment
from scheduler.worktime.clock import Clock


class HoldStatus(StrEnum):
    """How a hold point stands."""

    WAITING = "not looked at yet"
    FAILED = "failed"
    PASSED = "passed, not released"
    RELEASED = "released"
    LAPSED = "released, but that has lapsed"
    UNATTENDED = "notice given, the witness did not come"


CLEAR = (HoldStatus.RELEASED, HoldStatus.UNATTENDED)
"""Work may go on. A witness point does not stop work once its appointed time has passed (common practice)."""


@dataclass(frozen=True, slots=True)
class HoldPoint:
    """One hold or witness point at a moment."""

    hold: Hold
    status: HoldStatus
    releasers: tuple[Person, ...]
    """Who may release it: the named person first, then deputies. Empty: nobody is named, and the pass counts."""
    release: HoldReleased | None = None
    look: Inspected | None = None
    """The last look at it."""
    open_since: datetime | None = None
    """Since when trench stands open for it; None when none does."""
    good_until: datetime | None = None
    """When its pass lapses, unless cover has begun by then."""

    @property
    def clear(self) -> bool:
        """Whether what waits for it may go on."""
        return self.status in CLEAR


@dataclass(frozen=True, slots=True)
class Verdict:
    """Whether something is allowed, and why."""

    yes: bool
    because: str


def said(clock: Clock, when: datetime) -> str:
    """Return a moment as people on this site say it: `Tue 9 Mar 10:30`."""
    return moment(when.astimezone(clock.when(0).tzinfo))


def elapsed(since: datetime, length: timedelta) -> datetime:
    """Return the instant a length of real time after another, also where clocks are put forward between them."""
    return since.astimezone(UTC) + length


def overlaps(activity: Activity, alignment: str, from_ft: float, to_ft: float) -> bool:
    """Tell whether an activity's stretch shares length with another stretch."""
    return activity.alignment == alignment and activity.from_ft < to_ft and activity.to_ft > from_ft


def releasers(site: Site, network: Network, hold: Hold) -> tuple[Person, ...]:
    """Return who may release a hold: the person named, then that person's deputies in the same role.

    A hold that names no person is released by the authority's own people. Nobody else may.
    """
    if hold.released_by:
        named = [p for p in site.people if p.id == hold.released_by]
        firms = [p for p in site.people if not named and p.of == hold.released_by]
        deputies = [p for p in site.people for n in named if p.deputy_of == n.id and p.role == n.role]
        return tuple([*named, *firms, *deputies])
    authorities = {r.authority for r in network.visit_rules if hold.look in r.looks}
    return tuple(p for p in site.people if p.of in authorities and p.role in ("inspector", "utility"))


def may_release(site: Site, network: Network, hold: Hold, person: Person) -> Verdict:
    """Tell whether a person may release a hold, in a sentence that can be shown to them."""
    allowed = releasers(site, network, hold)
    if any(p.id == person.id for p in allowed):
        return Verdict(True, f"{person.name} may release it.")
    who = f"only {names(allowed)} may" if allowed else "nobody is named in the site file who may"
    role = person.role.replace("_", " ")
    return Verdict(False, f"{person.name} ({role}) may not release this hold point: {who}.")


def names(people: Sequence[Person]) -> str:
    """Name people with their firm, the first before any others: `C. Dunn (City), or B. Ito`."""
    if not people:
        return "nobody named"
    first = people[0].name + (f" ({people[0].of})" if people[0].of else "")
    return ", or ".join([first, *(p.name for p in people[1:])])


def release(
    journal: Journal, site: Site, network: Network, asked: HoldReleased, *, at: datetime | None = None, by: str
) -> Entry:
    """Write a release into the journal, or, when it is not that person's to give, the refusal.

    Returns the entry: its event is the `HoldReleased`, or a `Refused` that says why.
    Raises BadInput when the hold or the person is unknown.
    """
    hold = next((h for h in network.holds if h.id == asked.hold), None)
    person = next((p for p in site.people if p.id == asked.person), None)
    if hold is None:
        raise BadInput([Finding("hold/unknown", Severity.STOP, asked.hold, "is no hold point of this site.")])
    if person is None:
        raise BadInput([Finding("hold/person", Severity.STOP, asked.person, "is nobody in the site's list of people.")])
    verdict = may_release(site, network, hold, person)
    if verdict.yes and asked.role != person.role:
        verdict = Verdict(False, f"{person.name} is {person.role.replace('_', ' ')} here, not {asked.role}.")
    if verdict.yes:
        return journal.append(asked, at=at, by=by)
    refusal = Refused(asked=asked.name, about=hold.id, who=person.id, reason=verdict.because)
    return journal.append(refusal, at=at, by=by)


def hold_points(site: Site, network: Network, state: State, moment: datetime) -> tuple[HoldPoint, ...]:
    """Return every hold and witness point as it stands at an aware moment, in the network's order."""
    return tuple(hold_point(site, network, state, hold, moment) for hold in network.holds)


def hold_point(site: Site, network: Network, state: State, hold: Hold, moment: datetime) -> HoldPoint:
    """Return one hold point as it stands at an aware moment, by what `state` knows."""
    allowed = releasers(site, network, hold)
    looks = [e for e in state.looks.get(hold.look, ()) if e.when <= moment]
    last = max(looks, key=lambda e: e.when, default=None) if looks else None
    given = _release(state, hold, allowed, looks, moment)
    passed_at = _passed_at(network, state, hold, looks, moment)
    since = given.when if given else passed_at if not allowed else None
    until = _good_until(network, state, hold, passed_at or since, moment)
    if since is not None:
        status = HoldStatus.LAPSED if until is not None and until < moment else HoldStatus.RELEASED
    elif isinstance(last, InspectionFailed):
        status = HoldStatus.FAILED
    elif passed_at is not None:
        status = HoldStatus.PASSED
    elif hold.kind == "witness" and any(_end(network, v, hold) <= moment for v in visits_for(network, state, hold)):
        status = HoldStatus.UNATTENDED
    else:
        status = HoldStatus.WAITING
    return HoldPoint(hold, status, allowed, given, last, _open_since(network, state, hold, moment), until)


def visits_for(network: Network, state: State, hold: Hold) -> list[VisitState]:
    """Return the appointments that still stand for what releases a hold, earliest first."""
    subjects = {r.id for r in network.visit_rules if hold.look in r.looks}
    found = [
        v
        for v in state.visits.values()
        if not v.cancelled
        and (
            hold.look in v.booked.looks
            or (not v.booked.looks and (v.booked.of in subjects or outside_id(v.booked.of) == hold.look))
        )
    ]
    return sorted(found, key=lambda v: v.booked.start)


def look_length(network: Network, hold: Hold) -> timedelta:
    """Return how long the look, or the outside work, that releases a hold takes."""
    return timedelta(minutes=network.by_id[hold.look].work * network.clock.tick_minutes)


def _end(network: Network, visit: VisitState, hold: Hold) -> datetime:
    return visit.booked.until or elapsed(visit.booked.start, look_length(network, hold))


def _release(
    state: State, hold: Hold, allowed: Iterable[Person], looks: Sequence[Inspected], moment: datetime
) -> HoldReleased | None:
    """Return the last release that counts: given by who may, and with no failure after it."""
    roles = {p.id: p.role for p in allowed}
    given = [r for r in state.releases.get(hold.id, ()) if r.when <= moment and roles.get(r.person) == r.role]
    last = max(given, key=lambda r: r.when, default=None)
    if last is None or any(isinstance(e, InspectionFailed) and e.when > last.when for e in looks):
        return None
    return last


def _passed_at(
    network: Network, state: State, hold: Hold, looks: Sequence[Inspected], moment: datetime
) -> datetime | None:
    """Return when the look passed with no failure since, or when the outside event was done."""
    if looks:
        last = max(enumerate(looks), key=lambda pair: (pair[1].when, pair[0]))[1]
        return None if isinstance(last, InspectionFailed) else last.when
    done = state.actual(hold.look).finish
    if done is None or done > moment or network.by_id[hold.look].kind.is_look:
        return None
    return done


def _good_until(
    network: Network, state: State, hold: Hold, passed_at: datetime | None, moment: datetime
) -> datetime | None:
    """Return when the pass lapses for a gate that has not begun; None when it does not."""
    if passed_at is None:
        return None
    ends = []
    for link in network.links:
        if link.at_most and link.before == hold.look and link.after in hold.gates:
            known = state.actual(link.after)
            begun = known.start or known.finish
            if begun is None or begun > moment:
                ends.append(_later(network, passed_at, link.lag, link.lag_calendar))
    return min(ends, default=None)


def _later(network: Network, when: datetime, lag: int, calendar: str | None) -> datetime:
    if calendar is None:
        return elapsed(when, timedelta(minutes=lag * network.clock.tick_minutes))
    tick = network.calendars[calendar].advance(network.clock.tick(when), lag)
    return network.clock.when(network.horizon if tick is None else tick)


def _open_since(network: Network, state: State, hold: Hold, moment: datetime) -> datetime | None:
    """Return the earliest actual start of digging for the hold's stretch, while that stands open."""
    stretches = [network.by_id[g] for g in hold.gates if network.by_id[g].reach] or [network.by_id[hold.look]]
    starts = []
    for opening in network.openings:
        dig, closed = network.by_id[opening.opens], state.actual(opening.closes).finish
        begun = state.actual(opening.opens).start or state.actual(opening.opens).finish
        here = any(overlaps(dig, s.alignment, s.from_ft, s.to_ft) for s in stretches)
        if here and begun is not None and begun <= moment and (closed is None or closed > moment):
            starts.append(begun)
    return min(starts, default=None)
