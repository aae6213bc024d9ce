"""May this stretch be covered? And what was covered that should not have been."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from scheduler.errors import BadInput
from scheduler.findings import Finding, Severity
from scheduler.ledger.events import CoverReported, InspectionPassedWithConditions, UncoverReported
from scheduler.ledger.holds import (
    HoldPoint,
    HoldStatus,
    elapsed,
    hold_point,
    hold_points,
    look_length,
    names,
    overlaps,
    said,
    visits_for,
)
from scheduler.ledger.state import State
from scheduler.network.hours import after_notice
from scheduler.network.model import Activity, Hold, LinkType, Network
from scheduler.network.outside import outside_id
from scheduler.schedule import Schedule
from scheduler.site.site_record import Site
from scheduler.units import format_station


@dataclass(frozen=True, slots=True)
class CoverGround:
    """What is to be covered: a stretch, how far up, and which layers."""

    alignment: str
    from_ft: float
    to_ft: float
    only_shading: bool = False
    """Select fill over the lines, and no more."""
    layer: int | None = None
    """This layer and those below it; None: all of them."""

    def hidden_by(self, activity: Activity) -> bool:
        """Tell whether covering this much does, or goes beyond, what an activity does here."""
        if not activity.kind.hides or not overlaps(activity, self.alignment, self.from_ft, self.to_ft):
            return False
        if self.layer is not None and (activity.layer is None or activity.layer > self.layer):
            return False
        return not (self.only_shading and activity.kind.fills)


@dataclass(frozen=True, slots=True)
class CoverReason:
    """One thing that stands against covering."""

    kind: str
    """'hold', 'witness' or 'work'."""
    ref: str
    text: str
    who: str
    """Who can clear it."""
    earliest: datetime | None
    """When at the earliest, by the booking, else the plan, else their calendar and notice."""


@dataclass(frozen=True, slots=True)
class CoverAnswer:
    """Yes, or no with every reason; `moment` is the moment asked about."""

    yes: bool
    moment: datetime
    reasons: tuple[CoverReason, ...] = ()

    @property
    def may_be_by_then(self) -> bool:
        """Whether every reason can be cleared by the moment asked about, though none is yet."""
        return not self.yes and all(r.earliest is not None and r.earliest <= self.moment for r in self.reasons)


def may_cover(
    site: Site,
    network: Network,
    state: State,
    ground: CoverGround,
    moment: datetime,
    *,
    schedule: Schedule | None = None,
    asked: datetime | None = None,
) -> CoverAnswer:
    """Answer whether a stretch may be covered at an aware moment, by what the journal says.

    `asked` is when the question is put (None: at that moment), from which what is still open can be
    cleared at the earliest. `schedule` holds the dates of the current plan, where there is one.
    Raises BadInput when the job has nothing to cover there.
    """
    now = asked or moment
    if not any(ground.hidden_by(a) for a in network.activities):
        place = f"{ground.alignment} {format_station(ground.from_ft)} to {format_station(ground.to_ft)}"
        raise BadInput([Finding("cover/where", Severity.STOP, place, "is nowhere that this job covers anything.")])
    asking = _Asking(site, network, state, moment, now, schedule)
    reasons = []
    for point in asking.points:
        hold = point.hold
        if not point.clear and any(ground.hidden_by(network.by_id[g]) for g in hold.gates):
            text, who = _words(network, point), names(point.releasers)
            reasons.append(CoverReason(hold.kind, hold.id, text, who, asking.earliest(point)))
    reasons += _unfinished(asking, ground)
    return CoverAnswer(not reasons, moment, tuple(reasons))


def covered_unreleased(site: Site, network: Network, state: State, moment: datetime) -> list[Finding]:
    """Return a finding for every hold point that was covered before its release.

    It stays until the authority releases that hold all the same, the place is dug open again, or
    the report is corrected.
    """
    found = []
    for point in hold_points(site, network, state, moment):
        hold = point.hold
        for gate in (network.by_id[g] for g in hold.gates):
            when = _covered_at(state, gate, moment)
            if when is None or hold_point(site, network, state, hold, when).clear:
                continue
            if point.clear or (point.release is not None and point.release.when >= when):
                continue
            clock, place = network.clock, _place(site, gate)
            found.append(
                Finding(
                    "hold/covered",
                    Severity.STOP,
                    place,
                    f"{place} was covered {said(clock, when)} before this was released: {hold.name}.",
                    found=point.status.value,
                    required=f"a release by {names(point.releasers)} before cover",
                    source=hold.source,
                    remedy=f"Stop work there. Ask {names(point.releasers)} whether it must be dug open; "
                    "open it by hand if so, and report that.",
                )
            )
    return found


def _place(site: Site, activity: Activity) -> str:
    name = next((a.name for a in site.alignments if a.id == activity.alignment), activity.alignment)
    return f"{name} {format_station(activity.from_ft)} to {format_station(activity.to_ft)}"


def _words(network: Network, point: HoldPoint) -> str:
    name, clock, look = point.hold.name, network.clock, point.look
    match point.status:
        case HoldStatus.FAILED if look is not None:
            return f"{name}: failed {said(clock, look.when)}; it must be mended and looked at again."
        case HoldStatus.PASSED if isinstance(look, InspectionPassedWithConditions):
            return f"{name}: passed {said(clock, look.when)} on condition: {look.conditions} Not released yet."
        case HoldStatus.PASSED if look is not None:
            return f"{name}: passed {said(clock, look.when)}, but not released yet."
        case HoldStatus.PASSED:
            return f"{name}: done, but not released yet."
        case HoldStatus.LAPSED if point.good_until is not None:
            return f"{name}: its release was good until {said(clock, point.good_until)}; it must be looked at again."
        case _:
            return f"{name}: not released yet."


class _Asking:
    """One question while it is answered: every hold point as it stands, and when each can be cleared."""

    def __init__(
        self, site: Site, network: Network, state: State, moment: datetime, now: datetime, schedule: Schedule | None
    ) -> None:
        self.site, self.network, self.state, self.schedule = site, network, state, schedule
        self.moment, self.now = moment, now
        self.points = [self._point(hold) for hold in network.holds]
        self._known: dict[str, datetime | None] = {}

    def _point(self, hold: Hold) -> HoldPoint:
        point = hold_point(self.site, self.network, self.state, hold, self.moment)
        if point.status is HoldStatus.UNATTENDED:  # nobody can know beforehand that a witness will stay away
            point = hold_point(self.site, self.network, self.state, hold, min(self.now, self.moment))
        return point

    def planned(self, activity: str) -> tuple[datetime, datetime] | None:
        """Return the plan's dates of an activity."""
        span = self.schedule.dates.get(activity) if self.schedule else None
        return (self.network.clock.when(span[0]), self.network.clock.when(span[1])) if span else None

    def earliest(self, point: HoldPoint) -> datetime | None:
        """Return when a hold can be cleared: by its booking, else the plan, else calendar and notice."""
        if point.hold.id not in self._known:
            self._known[point.hold.id] = None
            self._known[point.hold.id] = self.now if point.status is HoldStatus.PASSED else self._next_look(point.hold)
        return self._known[point.hold.id]

    def _next_look(self, hold: Hold) -> datetime | None:
        network, clock = self.network, self.network.clock
        floor = max([self.now, *(d.not_before for d in self.state.delays if hold.look in d.about), *self._before(hold)])
        for visit in visits_for(network, self.state, hold):
            if visit.booked.start >= floor:
                return elapsed(visit.booked.start, look_length(network, hold))
        planned = self.planned(hold.look)
        if planned is not None and planned[0] >= floor:
            return planned[1]
        look = network.by_id[hold.look]
        calendar = network.calendars[look.calendar]
        notice = _notice_days(self.site, network, hold)
        called = after_notice(clock, calendar, clock.tick(self.now, up=True), notice)
        if called is None:
            return None
        tick = max(called, clock.tick(floor, up=True))
        for start, end in calendar.windows_from(tick):
            begin = max(start, tick)
            if end - begin >= look.work:
                return clock.when(begin + look.work)
        return None

    def _before(self, hold: Hold) -> list[datetime]:
        """Return when work that this look must follow can be done, where that waits for another hold."""
        network, clock = self.network, self.network.clock
        first = {k.before for k in network.links if k.after == hold.look and not k.at_most}
        times = []
        for other in self.points:
            for gate in first.intersection(other.hold.gates):
                cleared = None if other.clear else self.earliest(other)
                if cleared is not None and self.state.actual(gate).finish is None:
                    work, tick = network.by_id[gate].work, clock.tick(cleared, up=True)
                    done = network.calendar_of(gate).advance(tick, work)
                    times += [clock.when(done)] if done is not None else []
        return times


