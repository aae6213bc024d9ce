"""Where lines join: branches that leave a main, and lines that run on into a branch of the trench."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from scheduler.site.ground import Alignment, Joint, Line
from scheduler.site.site_record import Site
from scheduler.units import TOUCH_FT, format_station

BEGINS_FT = 5.0
"""A line that begins within this of the beginning of a branch begins at the junction: in the trench of the main."""
FEEDS = ("main", "feeder", "branch", "lighting", "lateral", "service")
"""What is joined first where several lines pass: the use nearest to a main."""
WORDS = {
    "tee": "a tee",
    "wye": "a wye",
    "tap": "a tap",
    "splice": "a splice",
    "run_in": "conduit run in beside it",
}
"""How each kind of joint is said."""


@dataclass(frozen=True, slots=True)
class LineSpot:
    """A station of an alignment [ft]."""

    alignment: str
    station: float


@dataclass(frozen=True, slots=True)
class Junction:
    """One line where it joins another; `into` is the line itself where it runs on into a branch."""

    line: str
    into: str
    kind: str
    """A key of `WORDS`, or `run_on`."""
    end: LineSpot
    """Where the line begins, in its own trench."""
    at: LineSpot
    """The same place, in the trench of the line it joins."""
    hours: float | None = None
    """Work of its own; None: part of laying it."""

    def said(self, site: Site) -> str:
        """Return a sentence that names it, without its full stop."""
        names = {line.id: line.name for line in site.lines}
        alignment = next(a.name for a in site.alignments if a.id == self.at.alignment)
        at = f"at {alignment} {format_station(self.at.station)}"
        if self.into == self.line:
            return f"{names[self.line]} runs on into the branch {at}"
        return f"{names[self.line]} joins {names[self.into]} {at} by {WORDS[self.kind]}"


def junctions(site: Site) -> list[Junction]:
    """Return every place where a line joins another or runs on into a branch, in order of the file's lines."""
    by_id = {a.id: a for a in site.alignments}
    lines = {line.id: line for line in site.lines}
    found = [
        j
        for line in site.lines
        for j in (
            *_run_on(line, by_id),
            *(_joined(line, by_id, lines) if line.joins is not None else _tapped(line, by_id, site.lines)),
        )
    ]
    return list(dict.fromkeys(found))


def unjoined(site: Site) -> Iterator[tuple[Line, LineSpot]]:
    """Yield the lines that begin where a branch leaves a trench and, by the file, join nothing there."""
    by_id = {a.id: a for a in site.alignments}
    known = {(j.line, j.end) for j in junctions(site)}
    for line in site.lines:
        if line.joins is None:
            for end in _ends(line):
                if _in_main(end, by_id) is not None and (line.id, end) not in known:
                    yield line, end


def misplaced(site: Site) -> Iterator[tuple[Line, Joint]]:
    """Yield the joints of the file whose other line passes neither end of theirs."""
    found = {(j.line, j.into) for j in junctions(site)}
    for line in site.lines:
        for joint in line.joins or ():
            if (line.id, joint.line) not in found:
                yield line, joint


def _ends(line: Line) -> tuple[LineSpot, LineSpot]:
    first, last = line.route[0], line.route[-1]
    return LineSpot(first.alignment, first.from_), LineSpot(last.alignment, last.to)


def _in_main(end: LineSpot, alignments: dict[str, Alignment]) -> LineSpot | None:
    """Return the place in the trench that a branch leaves, of an end at the branch's beginning; None elsewhere."""
    leaves = alignments[end.alignment].leaves
    return LineSpot(leaves.alignment, leaves.station) if leaves is not None and end.station <= BEGINS_FT else None


def passes(line: Line, spot: LineSpot) -> bool:
    """Tell whether a line lies at a place or ends there."""
    return any(
        s.alignment == spot.alignment and min(s.from_, s.to) - TOUCH_FT <= spot.station <= max(s.from_, s.to) + TOUCH_FT
        for s in line.route
    )


def _run_on(line: Line, alignments: dict[str, Alignment]) -> Iterator[Junction]:
    """Yield where a line lies in a trench and in a branch of it, up to the place where the branch leaves."""
    for stretch in line.route:
        begin = LineSpot(stretch.alignment, min(stretch.from_, stretch.to))
        left = _in_main(begin, alignments)
        if left is not None and passes(line, left):
            yield Junction(line.id, line.id, "run_on", begin, left)


def _joined(line: Line, alignments: dict[str, Alignment], lines: dict[str, Line]) -> Iterator[Junction]:
    """Yield the joints that the file gives, at the ends of the line that the other passes."""
    for joint in line.joins or ():
        into = lines[joint.line]
        for end in _ends(line):
            for spot in (end, _in_main(end, alignments)):
                if spot is not None and into is not line and passes(into, spot):
                    yield Junction(line.id, into.id, joint.kind or _kind(line), end, spot, joint.hours)


def _tapped(line: Line, alignments: dict[str, Alignment], lines: list[Line]) -> Iterator[Junction]:
    """Yield what a line that begins with a branch joins: the line of its kind that passes there.

    Where several do: those of its owner first, then those nearest in use to a main; where that leaves several, each.
    """
    for end in _ends(line):
        spot = _in_main(end, alignments)
        if spot is None:
            continue
        near = {
            k.id: (k.owner != line.owner, FEEDS.index(k.use))
            for k in lines
            if k is not line and k.kind == line.kind and k.use in FEEDS and passes(k, spot)
        }
        for into in (k for k, rank in near.items() if rank == min(near.values())):
            yield Junction(line.id, into, _kind(line), end, spot)


def _kind(line: Line) -> str:
    """Return how a line of its kind is joined where the file does not say."""
    if line.kind in ("sewer", "storm"):
        return "wye"
    if line.kind in ("power", "lighting", "communications"):
        return "splice" if line.material == "direct_buried" else "run_in"
    return "tap" if line.use == "service" else "tee"
