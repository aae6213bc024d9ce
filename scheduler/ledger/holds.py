"""Hold and witness points as they stand: state, evidence, and who may release them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from scheduler.ledger.clearance import Clearance
from scheduler.ledger.covering import overlaps
from scheduler.ledger.events import (
    HoldReleased,
    Inspected,
    InspectionFailed,
    InspectionPassed,
    InspectionPassedWithConditions,
)
from scheduler.ledger.hold_standing import CLEAR, HoldStatus
from scheduler.ledger.known import KnownJob
from scheduler.ledger.rights import releasers
from scheduler.ledger.state import State, VisitState
from scheduler.network.model import Hold, Network
from scheduler.network.outside import outside_id
from scheduler.site.people import Person
from scheduler.site.site_record import Site


@dataclass(frozen=True, slots=True)
class HoldPoint:
    """One hold or witness point at a moment."""

    hold: Hold
    status: HoldStatus
    """The gravest of all that it is about."""
    releasers: tuple[Person, ...]
    """Who may release it: the named person first, then deputies. Empty: nobody may, and it stays as it is."""
    release: HoldReleased | None = None
    look: Inspected | None = None
    """The last look at it."""
    open_since: datetime | None = None
    """Since when trench stands open for it; None when none does."""
    good_until: datetime | None = None
    """When its pass lapses, unless cover has begun by then."""
    since: datetime | None = None
    """Since when it stands so, where that is a moment on record."""
    because: str = ""
    """What stands behind the status, where there is more to say."""

    @property
    def clear(self) -> bool:
        """Whether what waits for it may go on."""
        return self.status in CLEAR


def hold_points(site: Site, network: Network, state: State, moment: datetime) -> tuple[HoldPoint, ...]:
    """Return every hold and witness point as it stands at an aware moment, in the network's order."""
    clearance = Clearance(KnownJob(site, network, state, moment))
    return tuple(point_of(clearance, hold) for hold in network.holds)


def hold_point(site: Site, network: Network, state: State, hold: Hold, moment: datetime) -> HoldPoint:
    """Return one hold point as it stands at an aware moment, by what `state` knows."""
    return point_of(Clearance(KnownJob(site, network, state, moment)), hold)


def point_of(clearance: Clearance, hold: Hold, stretch: tuple[str, float, float] | None = None) -> HoldPoint:
    """Return how a hold point stands over all that it is about, or over a stretch: as its gravest piece does."""
    known = clearance.known
    allowed = releasers(known.site, known.network, hold, known.moment)
    stands = clearance.stands(hold, stretch)
    since = _open_since(known.network, known.state, hold, known.moment)
    if not stands:
        return HoldPoint(hold, HoldStatus.WAITING, allowed, open_since=since)
    worst = min(stands, key=lambda s: s.rank)
    release = worst.release.entry.event if worst.release else None
    look = worst.look.entry.event if worst.look else None
    inspected = InspectionPassed | InspectionPassedWithConditions | InspectionFailed
    return HoldPoint(
        hold,
        worst.status,
        allowed,
        release if isinstance(release, HoldReleased) else None,
        look if isinstance(look, inspected) else None,
        since,
        min((s.good_until for s in stands if s.good_until), default=None),
        worst.since,
        worst.because,
    )


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
