"""Which reaches lie within the swing of a machine that works in another."""

from __future__ import annotations

from collections import defaultdict

from scheduler.network.pieces import Ground
from scheduler.site.ground import Alignment, Reach
from scheduler.site.site_record import Site


class Nearby:
    """Reaches by distance along the alignments, round the corners where branches leave."""

    def __init__(self, site: Site, ground: Ground) -> None:
        self._ground = ground
        self._alignments = {a.id: a for a in site.alignments}
        self._branches: dict[str, list[Alignment]] = defaultdict(list)
        for alignment in site.alignments:
            if alignment.leaves:
                self._branches[alignment.leaves.alignment].append(alignment)

    def within(self, reach: Reach, distance_ft: float) -> list[str]:
        """Return the other reaches less than `distance_ft` from a reach, in file order of discovery."""
        found: dict[str, None] = {}
        self._walk(reach.alignment, reach.from_, reach.to, distance_ft, "", found)
        found.pop(reach.id, None)
        return list(found)

    def _walk(self, alignment: str, lo: float, hi: float, left: float, came_from: str, found: dict[str, None]) -> None:
        if left <= 0:
            return
        for reach in self._ground.along(alignment, lo - left, hi + left):
            if reach.from_ - hi < left and lo - reach.to < left:
                found[reach.id] = None
        for branch in self._branches.get(alignment, ()):
            station = branch.leaves.station if branch.leaves else 0.0
            away = max(0.0, lo - station, station - hi)
            if branch.id != came_from and away < left:
                self._walk(branch.id, 0.0, 0.0, left - away, alignment, found)
        parent = self._alignments[alignment].leaves
        if parent and parent.alignment != came_from and lo < left:
            self._walk(parent.alignment, parent.station, parent.station, left - lo, alignment, found)
