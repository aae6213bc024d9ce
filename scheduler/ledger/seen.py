"""What is looked at at each hold point: lines, stretches and their design, taken from the network as it is now."""

from __future__ import annotations

import itertools
from bisect import bisect_left, bisect_right
from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

from scheduler.ledger.event_fields import Right, Seen, WorkPlace
from scheduler.network.lying import TRENCH, Designs
from scheduler.network.model import Activity, Hold, LinkType, Network

OUTSIDE = "outside/"


@dataclass(frozen=True, slots=True)
class LinePart:
    """A stretch of one line, or of the trench itself (TRENCH)."""

    alignment: str
    line: str
    from_ft: float
    to_ft: float
    layer: int | None = None

    @property
    def at_ft(self) -> float:
        """Its middle."""
        return (self.from_ft + self.to_ft) / 2


class _Stretch(Protocol):
    @property
    def alignment(self) -> str: ...
    @property
    def from_ft(self) -> float: ...
    @property
    def to_ft(self) -> float: ...


def touches(stretch: _Stretch, alignment: str, from_ft: float, to_ft: float) -> bool:
    """Tell whether two stretches share length."""
    return stretch.alignment == alignment and stretch.from_ft < to_ft and stretch.to_ft > from_ft


class Looking:
    """A network as those see it who look at work: what each look shows, and what comes before it."""

    def __init__(self, network: Network) -> None:
        self.network = network
        self.designs = Designs(network.lying)
        self._before: dict[str, frozenset[str]] = {}
        self._parts: dict[str, tuple[LinePart, ...]] = {}
        self._work: dict[str, tuple[Activity, ...]] = {}

    @classmethod
    def of(cls, network: Network) -> Looking:
        """Return what is looked up in a network, with what was looked up in it before."""
        kept = next((k for k in tuple(_LATELY) if k.network is network), None)
        if kept is None:
            kept = cls(network)
            _LATELY.append(kept)
        return kept

    @cached_property
    def inspections(self) -> dict[str, str]:
        """The inspection of each look."""
        return {look: rule.id for rule in self.network.visit_rules for look in rule.looks}

    @cached_property
    def holds_of(self) -> dict[str, list[Hold]]:
        """The hold points that each look releases."""
        out: dict[str, list[Hold]] = {}
        for hold in self.network.holds:
            out.setdefault(hold.look, []).append(hold)
        return out

    @cached_property
    def _links(self) -> dict[str, list[str]]:
        out: dict[str, list[str]] = {}
        for link in self.network.links:
            if not link.at_most and link.type is LinkType.FS:
                out.setdefault(link.after, []).append(link.before)
        return out

    @cached_property
    def lasting(self) -> dict[tuple[str, str], tuple[int, str | None]]:
        """How long a pass is good for a gate, by (look, gate): ticks, and the calendar that counts them."""
        return {(k.before, k.after): (k.lag, k.lag_calendar) for k in self.network.links if k.at_most}

    def directly_before(self, activity: str) -> list[str]:
        """Return what an activity waits for at once."""
        return self._links.get(activity, [])

    def before(self, activity: str) -> frozenset[str]:
        """Return an activity with everything that must have been done for it to begin."""
        if activity not in self._before:
            seen, waiting = {activity}, [activity]
            while waiting:
                new = [b for b in self._links.get(waiting.pop(), ()) if b not in seen]
                seen.update(new)
                waiting += new
            self._before[activity] = frozenset(seen)
        return self._before[activity]

    def looked_for(self, hold: Hold) -> str:
        """Return what a hold is looked at for: its inspection, else its kept-open stretch."""
        return self.inspections.get(hold.look, hold.id.removeprefix("hold/"))

    def work_of(self, hold: Hold) -> tuple[Activity, ...]:
        """Return the work that a hold's look comes after, the look itself included, where it is on the same ground."""
        if hold.id not in self._work:
            parts, lines = self.parts(hold), set(hold.lines)
            self._work[hold.id] = tuple(
                a
                for a in map(self.network.by_id.__getitem__, sorted(self.before(hold.look)))
                if (not a.alignment and lines.intersection(a.lines))
                or any(touches(a, p.alignment, p.from_ft, p.to_ft) for p in parts)
            )
        return self._work[hold.id]

    def parts(self, hold: Hold) -> tuple[LinePart, ...]:
        """Return everything that a hold's look is about: its lines where they lie there, else the trench itself."""
        if hold.id not in self._parts:
            self._parts[hold.id] = self._parts_of(hold)
        return self._parts[hold.id]

    def _parts_of(self, hold: Hold) -> tuple[LinePart, ...]:
        look = self.network.by_id[hold.look]
        places = [look] if look.id in self.inspections else [self.network.by_id[g] for g in hold.gates]
        places = [p for p in places if p.alignment]
        if not places:
            whole = [p for line in hold.lines for p in self.designs.of(line)]
            return tuple(LinePart(p.alignment, p.line, p.from_ft, p.to_ft, p.layer) for p in whole)
        found = [p for line in hold.lines for place in places for p in self._within(line, place)]
        return tuple(dict.fromkeys(found or [p for place in places for p in self._within(TRENCH, place)]))

    def _within(self, line: str, place: Activity) -> Iterator[LinePart]:
        for part in self.designs.within(place.alignment, line, place.from_ft, place.to_ft):
            lo, hi = max(part.from_ft, place.from_ft), min(part.to_ft, place.to_ft)
            yield LinePart(place.alignment, line, lo, hi, part.layer)

    def seen(self, hold: Hold, right: Right) -> tuple[Seen, ...]:
        """Return what somebody with a right sees who looks at a hold point now."""
        inspection = self.looked_for(hold)
        return tuple(
            Seen(
                inspection=inspection,
                alignment=p.alignment,
                from_ft=p.from_ft,
                to_ft=p.to_ft,
                line=p.line,
                layer=p.layer,
                design=self.designs.digest(p.alignment, p.line, p.from_ft, p.to_ft),
                right=right,
            )
            for p in self.parts(hold)
        )

    def still_so(self, seen: Seen) -> bool:
        """Tell whether what was seen is what the site file describes now."""
        return seen.design == self.designs.digest(seen.alignment, seen.line, seen.from_ft, seen.to_ft)


_LATELY: deque[Looking] = deque(maxlen=8)


def work_place(activity: Activity) -> WorkPlace:
    """Return what an activity is about, so that it is known again when ids change."""
    return WorkPlace(
        kind=activity.kind.value,
        what=activity.id.rpartition("/")[2],
        alignment=activity.alignment,
        from_ft=activity.from_ft,
        to_ft=activity.to_ft,
        lines=activity.lines,
    )


def cut(part: LinePart, stations: Sequence[float]) -> Iterator[LinePart]:
    """Cut a part at stations, given in order, so that nothing on record begins or ends within a piece."""
    inside = stations[bisect_right(stations, part.from_ft) : bisect_left(stations, part.to_ft)]
    for lo, hi in itertools.pairwise([part.from_ft, *inside, part.to_ft]):
        yield LinePart(part.alignment, part.line, lo, hi, part.layer)