def _notice_days(site: Site, network: Network, hold: Hold) -> int:
    rule = next((r.id for r in network.visit_rules if hold.look in r.looks), "")
    days = [i.notice_days for i in site.inspections if i.id == rule]
    days += [w.notice_days for w in site.outside_work if outside_id(w.id) == hold.look]
    return max(days, default=0)


def _unfinished(asking: _Asking, ground: CoverGround) -> list[CoverReason]:
    """Return work that comes before the cover and is neither reported as done nor seen by an inspector."""
    network, state, moment = asking.network, asking.state, asking.moment
    covering = {a.id for a in network.activities if not a.kind.needs_open_trench and ground.hidden_by(a)}
    before = {k.before for k in network.links if k.after in covering and not k.at_most}
    passed = {p.hold.look for p in asking.points if p.status in (HoldStatus.RELEASED, HoldStatus.PASSED)}
    seen = _all_before(network, passed)
    reasons = []
    for activity in network.activities:
        if activity.id not in before - seen or not activity.kind.needs_open_trench:
            continue
        done = state.actual(activity.id).finish
        if done is not None and done <= moment:
            continue
        planned = asking.planned(activity.id)
        when = max(planned[1], asking.now) if planned else None
        text = f"{activity.name}: not reported as finished."
        reasons.append(CoverReason("work", activity.id, text, activity.trade or "whoever does it", when))
    return reasons


