"""What is known of a job at a moment, with what is looked up in it over and over."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import NamedTuple

from scheduler.ledger.evidence import ground_event
from scheduler.ledger.hold_standing import Given, Sights
from scheduler.ledger.rights import inspection_of
from scheduler.ledger.seen import LinePart, Looking, cut
from scheduler.ledger.state import State
from scheduler.ledger.timed import TimedEntry
from scheduler.network.lying import TRENCH
from scheduler.network.model import Activity, Hold, Network
from scheduler.site.people import Inspection
from scheduler.site.site_record import Site
from scheduler.units import TOUCH_FT


class Report(NamedTuple):
    """What was said of a stretch, and since when it counts."""

    at: datetime
    from_ft: float
    to_ft: float
    entry: TimedEntry


@dataclass(frozen=True, slots=True)
class _Reported:
    """Reports in order of the moment from which each counts; reports of work not yet done when written stand apart."""

    plain: list[Report]
    moments: list[datetime]
    ahead: list[tuple[float, float, TimedEntry]]

    @classmethod
    def of(cls, found: Iterable[tuple[float, float, TimedEntry]]) -> _Reported:
        rows = list(found)
        plain = sorted((Report(n.when, lo, hi, n) for lo, hi, n in rows if not n.ahead), key=_in_time)
        return cls(plain, [r.at for r in plain], [row for row in rows if row[2].ahead])

    def latest_first(self, moment: datetime) -> list[Report]:
        """Return those that count at a moment."""
        rows = self.plain[: bisect_right(self.moments, moment)][::-1]
        late = [Report(at, lo, hi, n) for lo, hi, n in self.ahead if (at := n.felt(moment)) <= moment]
        return sorted([*rows, *late], key=_in_time, reverse=True) if late else rows


def _in_time(report: Report) -> tuple[datetime, int]:
    return report.at, report.entry.number


class KnownJob:
    """A site, its network and what the journal says of it, at one moment."""

    def __init__(
        self, site: Site, network: Network, state: State, moment: datetime, looking: Looking | None = None
    ) -> None:
        self.site, self.network, self.state, self.moment = site, network, state, moment.astimezone(UTC)
        self.looking = looking or Looking.of(network)
        self.evidence = state.evidence
        self._reports: dict[str, list[Report]] = {}
        self._ground: dict[tuple[type, str], list[Report]] = {}
        # What follows is the same at any moment.
        self._inspections: dict[str, Inspection | None] = {}
        self._reported: dict[str | tuple[type, str], _Reported] = {}
        self.cuts: dict[tuple[str, str, str], list[float]] = {}
        """Where anything on record begins or ends, by hold, alignment and line; filled by whoever works it out."""
        self.sights: dict[tuple[str, LinePart], Sights] = {}
        self.given: dict[tuple[str, LinePart], Given] = {}
        """The looks at a piece, and its releases, by hold; filled by whoever works them out."""

    def at(self, moment: datetime) -> KnownJob:
        """Return the same at another moment."""
        other = KnownJob(self.site, self.network, self.state, moment, self.looking)
        other._inspections, other._reported = self._inspections, self._reported
        other.cuts, other.sights, other.given = self.cuts, self.sights, self.given
        return other

    def inspection(self, hold: Hold) -> Inspection | None:
        """Return the inspection of a hold; None for a stretch kept open for outside work."""
        if hold.id not in self._inspections:
            self._inspections[hold.id] = inspection_of(self.site, self.network, hold.look)
        return self._inspections[hold.id]

    def reports(self, activity: Activity) -> list[Report]:
        """Return what was reported of an activity by this moment, the latest first."""
        if activity.id not in self._reports:
            if activity.id not in self._reported:
                self._reported[activity.id] = _Reported.of(self.evidence.work_on(activity))
            self._reports[activity.id] = self._reported[activity.id].latest_first(self.moment)
        return self._reports[activity.id]

    def last_reports(self, activity: Activity) -> list[TimedEntry | None]:
        """Return the last report on each piece of an activity's own ground; None for a piece that has none.

        A report on the same work further along the alignment is not about it.
        """
        reports = self.reports(activity)
        if not activity.alignment:
            return [reports[0].entry if reports else None]
        ends = sorted({end for r in reports for end in (r.from_ft, r.to_ft)})
        pieces = list(cut(LinePart(activity.alignment, TRENCH, activity.from_ft, activity.to_ft), ends))
        pieces = [p for p in pieces if p.to_ft - p.from_ft > TOUCH_FT] or pieces
        return [next((r.entry for r in reports if r.from_ft <= p.at_ft <= r.to_ft), None) for p in pieces]

    def on_ground(self, kind: type, alignment: str) -> list[Report]:
        """Return what was reported by this moment of stretches of an alignment, one kind of event, the latest first."""
        key = (kind, alignment)
        if key not in self._ground:
            if key not in self._reported:
                found = self.evidence.on_ground(kind, alignment)
                self._reported[key] = _Reported.of((e.from_ft, e.to_ft, n) for n in found if (e := ground_event(n)))
            self._ground[key] = self._reported[key].latest_first(self.moment)
        return self._ground[key]
