"""What covering a stretch hides, and when it was covered, by the record."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from scheduler.ledger.events import Finished, Started
from scheduler.ledger.evidence import Evidence, speaks
from scheduler.ledger.ground_events import CoverReported, UncoverReported
from scheduler.ledger.seen import LinePart, touches
from scheduler.network.model import Activity


def overlaps(activity: Activity, alignment: str, from_ft: float, to_ft: float) -> bool:
    """Tell whether an activity's stretch shares length with another stretch."""
    return touches(activity, alignment, from_ft, to_ft)


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
class Covered:
    """Since when a gate's work lies over a place: begun, and done; None where it is not."""

    begun: datetime | None
    done: datetime | None


def ground_of(reported: CoverReported) -> CoverGround:
    """Return what a report of cover hides."""
    shading = reported.depth == "shading"
    return CoverGround(reported.alignment, reported.from_ft, reported.to_ft, shading, reported.layer)


def covered(evidence: Evidence, gate: Activity, part: LinePart, moment: datetime) -> Covered:
    """Return since when a gate's work lies over a part, by its own reports or one of cover, unless dug open since."""
    begun, done = [], []
    for lo, hi, noted in evidence.work_on(gate):
        if lo <= part.at_ft <= hi and speaks(noted, moment):
            event = noted.entry.event
            if isinstance(event, Started | Finished):
                begun.append(noted.when)
            if isinstance(event, Finished):
                done.append(noted.when)
    at_ft = part.at_ft
    for noted in evidence.on_ground(CoverReported, part.alignment):
        event = noted.entry.event
        assert isinstance(event, CoverReported)
        if event.from_ft <= at_ft <= event.to_ft and speaks(noted, moment) and ground_of(event).hidden_by(gate):
            begun.append(noted.when)
            done.append(noted.when)
    opened = []
    for noted in evidence.on_ground(UncoverReported, part.alignment):
        event = noted.entry.event
        assert isinstance(event, UncoverReported)
        deep = event.depth == "shading" or gate.kind.fills
        if deep and event.from_ft <= at_ft <= event.to_ft and noted.felt(moment) <= moment:
            opened.append(noted.felt(moment))
    last = max(opened, default=None)
    standing = [sorted(t for t in times if last is None or t > last) for times in (begun, done)]
    return Covered(*(times[0] if times else None for times in standing))
