"""The competent person's inspection of the open trench: which stretches stand open, and which were not inspected yet.

29 CFR 1926.651(k)(1): before the start of work and as needed through the shift, and after every rainstorm.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta

from scheduler.ledger.day_events import NotDone, TrenchInspected
from scheduler.ledger.events import Finished
from scheduler.ledger.evidence import speaks
from scheduler.ledger.ground_events import Rained
from scheduler.ledger.halts import Stretch, all_of, unsafe_trench
from scheduler.ledger.known import KnownJob
from scheduler.ledger.moments import said
from scheduler.ledger.rights import COMPETENT
from scheduler.ledger.seen import touches
from scheduler.ledger.state import State
from scheduler.network.kind import Kind
from scheduler.network.model import Activity, Network, Opening
from scheduler.site.site_record import Site

ENTERED = (Kind.PROTECT, Kind.BED, Kind.LAY, Kind.SET, Kind.JOIN, Kind.TEST, Kind.SHADE)
"""Kinds of work for which people go into the trench."""
SOURCE = "29 CFR 1926.651(k)(1)"


@dataclass(frozen=True, slots=True)
class InspectionDue:
    """A stretch that stands open by the record and waits for the competent person."""

    reach: str
    alignment: str
    from_ft: float
    to_ft: float
    because: str
    unsafe: bool = False
    """It was found not safe, and not safe since."""


def trench_inspection_due(site: Site, network: Network, state: State, moment: datetime) -> tuple[InspectionDue, ...]:
    """Return the open stretches not found safe since today began, or since the last rain, by an aware moment."""
    known = KnownJob(site, network, state, moment)
    found = []
    for opening in network.openings:
        dig = network.by_id[opening.opens]
        if not _stands_open(known, opening):
            continue
        stretch = (dig.alignment, dig.from_ft, dig.to_ft)
        unsafe = bool(list(unsafe_trench(known, stretch)))
        because = "It was found not safe: nobody stays in it." if unsafe else not_inspected(known, stretch)
        if because:
            found.append(InspectionDue(opening.reach, *stretch, because, unsafe))
    return tuple(dict.fromkeys(found))


def _stands_open(known: KnownJob, opening: Opening) -> bool:
    """Tell whether a stretch stands open by the record: its digging has begun, and nothing says that it is closed.

    Work for which people go into it shows that it was dug, where the digging is not on record.
    """
    dug, closed = known.network.by_id[opening.opens], known.network.by_id[opening.closes]
    over = all(n is not None and isinstance(n.entry.event, Finished) for n in known.last_reports(closed))
    if over:
        return False
    if any(n is not None for n in known.last_reports(dug)) and known.state.actual(dug.id).not_done is None:
        return True
    inside = (a for a in known.network.activities if enters(a) and touches(a, dug.alignment, dug.from_ft, dug.to_ft))
    return any(n is not None and not isinstance(n.entry.event, NotDone) for a in inside for n in known.last_reports(a))


def not_inspected(known: KnownJob, stretch: Stretch) -> str:
    """Return why an inspection of a stretch is due at the moment; empty where it was found safe since."""
    since, rain = _since(known)
    if found_safe(known, stretch, since):
        return ""
    when = said(known.network.clock, since)
    return f"Not inspected since the rain until {when}." if rain else "Not inspected by the competent person today."


def found_safe(known: KnownJob, stretch: Stretch, since: datetime) -> bool:
    """Tell whether the competent person found all of a stretch safe at or after a moment."""
    parts = [(e.from_ft, e.to_ft) for e in _safe(known, stretch[0]) if e.when >= since]
    return all_of(stretch[1], stretch[2], parts)


def _since(known: KnownJob) -> tuple[datetime, bool]:
    """Return since when an inspection counts, and whether that is the end of a rain."""
    zone = known.network.clock.when(0).tzinfo
    midnight = known.moment.astimezone(zone).replace(hour=0, minute=0, second=0, microsecond=0)
    rains = [e.until for n in known.evidence.rain if isinstance(e := n.entry.event, Rained) and e.start <= known.moment]
    last = max((min(until, known.moment) for until in rains), default=midnight - timedelta(days=1))
    return (last, True) if last > midnight else (midnight, False)


def _safe(known: KnownJob, alignment: str) -> Iterator[TrenchInspected]:
    for noted in known.evidence.inspected(alignment):
        found = noted.entry.event
        assert isinstance(found, TrenchInspected)
        if found.safe and found.role == COMPETENT and speaks(noted, known.moment) and noted.contested_by is None:
            yield found


def enters(activity: Activity) -> bool:
    """Tell whether people go into the open trench for some work."""
    return activity.kind in ENTERED and bool(activity.alignment)
