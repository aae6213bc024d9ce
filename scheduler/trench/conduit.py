"""Conduit arithmetic: fill, thermal movement, bend radius, and the pulls along a route."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from scheduler.site.ground import Bend, Conductors, Line, Material, Structure
from scheduler.trench.rules.conduit_rules import (
    CONDUCTOR_SQ_IN,
    FIELD_RADIUS_IN,
    FILL_LIMITS,
    INSIDE_AREA_SQ_IN,
    ONE_SHOT_RADIUS_IN,
    PVC_EXPANSION_PER_F,
)

_NOT_A_PULL_POINT = frozenset({"hydrant", "valve_box", "cleanout"})
_SAME_PLACE_FT = 0.5


@dataclass(frozen=True, slots=True)
class Fill:
    """How full a conduit is [sq in]."""

    used_sq_in: float
    inside_sq_in: float
    limit: float
    """Share of the inside allowed for this many conductors."""

    @property
    def share(self) -> float:
        """Share of the inside taken."""
        return self.used_sq_in / self.inside_sq_in

    @property
    def allowed(self) -> bool:
        """Whether the conductors may be pulled in."""
        return self.used_sq_in <= self.limit * self.inside_sq_in + 1e-9


def conduit_fill(material: Material, size_in: float, conductors: Sequence[Conductors]) -> Fill:
    """Return how full a conduit is (NFPA 70 Chapter 9, Tables 1, 4 and 5).

    Raises KeyError when the conduit or a conductor size is not in the tables.
    """
    inside = INSIDE_AREA_SQ_IN["pvc40" if material == "hdpe" else material][size_in]
    used = sum(c.count * CONDUCTOR_SQ_IN[c.insulation][c.size] for c in conductors)
    number = min(3, sum(c.count for c in conductors))
    return Fill(used_sq_in=used, inside_sq_in=inside, limit=FILL_LIMITS[number])


def pvc_movement_in(*, length_ft: float, change_f: float) -> float:
    """Return how much a straight run of PVC conduit grows or shrinks [in] (NFPA 70 Table 352.44)."""
    return PVC_EXPANSION_PER_F * 12.0 * length_ft * change_f


def least_radius_in(size_in: float, *, factory: bool) -> float:
    """Return the least bend radius to the centreline [in] (NFPA 70 Chapter 9 Table 2).

    Factory bends are held to the one-shot column, field bends to the other. A size between
    two of the table takes the larger one's radius.
    """
    table = ONE_SHOT_RADIUS_IN if factory else FIELD_RADIUS_IN
    return table[min((s for s in table if s >= size_in - 1e-9), default=max(table))]


@dataclass(frozen=True, slots=True)
class RoutePoint:
    """A place along a line's route."""

    along_ft: float
    alignment: str
    station_ft: float


@dataclass(frozen=True, slots=True)
class CablePull:
    """A piece of conduit between two pull points."""

    start: RoutePoint
    end: RoutePoint
    bends: tuple[Bend, ...]

    @property
    def length_ft(self) -> float:
        """Length along the conduit [ft]."""
        return self.end.along_ft - self.start.along_ft

    @property
    def degrees(self) -> float:
        """All of its bends together."""
        return sum(b.degrees for b in self.bends)


def along_route(line: Line, alignment: str, station_ft: float) -> float | None:
    """Return how far along a line's route a station lies [ft], or None when it is not on the route."""
    walked = 0.0
    for stretch in line.route:
        low, high = min(stretch.from_, stretch.to), max(stretch.from_, stretch.to)
        if stretch.alignment == alignment and low - _SAME_PLACE_FT <= station_ft <= high + _SAME_PLACE_FT:
            return walked + min(high - low, abs(station_ft - stretch.from_))
        walked += high - low
    return None


def route_ends(line: Line) -> tuple[RoutePoint, RoutePoint]:
    """Return where a line's route begins and ends."""
    first, last = line.route[0], line.route[-1]
    length = sum(abs(s.to - s.from_) for s in line.route)
    return RoutePoint(0.0, first.alignment, first.from_), RoutePoint(length, last.alignment, last.to)


def pulls_of(line: Line, structures: Sequence[Structure]) -> tuple[CablePull, ...]:
    """Cut a conduit's route at its pull points; each bend belongs to the piece it lies in.

    Of bends at an inner pull point the first belongs to the piece before it, others to the
    piece after: the sweeps up into a box from both sides.
    """
    start, end = route_ends(line)
    inner = {}
    for s in structures:
        if line.id in s.lines and s.kind not in _NOT_A_PULL_POINT:
            at = along_route(line, s.alignment, s.station)
            if at is not None and _SAME_PLACE_FT < at < end.along_ft - _SAME_PLACE_FT:
                inner[round(at, 2)] = RoutePoint(at, s.alignment, s.station)
    cuts = [start, *(inner[k] for k in sorted(inner)), end]
    pieces: list[list[Bend]] = [[] for _ in cuts[1:]]
    met: set[int] = set()
    for bend in line.bends:
        at = along_route(line, bend.alignment, bend.station)
        if at is None:
            continue
        piece = _piece_of(at, cuts, met)
        pieces[piece].append(bend)
    return tuple(CablePull(start=a, end=b, bends=tuple(p)) for a, b, p in zip(cuts, cuts[1:], pieces, strict=False))


def _piece_of(at_ft: float, cuts: Sequence[RoutePoint], met: set[int]) -> int:
    for i, cut in enumerate(cuts[1:-1], start=1):
        if abs(at_ft - cut.along_ft) <= _SAME_PLACE_FT:
            later = i in met
            met.add(i)
            return i if later else i - 1
    return next((i for i, cut in enumerate(cuts[1:]) if at_ft <= cut.along_ft + _SAME_PLACE_FT), len(cuts) - 2)
