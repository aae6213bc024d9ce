"""Checks of trenches that run side by side, by the plan coordinates of their alignments."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import combinations, pairwise, product

from scheduler.site.ground import Alignment, Reach
from scheduler.trench.along import stretch_within
from scheduler.trench.checks.apart_checks import too_close
from scheduler.trench.checks.view import Spot, View, span_of
from scheduler.trench.section_records import PlacedLine
from scheduler.trench.separations import water_and_sewer
from scheduler.units import INCHES_PER_FOOT, format_feet

_PARALLEL = math.cos(math.radians(30.0))
"""Legs that turn from each other by less than 30 degrees run side by side."""
_LEAST_FT = 0.1
"""Shorter stretches are where trenches touch, not where they run beside each other."""
_FAR_FT = 40.0
"""Trench centres farther apart than this have nothing to do with each other."""
MOST_DRAWN = 1000
"""With more plan coordinates than this on a site trenches are not compared: every two legs would take minutes."""


@dataclass(frozen=True, slots=True)
class _Leg:
    """A straight part of an alignment; `start` and `end` are plan coordinates [ft]."""

    start: tuple[float, float]
    end: tuple[float, float]
    station_ft: float
    """Of its start."""
    length_ft: float
    heading: tuple[float, float]
    """East and north of one foot along it."""

    def near(self, other: _Leg) -> bool:
        """Tell whether another leg runs much the same way, or back, and comes near."""
        if abs(self.heading[0] * other.heading[0] + self.heading[1] * other.heading[1]) < _PARALLEL:
            return False
        return all(
            min(self.start[k], self.end[k]) <= max(other.start[k], other.end[k]) + _FAR_FT
            and min(other.start[k], other.end[k]) <= max(self.start[k], self.end[k]) + _FAR_FT
            for k in (0, 1)
        )


@dataclass(frozen=True, slots=True)
class _Beside:
    """A stretch along which two reaches run side by side."""

    reach: Reach
    other: Reach
    from_ft: float
    to_ft: float
    """Stations of `reach`."""
    other_from_ft: float
    other_to_ft: float
    aside_ft: float
    """From the centre of `reach` to that of `other`, right of rising stations positive."""
    same_way: bool
    """Whether stations rise the same way in both."""


def side_by_side(view: View) -> Iterator[Spot]:
    """Trenches that run beside each other leave ground standing between them, and their lines keep apart."""
    if drawn(view) > MOST_DRAWN:
        return
    legs = {a.id: _legs(a) for a in view.site.alignments if a.path}
    for first, second in combinations([a for a in view.site.alignments if a.path], 2):
        for found in _beside(view, (first, legs[first.id]), (second, legs[second.id])):
            yield from _ground(view, found, first, second)
            yield from _lines(view, found)


def drawn(view: View) -> int:
    """Return how many plan coordinates a site gives."""
    return sum(len(a.path or ()) for a in view.site.alignments)


def _ground(view: View, found: _Beside, first: Alignment, second: Alignment) -> Iterator[Spot]:
    here, there = view.sections[found.reach.id], view.sections[found.other.id]
    lines = [view.lines[p.line] for p in (*here.placed, *there.placed)]
    asked = view.book.get("trenches-apart", reach=found.reach, lines=lines)
    stands = abs(found.aside_ft) - (here.top_width_ft + there.top_width_ft) / 2.0
    if stands < asked.value - 1e-6:
        yield Spot(
            rule=asked.rule,
            subject=(first.id, second.id),
            alignment=first.id,
            from_ft=found.from_ft,
            to_ft=found.to_ft,
            text=f"{first.name} runs beside {second.name} with too little ground between.",
            found=f"{format_feet(stands)} between the edges" if stands > 0 else "one trench inside the other",
            required=f"at least {asked.feet()}",
            source=asked.source,
            gap=asked.value - stands,
        )


def _lines(view: View, found: _Beside) -> Iterator[Spot]:
    """Compare every line of one trench with every line of the other, seen from the first one's centre."""
    for first in view.sections[found.reach.id].placed:
        a = view.lines[first.line]
        for second in view.sections[found.other.id].placed:
            b = view.lines[second.line]
            span = _shared(found, view, first, second)
            if a.id == b.id or span is None:
                continue
            x = found.aside_ft * INCHES_PER_FOOT + (second.x_in if found.same_way else -second.x_in)
            moved = replace(second, x_in=x)
            pair = water_and_sewer(a, b)
            if pair and _water_high(view, found.reach, first, moved, water_first=a.kind == "water"):
                continue
            spot = too_close(view, found.reach, (a, first), (b, moved), span)
            if spot is not None:
                yield replace(spot, text=f"{a.name} and {b.name} lie too close, in two trenches side by side.")


