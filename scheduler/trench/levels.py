"""How deep things lie in a reach: the lines that pass, their levels and layers, the depth to dig."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from scheduler.site.ground import Line, Reach
from scheduler.site.site_record import Site
from scheduler.trench.along import stretch_within
from scheduler.trench.book import Book
from scheduler.trench.cover_depth import cover_parts
from scheduler.trench.pipes import is_wired, outside_diameter_in, run_width_in
from scheduler.trench.rule import Value
from scheduler.trench.section_records import Layer
from scheduler.trench.separations import INSIDE_BUILDING_SEWER
from scheduler.trench.soil import LADDER_FROM_FT, protective_system
from scheduler.units import format_inches, inches_to_feet

LAYER_REACH_IN = 3.0
"""Lines whose bottoms lie within this of the lowest of them form one layer."""
SMALL_PIPE_IN = 3.0
"""Pipe up to this outside diameter needs no room for work under its sides."""


@dataclass(frozen=True, slots=True)
class Run:
    """A line in a reach at its level; depths below grade [in]."""

    line: Line
    width_in: float
    outside_in: float
    top_in: float
    asked: Value
    """The least cover its rules ask for here."""

    @property
    def bottom_in(self) -> float:
        """Underside below grade [in]."""
        return self.top_in + self.outside_in


@dataclass(frozen=True, slots=True)
class Levels:
    """What is known of a reach before anything is placed across it."""

    reach: Reach
    runs: tuple[Run, ...]
    depth_in: float
    depth_needed_in: float
    depth_governed_by: str
    bedding_in: float
    """Under the lowest line, all that the depth leaves."""
    bed_in: float
    """The bedding asked for, under a pipe on a shelf too."""
    protection: str
    slope: float
    room_beside_in: float
    """Taken by the walls of a shield, each side."""
    floor_in: float
    """Least bottom width whatever the lines."""
    floor_because: str


def lines_in(site: Site, reach: Reach) -> list[Line]:
    """Return the lines that pass any part of a reach, in the order of the site file."""
    return [line for line in site.lines if stretch_within(line, reach)]


def runs_in(site: Site, book: Book, reach: Reach) -> tuple[Run, ...]:
    """Return the lines of a reach at their levels: as given, or at the least cover allowed.

    A sewer without a cover of its own goes below water on a shelf, far enough for the shelf.
    """
    runs = []
    for line in lines_in(site, reach):
        asked = max((value for _, _, value in cover_parts(book, line, reach)), key=lambda v: v.value)
        outside = outside_diameter_in(line.material, line.size_in)
        top = asked.value if line.cover_in is None else line.cover_in
        runs.append(Run(line=line, width_in=run_width_in(line), outside_in=outside, top_in=top, asked=asked))
    shelved = [r.bottom_in for r in runs if r.line.kind == "water" and r.line.shelf]
    if not shelved:
        return tuple(runs)
    shelf = book.get("water-sewer-shelf", reach=reach)
    below = max(shelved) + shelf.value
    return tuple(replace(r, top_in=below) if _sinks(r.line) and r.top_in < below else r for r in runs)


def _sinks(line: Line) -> bool:
    return line.kind == "sewer" and line.cover_in is None and line.material != INSIDE_BUILDING_SEWER


def layers_of(runs: Sequence[Run], *, shading_in: float) -> tuple[Layer, ...]:
    """Group runs into layers from the lowest up; each is shaded to its cover or the next layer's underside."""
    groups: list[list[Run]] = []
    for run in sorted(runs, key=lambda r: (-r.bottom_in, r.line.id)):
        if groups and groups[-1][0].bottom_in - run.bottom_in <= LAYER_REACH_IN + 1e-9:
            groups[-1].append(run)
        else:
            groups.append([run])
    layers = []
    for index, group in enumerate(groups):
        top = min(r.top_in for r in group)
        shaded = max(0.0, top - shading_in)
        if index + 1 < len(groups):
            shaded = max(shaded, max(r.bottom_in for r in groups[index + 1]))
        layers.append(
            Layer(
                index=index,
                lines=tuple(r.line.id for r in group),
                bottom_in=group[0].bottom_in,
                top_in=top,
                shaded_to_in=shaded,
            )
        )
    return tuple(layers)


