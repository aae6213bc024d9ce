"""Stations: within their alignment, in order, dug where a line runs, routes in one piece."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import pairwise
from math import ceil, floor

from scheduler.site.faults import Fault, Path
from scheduler.site.ground import Alignment, KeepOpen, Reach, Stretch
from scheduler.site.site_record import Site
from scheduler.units import counted_length, counted_unit, format_counted, format_feet, format_station, near_station

TOLERANCE_FT = 0.01
"""Stations closer than this are one place."""
BESIDE_FT = 5.0
"""A structure may stand this far along from where its lines end."""

MOST_CUTS = 6
"""Cuts in one reach that are named one by one."""

Interval = tuple[float, float]


@dataclass(frozen=True, slots=True)
class _Piece:
    """Part of an alignment, and the field where it is written."""

    path: Path
    alignment: str
    begin: float
    end: float

    def overlap_ft(self, other: _Piece) -> float:
        """Return how far two pieces run together; 0 when they only touch, negative when apart."""
        same = self.alignment == other.alignment
        return min(self.end, other.end) - max(self.begin, other.begin) if same else -float("inf")


def _piece(path: Path, part: Reach | Stretch | KeepOpen) -> _Piece:
    return _Piece(path, part.alignment, part.from_, part.to)


def _route(site: Site, index: int) -> list[_Piece]:
    route = site.lines[index].route
    return [_piece(("lines", index, "route", k), part) for k, part in enumerate(route)]


def _pieces(site: Site) -> Iterator[_Piece]:
    for i, reach in enumerate(site.reaches):
        yield _piece(("reaches", i), reach)
    for i in range(len(site.lines)):
        yield from _route(site, i)
        yield from (_piece(("lines", i, "encased", k), e) for k, e in enumerate(site.lines[i].encased))
    for i, stretch in enumerate(site.keep_open):
        yield _piece(("keep_open", i), stretch)
    for i, work in enumerate(site.outside_work):
        if work.at is not None:
            yield _piece(("outside_work", i, "at"), work.at)


def _spots(site: Site) -> Iterator[tuple[Path, str, float]]:
    """Every single station, with its alignment."""
    for i, alignment in enumerate(site.alignments):
        if alignment.leaves is not None:
            yield ("alignments", i, "leaves", "station"), alignment.leaves.alignment, alignment.leaves.station
    for i, existing in enumerate(site.existing):
        yield ("existing", i, "station"), existing.alignment, existing.station
    for i, thing in enumerate(site.surroundings):
        yield ("surroundings", i, "from"), thing.alignment, thing.from_
        if thing.to is not None:
            yield ("surroundings", i, "to"), thing.alignment, thing.to
    for i, line in enumerate(site.lines):
        for k, bend in enumerate(line.bends):
            yield ("lines", i, "bends", k, "station"), bend.alignment, bend.station
    for i, structure in enumerate(site.structures):
        yield ("structures", i, "station"), structure.alignment, structure.station


def station_faults(site: Site) -> Iterator[Fault]:
    """Stations past the end of their alignment, and stretches that run backwards."""
    by_id = {a.id: a for a in site.alignments}
    spots = list(_spots(site))
    for piece in _pieces(site):
        spots.append(((*piece.path, "from"), piece.alignment, piece.begin))
        spots.append(((*piece.path, "to"), piece.alignment, piece.end))
        if piece.begin >= piece.end:
            yield Fault(
                "site.backwards",
                (*piece.path, "to"),
                "The stretch runs backwards or has no length.",
                found=f"{format_station(piece.begin)} to {format_station(piece.end)}",
                required="'from' before 'to'",
            )
    for i, thing in enumerate(site.surroundings):
        if thing.span[1] < thing.span[0]:
            text = "It ends before it begins."
            yield Fault("site.backwards", ("surroundings", i, "to"), text, required="'from' before 'to'")
    for path, name, station in spots:
        alignment = by_id.get(name)
        if alignment is not None and station > alignment.length_ft + TOLERANCE_FT:
            text = f"The station lies past the end of '{name}', {alignment.name}."
            end = format_station(alignment.length_ft)
            yield Fault("site.past-end", path, text, found=format_station(station), required=f"at most {end}")


def trench_faults(site: Site, *, incomplete: frozenset[str]) -> Iterator[Fault]:
    """Reaches dug twice, lines where nothing is dug, and work on stretches without a trench.

    What lies in a section that is `incomplete` is not missed.
    """
    reaches = [_piece(("reaches", i), reach) for i, reach in enumerate(site.reaches)]
    yield from _dug_twice(site, reaches)
    if "reaches" not in incomplete:
        yield from _undug(site, reaches)
        for i, work in enumerate(site.outside_work):
            if work.at is not None and not _meets(_piece((), work.at), reaches):
                text = "No reach is dug here, so this work cannot occupy the trench."
                yield Fault("site.no-trench", ("outside_work", i, "at"), text)
    if "lines" not in incomplete:
        routes = [piece for i in range(len(site.lines)) for piece in _route(site, i)]
        for i, stretch in enumerate(site.keep_open):
            if stretch.from_ < stretch.to and not _meets(_piece((), stretch), routes):
                yield Fault("site.no-line", ("keep_open", i), "No line runs here, so there is nothing to keep open.")


def open_trench_faults(site: Site, *, incomplete: frozenset[str]) -> Iterator[Fault]:
    """Reaches longer than the trench that may stand open: a reach is dug in one go, so no plan could dig it."""
    limit = site.limits.open_trench_ft
    if limit is None or "limits" in incomplete:
        return
    for i, reach in enumerate(site.reaches):
        if counted_length(reach.to - reach.from_, up=True) > counted_length(limit, up=False):
            yield Fault(
                "site.reach-too-long",
                ("reaches", i, "to"),
                f"This reach alone is longer than the trench that may stand open. {_split_or_raise(reach, limit)}",
                found=format_feet(reach.to - reach.from_),
                required=f"at most {format_feet(limit)} (limits: open_trench_ft)",
            )


def _split_or_raise(reach: Reach, limit: float) -> str:
    """Say how a reach keeps the limit: cut into equal parts, at whole feet if that can be, or with a higher limit."""
    length, most = reach.to - reach.from_, floor(limit)
    enough = format_counted(counted_length(length, up=True), counted_unit()).removesuffix(" ft")
    raised = f"raise `open_trench_ft` to {enough} or more."
    if most < 1 or length > MOST_CUTS * most:
        return f"Split it into reaches of at most {format_feet(limit)}, or {raised}"
    parts = ceil(round(length / most, 6))
    exact = [reach.from_ + length * n / parts for n in range(1, parts)]
    whole = [near_station(cut) for cut in exact]
    fits = all(0 < b - a <= most for a, b in pairwise([reach.from_, *whole, reach.to]))
    cuts = " and ".join(format_station(cut) for cut in (whole if fits else exact))
    return f"Split the reach at {cuts}, or {raised}"


def _meets(piece: _Piece, others: Iterable[_Piece]) -> bool:
    return any(piece.overlap_ft(other) > TOLERANCE_FT for other in others)


def _dug_twice(site: Site, reaches: list[_Piece]) -> Iterator[Fault]:
    names = {reach.path: record.id for reach, record in zip(reaches, site.reaches, strict=True)}
    furthest: _Piece | None = None
    for reach in sorted(reaches, key=lambda r: (r.alignment, r.begin)):
        if furthest is not None and (overlap := reach.overlap_ft(furthest)) > TOLERANCE_FT:
            where = f"{format_station(reach.begin)} to {format_station(reach.begin + overlap)}"
            text = f"This reach is dug by reach '{names[furthest.path]}' too, from {where}."
            yield Fault("site.overlap", reach.path, text)
        if furthest is None or (reach.alignment, reach.end) > (furthest.alignment, furthest.end):
            furthest = reach


def _undug(site: Site, reaches: list[_Piece]) -> Iterator[Fault]:
    ends = {a.id: a.length_ft for a in site.alignments}
    dug: dict[str, list[Interval]] = {}
    for reach in reaches:
        dug.setdefault(reach.alignment, []).append((reach.begin, reach.end))
    for intervals in dug.values():
        intervals.sort()
    for i in range(len(site.lines)):
        for piece in _route(site, i):
            if piece.alignment not in ends:
                continue
            for begin, end in _gaps(piece.begin, min(piece.end, ends[piece.alignment]), dug.get(piece.alignment, [])):
                where = f"{format_station(begin)} to {format_station(end)} of '{piece.alignment}'"
                yield Fault("site.no-trench", piece.path, f"The line runs here, but no reach is dug from {where}.")


def _gaps(begin: float, end: float, covered: list[Interval]) -> Iterator[Interval]:
    """Parts of [begin, end] that no interval, given in order, covers."""
    for first, last in covered:
        if first >= end:
            break
        if first - begin > TOLERANCE_FT:
            yield begin, first
        begin = max(begin, last)
    if end - begin > TOLERANCE_FT:
        yield begin, end


def route_faults(site: Site) -> Iterator[Fault]:
    """Routes in more than one piece or along one stretch twice; what stands off its line's route."""
    by_id = {a.id: a for a in site.alignments}
    reached: dict[str, list[_Piece]] = {}
    for i, line in enumerate(site.lines):
        route = _route(site, i)
        places = [_places(piece, by_id) for piece in route]
        reached[line.id] = [place for each in places for place in each]
        if any(piece.alignment not in by_id or piece.begin >= piece.end for piece in route):
            continue
        for k, piece in enumerate(route):
            if _meets(piece, route[:k]):
                yield Fault("site.overlap", piece.path, "The route runs along this stretch twice.")
        for k in _apart(places):
            text = "This piece of the route does not join the rest, end to end or at a branch."
            yield Fault("site.broken-route", route[k].path, text)
        for k, bend in enumerate(line.bends):
            at = _Piece((), bend.alignment, bend.station, bend.station)
            if _exists(at, by_id) and not _near(at, reached[line.id], TOLERANCE_FT):
                yield Fault(
                    "site.off-route", ("lines", i, "bends", k, "station"), "The bend is not on the line's route."
                )
    for i, structure in enumerate(site.structures):
        at = _Piece((), structure.alignment, structure.station, structure.station)
        for k, name in enumerate(structure.lines):
            if _exists(at, by_id) and name in reached and not _near(at, reached[name], BESIDE_FT):
                text = f"Line '{name}' does not come to {structure.name} at {format_station(structure.station)}."
                yield Fault("site.off-route", ("structures", i, "lines", k), text)


