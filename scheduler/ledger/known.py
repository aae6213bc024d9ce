"""What is known of a job at a moment, with what is looked up in it over and over."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import NamedTuple

from scheduler.ledger.evidence import ground_event, touches
from scheduler.ledger.rights import inspection_of
from scheduler.ledger.seen import Looking
from scheduler.ledger.state import State
from scheduler.ledger.timed import TimedEntry
from scheduler.network.model import Activity, Hold, Network
from scheduler.site.people import Inspection
from scheduler.site.site_record import Site


class Report(NamedTuple):
    """What was said of a stretch, and since when it counts."""

    at: datetime
    from_ft: float
    to_ft: float
    entry: TimedEntry


class KnownJob:
    """A site, its network and what the journal says of it, at one moment."""

    def __init__(
        self, site: Site, network: Network, state: State, moment: datetime, looking: Looking | None = None
    ) -> None:
        self.site, self.network, self.state, self.moment = site, network, state, moment
        self.looking = looking or Looking(network)
        self.evidence = state.evidence
        self._work: dict[str, list[Activity]] = {}
        self._inspections: dict[str, Inspection | None] = {}
        self._reports: dict[str, list[Report]] = {}
        self._ground: dict[tuple[type, str], list[Report]] = {}

    def at(self, moment: datetime) -> KnownJob:
        """Return the same at another moment."""
        other = KnownJob(self.site, self.network, self.state, moment, self.looking)
        other._work, other._inspections = self._work, self._inspections
        return other

    def inspection(self, hold: Hold) -> Inspection | None:
        """Return the inspection of a hold; None for a stretch kept open for outside work."""
        if hold.id not in self._inspections:
            self._inspections[hold.id] = inspection_of(self.site, self.network, hold.look)
        return self._inspections[hold.id]

    def reports(self, activity: Activity) -> list[Report]:
        """Return what was reported of an activity by this moment, the latest first."""
        if activity.id not in self._reports:
            self._reports[activity.id] = self._latest_first(self.evidence.work_on(activity))
        return self._reports[activity.id]

    def on_ground(self, kind: type, alignment: str) -> list[Report]:
        """Return what was reported by this moment of stretches of an alignment, one kind of event, the latest first."""
        key = (kind, alignment)
        if key not in self._ground:
            found = self.evidence.on_ground(kind, alignment)
            self._ground[key] = self._latest_first((e.from_ft, e.to_ft, n) for n in found if (e := ground_event(n)))
        return self._ground[key]

    def _latest_first(self, found: Iterable[tuple[float, float, TimedEntry]]) -> list[Report]:
        moment = self.moment
        rows = [Report(at, lo, hi, n) for lo, hi, n in found if (at := n.felt(moment)) <= moment]
        return sorted(rows, key=lambda r: (r.at, r.entry.number), reverse=True)

    def work_of(self, hold: Hold) -> list[Activity]:
        """Return the work that a hold's look comes after, the look itself included, where it is on the same ground."""
        if hold.id not in self._work:
            parts, lines = self.looking.parts(hold), set(hold.lines)
            self._work[hold.id] = [
                a
                for a in map(self.network.by_id.__getitem__, sorted(self.looking.before(hold.look)))
                if (not a.alignment and lines.intersection(a.lines))
                or any(touches(a, p.alignment, p.from_ft, p.to_ft) for p in parts)
            ]
        return self._work[hold.id]