def _water_high(view: View, reach: Reach, first: PlacedLine, second: PlacedLine, *, water_first: bool) -> bool:
    """Tell whether water lies so far above the sewer that it may lie beside it."""
    water, sewer = (first, second) if water_first else (second, first)
    lines = [view.lines[water.line], view.lines[sewer.line]]
    return sewer.top_in - water.bottom_in >= view.book.get("water-sewer-shelf", reach=reach, lines=lines).value


def _shared(found: _Beside, view: View, first: PlacedLine, second: PlacedLine) -> tuple[float, float] | None:
    """Return the part of a stretch that both lines pass, in stations of the first reach, or None."""
    here = stretch_within(view.lines[first.line], found.reach)
    there = stretch_within(view.lines[second.line], found.other)
    spans = []
    for low, high in there:
        if found.same_way:
            moved = (low - found.other_from_ft + found.from_ft, high - found.other_from_ft + found.from_ft)
        else:
            moved = (found.to_ft - (high - found.other_from_ft), found.to_ft - (low - found.other_from_ft))
        for a, b in here:
            start, end = max(a, moved[0], found.from_ft), min(b, moved[1], found.to_ft)
            if end - start > _LEAST_FT:
                spans.append((start, end))
    return (min(a for a, _ in spans), max(b for _, b in spans)) if spans else None


def _beside(view: View, one: tuple[Alignment, list[_Leg]], two: tuple[Alignment, list[_Leg]]) -> Iterator[_Beside]:
    (first, legs), (second, others) = one, two
    near = [(a, b) for a in legs for b in others if a.near(b) and not _joined_there(first, a, second, b)]
    here = {a: _reaches_on(view, first, a) for a in {a for a, _ in near}}
    there = {b: _reaches_on(view, second, b) for b in {b for _, b in near}}
    for leg, other in near:
        for reach, beside in product(here[leg], there[other]):
            found = _overlap(leg, other, reach, beside)
            if found is not None:
                yield found


def _reaches_on(view: View, alignment: Alignment, leg: _Leg) -> list[Reach]:
    """Return the reaches that lie on any of a leg."""
    spans = ((r, span_of(r)) for r in view.site.reaches if r.alignment == alignment.id)
    return [r for r, (low, high) in spans if low < leg.station_ft + leg.length_ft and high > leg.station_ft]


def _joined_there(first: Alignment, leg: _Leg, second: Alignment, other: _Leg) -> bool:
    """Tell whether one leg is the beginning of a branch of the other's alignment: they meet, and part slowly."""
    leaves, left = first.leaves, second.leaves
    one = leaves is not None and leaves.alignment == second.id and leg.station_ft == 0.0
    return one or (left is not None and left.alignment == first.id and other.station_ft == 0.0)


def _legs(alignment: Alignment) -> list[_Leg]:
    legs, walked = [], 0.0
    for start, end in pairwise(alignment.path or []):
        if math.dist(start, end) > 1e-6:
            length = math.dist(start, end)
            heading = ((end[0] - start[0]) / length, (end[1] - start[1]) / length)
            legs.append(_Leg(start, end, walked, length, heading))
            walked += length
    return legs


def _overlap(leg: _Leg, other: _Leg, reach: Reach, beside: Reach) -> _Beside | None:
    """Return the stretch along which two reaches lie beside each other on two legs, or None."""
    (east, north), (east_2, north_2) = leg.heading, other.heading
    turn = east * east_2 + north * north_2
    low, high = span_of(beside)
    low, high = max(low, other.station_ft), min(high, other.station_ft + other.length_ft)
    if high - low <= _LEAST_FT:
        return None
    ends = []
    for station in (low, high):
        along = station - other.station_ft
        x, y = other.start[0] + east_2 * along - leg.start[0], other.start[1] + north_2 * along - leg.start[1]
        ends.append((leg.station_ft + x * east + y * north, x * north - y * east, station))
    (a, aside_a, at_a), (b, aside_b, at_b) = sorted(ends)
    start, end = span_of(reach)
    start, end = max(start, leg.station_ft, a), min(end, leg.station_ft + leg.length_ft, b)
    if end - start <= _LEAST_FT or b - a <= _LEAST_FT or aside_a * aside_b < 0.0:
        return None

    def between(station: float, from_: float, to: float) -> float:
        return from_ + (to - from_) * (station - a) / (b - a)

    nearest = min((between(s, aside_a, aside_b) for s in (start, end)), key=abs)
    there = sorted(between(s, at_a, at_b) for s in (start, end))
    if abs(nearest) > _FAR_FT:
        return None
    return _Beside(reach, beside, start, end, there[0], there[1], nearest, turn > 0)