def _exists(at: _Piece, by_id: dict[str, Alignment]) -> bool:
    return at.alignment in by_id and at.end <= by_id[at.alignment].length_ft + TOLERANCE_FT


def _near(at: _Piece, places: list[_Piece], within_ft: float) -> bool:
    return any(at.overlap_ft(place) >= -within_ft for place in places)


def _places(piece: _Piece, by_id: dict[str, Alignment]) -> list[_Piece]:
    """Return a piece, and the point where it leaves each parent alignment if it begins there."""
    found = [piece]
    begin, alignment = piece.begin, by_id.get(piece.alignment)
    while alignment is not None and alignment.leaves is not None and begin <= TOLERANCE_FT and len(found) <= len(by_id):
        begin = alignment.leaves.station
        found.append(_Piece(piece.path, alignment.leaves.alignment, begin, begin))
        alignment = by_id.get(alignment.leaves.alignment)
    return found


def _apart(places: list[list[_Piece]]) -> list[int]:
    """Return the first piece of each part of a route that cannot be reached from its first piece."""
    loose: list[int] = []
    left = set(range(len(places)))
    while left:
        first = min(left)
        if first:
            loose.append(first)
        todo = [first]
        left.discard(first)
        while todo:
            here = places[todo.pop()]
            joined = {k for k in left if any(_near(a, places[k], TOLERANCE_FT) for a in here)}
            left -= joined
            todo.extend(joined)
    return loose
