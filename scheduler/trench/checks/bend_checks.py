"""Checks of what sheets ask of bends, markers and ends along a line's route."""

from __future__ import annotations

import math
from collections.abc import Iterator
from itertools import pairwise

from scheduler.site.ground import Bend, Line
from scheduler.trench.checks.asked_checks import found_and_required, keeps
from scheduler.trench.checks.view import Spot, View
from scheduler.trench.conduit import RoutePoint, along_route, pulls_of, route_ends
from scheduler.trench.pipes import is_wired
from scheduler.trench.rule import Value
from scheduler.units import INCHES_PER_FOOT, format_amount, format_station

_BESIDE_FT = 5.0
"""A structure stands at an end of a line, or at a bend, when it stands within this of it."""


def _at_station(line: Line, asked: Value, where: RoutePoint, words: str, found: str, required: str) -> Spot:
    return Spot(
        rule=asked.rule,
        subject=(line.id,),
        alignment=where.alignment,
        from_ft=where.station_ft,
        to_ft=where.station_ft,
        text=f"{line.name} {words}",
        found=found,
        required=required,
        source=asked.source,
    )


def elbows(view: View) -> Iterator[Spot]:
    """Every bend is of the material, the radius and the angle that sheets ask for."""
    for line in view.site.lines:
        for bend in line.bends:
            facts: tuple[tuple[str, float | str, str], ...] = (
                ("elbow-material", bend.material or line.material, "has an elbow of a material not allowed here."),
                ("radius-times", bend.radius_in / line.size_in, "has too tight a bend for its size."),
                ("bend-degrees", bend.degrees, "turns too much in one bend."),
            )
            reach = view.reach_at(bend.alignment, bend.station)
            for rule, fact, words in facts:
                asked = view.book.find(rule, reach=reach, lines=[line], at=bend.station)
                if asked is not None and not keeps(asked, fact):
                    found, required = found_and_required(asked, fact)
                    yield _at_station(line, asked, _point(bend), words, found, required)
            marked = view.book.asks("marker-at-bends", reach=reach, lines=[line], at=bend.station)
            if marked is not None and not _stands(view, line, _point(bend), ("marker",)):
                words = "changes direction where no marker stands."
                yield _at_station(line, marked, _point(bend), words, "no marker", "a marker")


def _point(bend: Bend) -> RoutePoint:
    return RoutePoint(0.0, bend.alignment, bend.station)


def bends_between(view: View) -> Iterator[Spot]:
    """Between two pull points there are no more bends than asked, and enough straight run between them."""
    for line in view.site.lines:
        if is_wired(line):
            for pull in pulls_of(line, view.site.structures):
                reach = view.reach_at(pull.start.alignment, pull.start.station_ft)
                most = view.book.find("bends-number", reach=reach, lines=[line])
                if most is not None and len(pull.bends) > most.value:
                    found = f"{len(pull.bends)} bends from {_named(pull.start)} to {_named(pull.end)}"
                    words = "has too many bends between two pull points."
                    yield _at_station(line, most, pull.start, words, found, f"at most {most.value:g}")
        yield from _straight_runs(view, line)


def _named(point: RoutePoint) -> str:
    return format_station(point.station_ft)


def _straight_runs(view: View, line: Line) -> Iterator[Spot]:
    """Compare the straight run between two bends: from corner to corner, less the tangents R tan(angle / 2)."""
    placed = [(along_route(line, b.alignment, b.station), b) for b in line.bends]
    ordered = sorted(((at, b) for at, b in placed if at is not None), key=lambda p: p[0])
    for (first, one), (second, other) in pairwise(ordered):
        asked = view.book.find("bend-straight", reach=view.reach_at(one.alignment, one.station), lines=[line])
        if asked is None:
            continue
        straight = second - first - _tangent_ft(one) - _tangent_ft(other)
        if straight < asked.value - 1e-6:
            words = "runs straight for too short between two bends."
            yield _at_station(line, asked, _point(one), words, asked.feet(straight), f"at least {asked.feet()}")


def _tangent_ft(bend: Bend) -> float:
    return bend.radius_in * math.tan(math.radians(bend.degrees) / 2.0) / INCHES_PER_FOOT


def along(view: View) -> Iterator[Spot]:
    """Markers stand near enough to each other, and what sheets ask for stands at the ends."""
    for line in view.site.lines:
        first, last = route_ends(line)
        reach = view.reach_at(first.alignment, first.station_ft)
        every = view.book.find("marker-every", reach=reach, lines=[line])
        if every is not None:
            yield from _marker_gaps(view, line, every)
        for end in (first, last):
            reach = view.reach_at(end.alignment, end.station_ft)
            ends = view.book.find("structure-at-ends", reach=reach, lines=[line])
            if ends is not None and not _stands(view, line, end, ends.items):
                words = "ends where nothing of what is asked for stands."
                yield _at_station(line, ends, end, words, "none of them", " or ".join(ends.items))


def _stands(view: View, line: Line, where: RoutePoint, kinds: tuple[str, ...]) -> bool:
    return any(
        s.kind in kinds
        and line.id in s.lines
        and s.alignment == where.alignment
        and abs(s.station - where.station_ft) <= _BESIDE_FT
        for s in view.site.structures
    )


def _marker_gaps(view: View, line: Line, every: Value) -> Iterator[Spot]:
    points = list(route_ends(line))
    for s in view.site.structures:
        at = along_route(line, s.alignment, s.station) if s.kind == "marker" and line.id in s.lines else None
        if at is not None:
            points.append(RoutePoint(at, s.alignment, s.station))
    for one, other in pairwise(sorted(points, key=lambda p: p.along_ft)):
        gap = other.along_ft - one.along_ft
        if gap > every.value + 1e-6:
            words = f"has no marker from {_named(one)} to {_named(other)}."
            required = f"at most {format_amount(every.value, 'ft', like=every.written)} apart"
            yield _at_station(line, every, one, words, every.feet(gap), required)
