"""What lies covered that had not been released when it was covered."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import datetime

from scheduler.findings import Finding, Severity
from scheduler.ledger.clearance import Clearance, Stretch
from scheduler.ledger.covering import ground_of
from scheduler.ledger.events import Finished, Started
from scheduler.ledger.evidence import Evidence, speaks
from scheduler.ledger.ground_events import CoverReported, UncoverReported
from scheduler.ledger.hold_standing import CLEAR, HoldStatus, Stand
from scheduler.ledger.holds import HoldPoint, point_of
from scheduler.ledger.known import KnownJob
from scheduler.ledger.moments import said
from scheduler.ledger.rights import names
from scheduler.ledger.state import State
from scheduler.network.model import Activity, Hold, Network
from scheduler.site.site_record import Site
from scheduler.units import format_station


def covered_unreleased(site: Site, network: Network, state: State, moment: datetime) -> list[Finding]:
    """Return a finding for every hold point that was covered before its release.

    It stays until the authority releases that hold all the same, the place is dug open again, or
    the report is corrected. What was released, and is only to be asked again, is no such thing.
    """
    known = KnownJob(site, network, state, moment)
    now, clearances = Clearance(known), dict[datetime, Clearance]()
    found = []
    for hold in network.holds:
        put_right: dict[Stretch, datetime | None] = {}
        for gate in (network.by_id[g] for g in hold.gates):
            # What is put right by now needs no look back at how it stood when it was covered.
            for when, stretch in sorted(_covers(state.evidence, gate, moment)):
                if stretch not in put_right:
                    put_right[stretch] = _put_right(now, hold, stretch)
                until = put_right[stretch]
                if until is not None and when <= until:
                    continue
                if when not in clearances:
                    clearances[when] = Clearance(known.at(when))
                if not _let_go(clearances[when].stands(hold, stretch)):
                    found.append(_finding(site, network, point_of(now, hold, stretch), gate, when))
                    break
    return found


def _let_go(stands: Iterable[Stand]) -> bool:
    """Tell whether a hold was released over all of a stretch, if only to be asked again."""
    let_go = [s.status in CLEAR or s.status is HoldStatus.DOUBTFUL for s in stands]
    return bool(let_go) and all(let_go)


def _put_right(now: Clearance, hold: Hold, stretch: Stretch) -> datetime | None:
    """Return up to when a stretch may have been covered too early and is put right all the same; None: never.

    Clear by now, it is put right whenever it was covered; else it is where the authority released it afterwards.
    """
    stands = now.stands(hold, stretch)
    if all(s.status in CLEAR for s in stands):
        return now.known.moment
    if any(s.status is HoldStatus.FAILED for s in stands):
        return None
    last = [max((r.when for r in now.releases(hold, p)), default=None) for p in now.pieces(hold, stretch)]
    given = [when for when in last if when is not None]
    return min(given) if len(given) == len(last) else None


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
    opened: dict[tuple[float, float], datetime | None] = {}
    for when, lo, hi in reports:
        if when > moment or hi <= lo:
            continue
        if (lo, hi) not in opened:
            opened[lo, hi] = _opened(evidence, gate, lo, hi, moment)
        since = opened[lo, hi]
        if since is None or since <= when:
            yield when, (gate.alignment, lo, hi)


def _opened(evidence: Evidence, gate: Activity, lo: float, hi: float, moment: datetime) -> datetime | None:
    """Return when all of a covered stretch was last dug open, down to the gate's work; None when it never was."""
    last = None
    for noted in evidence.on_ground(UncoverReported, gate.alignment):
        event = noted.entry.event
        assert isinstance(event, UncoverReported)
        deep = event.depth == "shading" or gate.kind.fills
        if deep and event.from_ft <= lo and event.to_ft >= hi and speaks(noted, moment):
            last = noted.when if last is None else max(last, noted.when)
    return last


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
