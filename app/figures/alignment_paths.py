"""Where alignments run, seen from above: their points in feet, straight and square where the site gives none."""

from __future__ import annotations

import math
from itertools import pairwise

from scheduler.site import Alignment, Site

Point = tuple[float, float]


def laid_out(site: Site, alignment: Alignment) -> list[Point]:
    """Return the plan coordinates of an alignment [ft]: its own, or straight from where it leaves."""
    if alignment.path and len(alignment.path) > 1:
        return list(alignment.path)
    if alignment.leaves is None:
        return [(0.0, 0.0), (alignment.length_ft, 0.0)]
    parent = next(a for a in site.alignments if a.id == alignment.leaves.alignment)
    path = laid_out(site, parent)
    x, y = at_station(path, alignment.leaves.station)
    along_x, along_y = direction(path, alignment.leaves.station)
    siblings = [a.id for a in site.alignments if a.leaves and a.leaves.alignment == parent.id]
    side = 1.0 if siblings.index(alignment.id) % 2 == 0 else -1.0
    return [(x, y), (x - side * along_y * alignment.length_ft, y + side * along_x * alignment.length_ft)]


def at_station(path: list[Point], station_ft: float) -> Point:
    """Return the plan coordinates of a station; beyond the end, the end."""
    walked = 0.0
    for (x1, y1), (x2, y2) in pairwise(path):
        leg = math.hypot(x2 - x1, y2 - y1)
        if leg > 0 and station_ft <= walked + leg:
            share = max(0.0, (station_ft - walked) / leg)
            return x1 + share * (x2 - x1), y1 + share * (y2 - y1)
        walked += leg
    return path[-1]


def direction(path: list[Point], station_ft: float) -> Point:
    """Return the unit vector of an alignment at a station."""
    walked, unit = 0.0, (1.0, 0.0)
    for (x1, y1), (x2, y2) in pairwise(path):
        leg = math.hypot(x2 - x1, y2 - y1)
        if leg > 0:
            unit = ((x2 - x1) / leg, (y2 - y1) / leg)
        walked += leg
        if station_ft <= walked:
            break
    return unit


def along(path: list[Point], from_ft: float, to_ft: float, aside_ft: float = 0.0) -> list[Point]:
    """Return the part of a path between two stations, moved to the right of it."""
    corners, walked = [], 0.0
    for (x1, y1), (x2, y2) in pairwise(path):
        walked += math.hypot(x2 - x1, y2 - y1)
        corners.append(walked)
    stops = [from_ft, *(c for c in corners if from_ft < c < to_ft), to_ft]
    points = []
    for stop in stops:
        (x, y), (ux, uy) = at_station(path, stop), direction(path, stop)
        points.append((x + aside_ft * uy, y - aside_ft * ux))
    return points
