"""How far apart stretches of trench lie in plan, by the coordinates of their alignments."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise, product

Point = tuple[float, float]
"""East and north [ft]."""


def drawn(path: Sequence[Point], from_ft: float, to_ft: float) -> list[Point]:
    """Return the part of a path between two stations, as the points of its bends and ends; one point where they meet.

    Stations past the end of the path are its end.
    """
    points, walked = [_at(path, from_ft)], 0.0
    for start, end in pairwise(path):
        walked += math.dist(start, end)
        if from_ft < walked < to_ft:
            points.append(end)
    last = _at(path, to_ft)
    return points if last == points[-1] else [*points, last]


def _at(path: Sequence[Point], station_ft: float) -> Point:
    left = station_ft
    for start, end in pairwise(path):
        length = math.dist(start, end)
        if length > 0.0 and left <= length:
            share = max(0.0, left) / length
            return (start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1]))
        left -= length
    return path[-1]


def within(one: Sequence[Point], other: Sequence[Point], distance_ft: float) -> bool:
    """Tell whether two drawn stretches come nearer to each other than a distance."""
    if any(
        min(p[k] for p in one) - max(p[k] for p in other) >= distance_ft
        or min(p[k] for p in other) - max(p[k] for p in one) >= distance_ft
        for k in (0, 1)
    ):
        return False
    return any(_apart(a, b) < distance_ft for a, b in product(_legs(one), _legs(other)))


def _legs(points: Sequence[Point]) -> list[tuple[Point, Point]]:
    return list(pairwise(points)) or [(points[0], points[0])]


def _apart(one: tuple[Point, Point], other: tuple[Point, Point]) -> float:
    """Return the distance between two straight legs."""
    if _cross(one, other):
        return 0.0
    ends = [(p, other) for p in one] + [(p, one) for p in other]
    return min(_from_leg(point, leg) for point, leg in ends)


def _cross(one: tuple[Point, Point], other: tuple[Point, Point]) -> bool:
    (a, b), (c, d) = one, other
    return _side(a, b, c) * _side(a, b, d) < 0.0 and _side(c, d, a) * _side(c, d, b) < 0.0


def _side(a: Point, b: Point, p: Point) -> float:
    return (b[0] - a[0]) * (p[1] - a[1]) - (b[1] - a[1]) * (p[0] - a[0])


def _from_leg(point: Point, leg: tuple[Point, Point]) -> float:
    """Return the distance of a point from a straight leg."""
    (x, y), (x1, y1), (x2, y2) = point, *leg
    square = (x2 - x1) ** 2 + (y2 - y1) ** 2
    along = 0.0 if square == 0.0 else max(0.0, min(1.0, ((x - x1) * (x2 - x1) + (y - y1) * (y2 - y1)) / square))
    return math.dist(point, (x1 + along * (x2 - x1), y1 + along * (y2 - y1)))
