"""What lies covered that had not been released when it was covered."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from scheduler.findings import Finding, Severity
from scheduler.ledger.clearance import Clearance
from scheduler.ledger.covering import ground_of
from scheduler.ledger.events import Finished, Started
from scheduler.ledger.evidence import Evidence
from scheduler.ledger.ground_events import CoverReported, UncoverReported
from scheduler.ledger.hold_standing import HoldStatus
from scheduler.ledger.holds import HoldPoint, point_of
from scheduler.ledger.known import KnownJob
from scheduler.ledger.moments import said
from scheduler.ledger.rights import names
from scheduler.ledger.state import State
from scheduler.network.model import Activity, Hold, Network
from scheduler.site.site_record import Site
from scheduler.units import format_station

Stretch = tuple[str, float, float]


def covered_unreleased(site: Site, network: Network, state: State, moment: datetime) -> list[Finding]:
    """Return a finding for every hold point that was covered before its release.

    It stays until the authority releases that hold all the same, the place is dug open again, or
    the report is corrected. What was released, and is only to be asked again, is no such thing.
    """
    known, clearances = KnownJob(site, network, state, moment), dict[datetime, Clearance]()

    def at(when: datetime) -> Clearance:
        if when not in clearances:
            clearances[when] = Clearance(known.at(when))
        return clearances[when]

    found = []
    for hold in network.holds:
        for gate in (network.by_id[g] for g in hold.gates):
            covers = _covers(state.evidence, gate, moment)
            early = [(t, s) for t, s in covers if not _let_go(point_of(at(t), hold, s))]
            early = [(t, s) for t, s in early if not _put_right(at(moment), hold, s, t)]
            if early:
                when, stretch = min(early)
                found.append(_finding(site, network, point_of(at(moment), hold, stretch), gate, when))
    return found


def _let_go(point: HoldPoint) -> bool:
    return point.clear or point.status is HoldStatus.DOUBTFUL


def _put_right(now: Clearance, hold: Hold, stretch: Stretch, covered_at: datetime) -> bool:
    """Tell whether a hold is clear by now, or the authority released it all the same after it was covered."""
    point = point_of(now, hold, stretch)
    if point.clear or point.status is HoldStatus.FAILED:
        return point.clear
    given = [now.releases(hold, piece) for piece in now.pieces(hold, stretch)]
    return all(any(r.when >= covered_at for r in releases) for releases in given)


def _covers(evidence: Evidence, gate: Activity, moment: datetime) -> Iterator[tuple[datetime, Stretch]]:
    """Give when, and where, a gate's place was covered by its own dates or a report, unless it was all dug open."""
    if not gate.kind.hides:
        return
    reports = [
        (n.felt(moment), max(lo, gate.from_ft), min(hi, gate.to_ft))
        for lo, hi, n in evidence.work_on(gate)
        if isinstance(n.entry.event, Started | Finished)
    ]
    for noted in evidence.on_ground(CoverReported, gate.alignment):
        event = noted.entry.event
        assert isinstance(event, CoverReported)
        if ground_of(event).hidden_by(gate):
            reports.append((noted.felt(moment), max(event.from_ft, gate.from_ft), min(event.to_ft, gate.to_ft)))
    for when, lo, hi in reports:
        if when <= moment and hi > lo and not _opened(evidence, gate, (when, lo, hi), moment):
            yield when, (gate.alignment, lo, hi)


def _opened(evidence: Evidence, gate: Activity, cover: tuple[datetime, float, float], moment: datetime) -> bool:
    """Tell whether all of a covered stretch was dug open since, down to the gate's work."""
    when, lo, hi = cover
    for noted in evidence.on_ground(UncoverReported, gate.alignment):
        event = noted.entry.event
        assert isinstance(event, UncoverReported)
        deep = event.depth == "shading" or gate.kind.fills
        if deep and event.from_ft <= lo and event.to_ft >= hi and when < noted.when <= moment and not noted.ahead:
            return True
    return False


def _finding(site: Site, network: Network, point: HoldPoint, gate: Activity, when: datetime) -> Finding:
    hold, clock = point.hold, network.clock
    name = next((a.name for a in site.alignments if a.id == gate.alignment), gate.alignment)
    place = f"{name} {format_station(gate.from_ft)} to {format_station(gate.to_ft)}"
    return Finding(
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
