"""Checks of crossings: marked lines that cross the trench, and lines that turn off over others."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

from scheduler.findings import Severity
from scheduler.site.ground import Alignment, Branch, ExistingLine, Line, LineKind, Reach
from scheduler.trench.along import stretch_within
from scheduler.trench.checks.view import Spot, View
from scheduler.trench.register import RULES
from scheduler.trench.rules.apart_rules import pair_id
from scheduler.trench.section_records import PlacedLine

_TOLERANCE_IN = 0.05
_AT_END_FT = 0.5


@dataclass(frozen=True, slots=True)
class _Thing:
    """A line where it crosses another; depths below grade [in]."""

    id: str
    name: str
    kind: LineKind
    top_in: float
    bottom_in: float
    protected: bool
    line: Line | None = None


def crossings(view: View) -> Iterator[Spot]:
    """Lines that cross keep clear of each other in height, and water passes over sewer.

    Two new lines can still be moved apart; a line already in the ground stops the work. A line that is
    protected there needs no clearance and may pass either way, but cannot lie where another lies.
    """
    for alignment, station, first, second, reach in _meetings(view):
        protected = first.protected or second.protected
        lines = [t.line for t in (first, second) if t.line is not None]
        asked = view.book.get(f"cross-{pair_id(first.kind, second.kind)}", reach=reach, lines=lines)
        clear = max(first.top_in - second.bottom_in, second.top_in - first.bottom_in)
        upper, lower = (first, second) if first.top_in <= second.top_in else (second, first)
        text, found, source = f"{upper.name} and {lower.name} cross too close.", "", asked.source
        required, rule = f"at least {asked.inches()} clear in height", asked.rule
        if protected and clear < -_TOLERANCE_IN:
            found, required = "both at one depth", "one to pass over the other, protected or not"
        elif protected:
            continue
        elif clear < asked.value - _TOLERANCE_IN:
            found = f"{asked.inches(clear)} clear" if clear >= 0 else "both at one depth"
        elif (upper.kind, lower.kind) == ("sewer", "water"):
            rule, found, required = "water-over-sewer", "sewer above water", "water above sewer, or a sleeve"
            text, source = f"{lower.name} passes under {upper.name}.", RULES["water-over-sewer"].cited
        if found:
            yield Spot(
                rule=rule,
                subject=tuple(sorted((first.id, second.id))),
                alignment=alignment,
                from_ft=station,
                to_ft=station,
                text=text,
                found=found,
                required=required,
                source=source,
                gap=asked.value - clear,
                severity=Severity.STOP if second.line is None else Severity.FIX,
            )


def _meetings(view: View) -> Iterator[tuple[str, float, _Thing, _Thing, Reach]]:
    for existing in view.site.existing:
        yield from _over_existing(view, existing)
    for branch in view.site.alignments:
        if branch.leaves is not None:
            yield from _turning_off(view, branch, branch.leaves)


def _over_existing(view: View, existing: ExistingLine) -> Iterator[tuple[str, float, _Thing, _Thing, Reach]]:
    """Yield every line over or under which a marked line of known depth passes."""
    reach = view.reach_at(existing.alignment, existing.station)
    if existing.depth_in is None or reach is None:
        return
    there = _Thing(
        id=existing.id,
        name=f"the marked {existing.kind} line",
        kind=existing.kind,
        top_in=existing.depth_in,
        bottom_in=existing.depth_in + existing.size_in,
        protected=False,
    )
    for placed in view.sections[reach.id].placed:
        line = view.lines[placed.line]
        if any(a - 1e-6 <= existing.station <= b + 1e-6 for a, b in stretch_within(line, reach)):
            yield existing.alignment, existing.station, _thing(line, placed), there, reach


def _thing(line: Line, placed: PlacedLine) -> _Thing:
    return _Thing(
        id=line.id,
        name=line.name,
        kind=line.kind,
        top_in=placed.top_in,
        bottom_in=placed.bottom_in,
        protected=line.protected_crossing,
        line=line,
    )


def _turning_off(view: View, branch: Alignment, leaves: Branch) -> Iterator[tuple[str, float, _Thing, _Thing, Reach]]:
    """Yield the lines of a trench that a line crosses as it turns off into a branch.

    It crosses whatever passes the junction between its own place and the side of the branch.
    Without plan coordinates the side is unknown and the one with fewer lines is taken.
    """
    parent = view.reach_at(leaves.alignment, leaves.station)
    into = view.reach_at(branch.id, 0.0)
    if parent is None or into is None:
        return
    turning = {p.line: p for p in view.sections[into.id].placed if _reaches(view.lines[p.line], branch.id, 0.0)}
    passing = [p for p in _around(view, leaves) if p.line not in turning]
    for line_id, placed in turning.items():
        line = view.lines[line_id]
        start = _starting_x(view, line, leaves)
        if start is None:
            continue
        sides = {s: [p for p in passing if (p.x_in - start) * s > 0] for s in (-1.0, 1.0)}
        side = _side(view, branch, leaves)
        crossed = sides[side] if side is not None else min(sides.values(), key=len)
        for other in crossed:
            yield leaves.alignment, leaves.station, _thing(line, placed), _thing(view.lines[other.line], other), parent


def _around(view: View, leaves: Branch) -> list[PlacedLine]:
    """Return the runs that pass the junction on either side of it, each once."""
    found: dict[str, PlacedLine] = {}
    for reach in view.site.reaches:
        if reach.alignment != leaves.alignment:
            continue
        for placed in view.sections[reach.id].placed:
            spans = stretch_within(view.lines[placed.line], reach)
            if any(a - 1e-6 <= leaves.station <= b + 1e-6 for a, b in spans):
                found.setdefault(placed.line, placed)
    return [p for p in found.values() if _passes_through(view.lines[p.line], leaves)]


def _passes_through(line: Line, leaves: Branch) -> bool:
    """Tell whether a line goes on past the junction rather than ending there."""
    spans = [(min(s.from_, s.to), max(s.from_, s.to)) for s in line.route if s.alignment == leaves.alignment]
    return (
        min(a for a, _ in spans) < leaves.station - _AT_END_FT
        and max(b for _, b in spans) > leaves.station + _AT_END_FT
    )


def _reaches(line: Line, alignment: str, station_ft: float) -> bool:
    return any(
        s.alignment == alignment and min(s.from_, s.to) - _AT_END_FT <= station_ft <= max(s.from_, s.to) + _AT_END_FT
        for s in line.route
    )


def _starting_x(view: View, line: Line, leaves: Branch) -> float | None:
    """Return where across the trench a line turns off: its own place there, or that of the line it taps."""
    there = _placed_at(view, leaves)
    if line.id in there:
        return there[line.id].x_in
    tapped = [p.x_in for key, p in there.items() if view.lines[key].kind == line.kind]
    return tapped[0] if tapped else None


def _placed_at(view: View, leaves: Branch) -> dict[str, PlacedLine]:
    return {
        p.line: p
        for reach in view.site.reaches
        if reach.alignment == leaves.alignment
        for p in view.sections[reach.id].placed
        if _reaches(view.lines[p.line], leaves.alignment, leaves.station)
    }


def _side(view: View, branch: Alignment, leaves: Branch) -> float | None:
    """Return +1 when the branch leaves to the right of rising stations, -1 to the left, None when unknown."""
    parent = next((a for a in view.site.alignments if a.id == leaves.alignment), None)
    if parent is None or not parent.path or not branch.path or len(branch.path) < 2 or len(parent.path) < 2:
        return None
    heading = heading_at(parent.path, leaves.station)
    away = (branch.path[1][0] - branch.path[0][0], branch.path[1][1] - branch.path[0][1])
    turn = heading[0] * away[1] - heading[1] * away[0]
    return None if abs(turn) < 1e-9 else (-1.0 if turn > 0 else 1.0)


def heading_at(path: list[tuple[float, float]], station_ft: float) -> tuple[float, float]:
    """Return the direction of a path at a station, as (east, north) feet of its leg."""
    walked = 0.0
    leg = (1.0, 0.0)
    for (x1, y1), (x2, y2) in pairwise(path):
        leg = (x2 - x1, y2 - y1)
        walked += (leg[0] ** 2 + leg[1] ** 2) ** 0.5
        if station_ft <= walked + 1e-6:
            break
    return leg