def _all_before(network: Network, activities: set[str]) -> set[str]:
    """Return everything that must have been done for some activities to have begun."""
    links: dict[str, list[str]] = {}
    for link in network.links:
        if not link.at_most and link.type is LinkType.FS:
            links.setdefault(link.after, []).append(link.before)
    seen: set[str] = set()
    waiting = list(activities)
    while waiting:
        new = [b for b in links.get(waiting.pop(), ()) if b not in seen]
        seen.update(new)
        waiting += new
    return seen


def _covered_at(state: State, gate: Activity, moment: datetime) -> datetime | None:
    """Return when a gate's place was covered, by its own dates or a report, unless dug open since."""
    if not gate.kind.hides:
        return None
    actual = state.actual(gate.id)
    times = [t for t in (actual.start, actual.finish) if t is not None]
    times += [c.when for c in state.covers if _ground(c).hidden_by(gate)]
    opened = [u.when for u in state.uncovers if u.when <= moment and _opens_all(u, gate)]
    return min((t for t in times if t <= moment and not any(u > t for u in opened)), default=None)


def _ground(reported: CoverReported) -> CoverGround:
    shading = reported.depth == "shading"
    return CoverGround(reported.alignment, reported.from_ft, reported.to_ft, shading, reported.layer)


def _opens_all(dug: UncoverReported, gate: Activity) -> bool:
    """Tell whether a stretch dug open takes in all of a gate's place, down to it."""
    whole = dug.alignment == gate.alignment and dug.from_ft <= gate.from_ft and dug.to_ft >= gate.to_ft
    return whole and (dug.depth == "shading" or gate.kind.fills)
