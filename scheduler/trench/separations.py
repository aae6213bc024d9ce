"""How far two lines of one trench must stay apart, side by side or in layers."""

from __future__ import annotations

import math

from scheduler.site.ground import Line, Reach
from scheduler.trench.book import Book
from scheduler.trench.rule import Value
from scheduler.trench.rules.apart_rules import pair_id

INSIDE_BUILDING_SEWER = "pvc40"
"""The only sewer material of the site file that IPC Table 702.2 lists for a building drain."""


def water_and_sewer(first: Line, second: Line) -> tuple[Line, Line] | None:
    """Return (water, sewer) when the two lines are that pair, else None."""
    kinds = {first.kind: first, second.kind: second}
    return (kinds["water"], kinds["sewer"]) if {"water", "sewer"} <= set(kinds) else None


def separation(book: Book, first: Line, second: Line, reach: Reach) -> Value:
    """Return the clear distance two lines keep in a reach [in], with its source.

    Water beside sewer pipe approved inside a building is excused from 5 ft (IPC 603.2
    exception 2) and keeps 12 in by common practice.
    """
    rule = f"apart-{pair_id(first.kind, second.kind)}"
    pair = water_and_sewer(first, second)
    if pair and pair[1].material == INSIDE_BUILDING_SEWER:
        source = "IPC 603.2 exception 2 for the sewer's material; 12 in is common practice"
        return book.get(rule, reach=reach, lines=(first, second), built_in=12.0, source=source)
    return book.get(rule, reach=reach, lines=(first, second))


def horizontal_gap_in(
    distance_in: float, first: Line, second: Line, *, vertical_gap_in: float, stacked_counts: bool = True
) -> float:
    """Return the sideways gap [in] that keeps a clear distance, given the vertical gap between the two.

    The distance is the shortest between the two outlines, except water beside sewer, which
    is measured sideways only, and not at all when the water lies on a shelf.
    """
    pair = water_and_sewer(first, second)
    if pair:
        if pair[0].shelf:
            return 0.0
        if pair[1].material != INSIDE_BUILDING_SEWER:
            return distance_in
    if not stacked_counts or vertical_gap_in <= 0.0:
        return distance_in
    return math.sqrt(max(0.0, distance_in**2 - vertical_gap_in**2))