def _depth_needed(book: Book, reach: Reach, runs: Sequence[Run], bedding_in: float) -> tuple[float, str]:
    on_bottom = [r for r in runs if not r.line.shelf] or list(runs)
    lowest = max(on_bottom, key=lambda r: r.bottom_in, default=None)
    needed, because = 0.0, "nothing lies here"
    if lowest is not None:
        needed = lowest.bottom_in + bedding_in
        source = f" ({lowest.asked.source})" if lowest.top_in == lowest.asked.value else ""
        because = (
            f"{lowest.line.name}: {format_inches(lowest.top_in)} of cover{source}, "
            f"{format_inches(lowest.outside_in)} of line, {format_inches(bedding_in)} of bedding"
        )
    least = book.find("depth-least", reach=reach, lines=[r.line for r in runs])
    if least is not None and least.value > needed:
        return least.value, least.source
    return needed, because


def _floor(
    site: Site, book: Book, reach: Reach, lines: Sequence[Line], *, depth_in: float, walls_in: float
) -> tuple[float, str]:
    """Return the least bottom width whatever the lines, and why: people need theirs between the walls of a shield."""
    buckets = [(e.bucket_width_in, f"the bucket of {e.name}") for e in site.equipment if e.kind == "excavator"]
    floors = [min(buckets)] if buckets else []
    if inches_to_feet(depth_in) >= LADDER_FROM_FT:
        people = book.get("width-people", reach=reach)
        between = f", between shield walls of {format_inches(walls_in)} each" if walls_in else ""
        floors.append((people.value + 2 * walls_in, f"people at work in it ({people.source}){between}"))
    least = book.find("width-least", reach=reach, lines=lines)
    if least is not None:
        floors.append((least.value, least.source))
    return max(floors, default=(0.0, "nothing lies here"))


def levels_of(site: Site, book: Book, reach: Reach) -> Levels:
    """Work out everything about a reach that does not depend on where lines lie across it."""
    runs = runs_in(site, book, reach)
    lines = [r.line for r in runs]
    bedding = site.backfill.bedding_in
    if reach.earth == "blasted_rock" or reach.soil == "stable_rock":
        bedding = max(bedding, book.get("bedding-rock", reach=reach).value)
    needed, because = _depth_needed(book, reach, runs, bedding)
    depth = needed if reach.depth_in is None else reach.depth_in
    if reach.depth_in is not None:
        because = f"given by the site; needed {format_inches(needed)}: {because}"
    protection, slope = protective_system(reach, depth_ft=inches_to_feet(depth))
    walls = book.get("room-shield", reach=reach).value if protection == "shield" else 0.0
    floor, floor_because = _floor(site, book, reach, lines, depth_in=depth, walls_in=walls)
    lowest = max((r.bottom_in for r in runs if not r.line.shelf), default=depth - bedding)
    return Levels(
        reach=reach,
        runs=runs,
        depth_in=depth,
        depth_needed_in=needed,
        depth_governed_by=because,
        bedding_in=max(0.0, depth - lowest),
        bed_in=bedding,
        protection=protection,
        slope=slope,
        room_beside_in=walls,
        floor_in=floor,
        floor_because=floor_because,
    )


def room_beside(book: Book, run: Run, reach: Reach) -> Value:
    """Return the room between a run and the trench wall [in], and who asks for it."""
    small = is_wired(run.line) or run.outside_in <= SMALL_PIPE_IN
    return book.get("room-small" if small else "room-pipe", reach=reach, lines=[run.line])


def room_in(book: Book, run: Run, reach: Reach) -> float:
    """Return the room between a run and the trench wall [in]."""
    return room_beside(book, run, reach).value
