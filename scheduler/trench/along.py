"""Where a line lies along a reach, and which part of its run that is: an end, the middle, a crossing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from itertools import pairwise

from scheduler.site.ground import Line, Reach
from scheduler.site.site_record import Site

SAME_PLACE_FT = 0.01


def stretch_within(line: Line, reach: Reach) -> list[tuple[float, float]]:
    """Return the parts of a reach that a line passes, as (from, to) in feet along its alignment."""
    parts = []
    for stretch in line.route:
        if stretch.alignment == reach.alignment:
            low = max(min(stretch.from_, stretch.to), min(reach.from_, reach.to))
            high = min(max(stretch.from_, stretch.to), max(reach.from_, reach.to))
            if high - low > SAME_PLACE_FT:
                parts.append((low, high))
    return parts


def ends_on(line: Line, alignment: str) -> tuple[float, ...]:
    """Return the stations of an alignment at which a line begins or ends [ft]."""
    first, last = line.route[0], line.route[-1]
    ends = ((first.alignment, first.from_), (last.alignment, last.to))
    return tuple(station for there, station in ends if there == alignment)


def crossings_of(site: Site) -> Mapping[str, tuple[float, ...]]:
    """Return the stations at which marked lines cross each alignment, or another alignment leaves it [ft]."""
    found: dict[str, list[float]] = {}
    for marked in site.existing:
        found.setdefault(marked.alignment, []).append(marked.station)
    for alignment in site.alignments:
        if alignment.leaves is not None:
            found.setdefault(alignment.leaves.alignment, []).append(alignment.leaves.station)
    return {alignment: tuple(stations) for alignment, stations in found.items()}


def near_any(station: float, places: Iterable[float], within_ft: float) -> bool:
    """Tell whether a station lies within some feet of any of several."""
    return any(abs(station - place) <= within_ft + SAME_PLACE_FT for place in places)


def cut_at(spans: Iterable[tuple[float, float]], cuts: Iterable[float]) -> list[tuple[float, float]]:
    """Cut spans at the stations that lie within them, in order of station."""
    stations = sorted(set(cuts))
    cut: list[tuple[float, float]] = []
    for low, high in sorted(spans):
        inner = [s for s in stations if low + SAME_PLACE_FT < s < high - SAME_PLACE_FT]
        cut.extend(pairwise([low, *inner, high]))
    return cut
