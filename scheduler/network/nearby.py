"""Which ground lies within the swing of a machine that works near by."""

from __future__ import annotations

from collections import defaultdict

from scheduler.network.pieces import Ground
from scheduler.network.plan_distance import Point, drawn, within
from scheduler.site.ground import Alignment, Reach
from scheduler.site.site_record import Site

Part = tuple[str, float, float]
"""Ground along an alignment: its id, and stations from and to [ft], equal for a point."""


class Nearby:
    """Ground by distance along the alignments, round the corners where branches leave, and by plan coordinates."""

    def __init__(self, site: Site, ground: Ground) -> None:
        self._ground = ground
        self._alignments = {a.id: a for a in site.alignments}
        self._branches: dict[str, list[Alignment]] = defaultdict(list)
        for alignment in site.alignments:
            if alignment.leaves:
                self._branches[alignment.leaves.alignment].append(alignment)
        self._drawn: dict[Part, list[Point]] = {}
        self._around: dict[tuple[Part, float], list[Part]] = {}

    def within(self, reach: Reach, distance_ft: float) -> list[str]:
        """Return the other reaches less than `distance_ft` from a reach, in file order."""
        here = _part(reach)
        others = (r for r in self._ground.reaches.values() if r.id != reach.id)
        return [r.id for r in others if self.near(here, _part(r), distance_ft)]

    def near(self, one: Part, other: Part, distance_ft: float) -> bool:
        """Tell whether two parts lie less than a distance apart, along the trenches or straight across."""
        if (one, distance_ft) not in self._around:
            self._around[one, distance_ft] = self._walked(one, distance_ft)
        if any(on == other[0] and other[1] < hi and other[2] > lo for on, lo, hi in self._around[one, distance_ft]):
            return True
        return one[0] != other[0] and self._across(one, other, distance_ft)

    def _across(self, one: Part, other: Part, distance_ft: float) -> bool:
        """Tell whether two parts of drawn alignments lie less than a distance apart in plan."""
        points = []
        for part in (one, other):
            path = self._alignments[part[0]].path
            if not path or len(path) < 2:
                return False
            if part not in self._drawn:
                self._drawn[part] = drawn(path, part[1], part[2])
            points.append(self._drawn[part])
        return within(points[0], points[1], distance_ft)

    def _walked(self, part: Part, distance_ft: float) -> list[Part]:
        """Return the ground less than a distance from a part along the trenches; what only touches its end is not."""
        found: list[Part] = []
        self._walk(*part, distance_ft, "", found)
        return found

    def _walk(self, alignment: str, lo: float, hi: float, left: float, came_from: str, found: list[Part]) -> None:
        if left <= 0:
            return
        found.append((alignment, lo - left, hi + left))
        for branch in self._branches.get(alignment, ()):
            station = branch.leaves.station if branch.leaves else 0.0
            away = max(0.0, lo - station, station - hi)
            if branch.id != came_from and away < left:
                self._walk(branch.id, 0.0, 0.0, left - away, alignment, found)
        parent = self._alignments[alignment].leaves
        if parent and parent.alignment != came_from and lo < left:
            self._walk(parent.alignment, parent.station, parent.station, left - lo, alignment, found)


def _part(reach: Reach) -> Part:
    return reach.alignment, reach.from_, reach.to
