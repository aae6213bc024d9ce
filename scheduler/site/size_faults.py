"""How much one place of a trench may hold: what is beyond belief is refused before it costs minutes to work out."""

from __future__ import annotations

from collections.abc import Iterator

from scheduler.site.faults import Fault
from scheduler.site.site_record import Site
from scheduler.units import format_station

MOST_LINES = 60
"""Lines that run side by side at one station. Checks look at every pair of them."""
MOST_CONDUCTORS = 3000
"""Conductors in all lines that run side by side at one station."""


def size_faults(site: Site) -> Iterator[Fault]:
    """Yield a fault for each alignment where more lines or conductors run side by side than any trench holds.

    It stands at the line that is one too many.
    """
    legs: dict[str, list[tuple[float, float, int, int]]] = {}
    for i, line in enumerate(site.lines):
        for k, part in enumerate(line.route):
            if part.to > part.from_:
                legs.setdefault(part.alignment, []).append((part.from_, part.to, i, k))
    for alignment, found in legs.items():
        yield from _too_many(site, alignment, found)


def _too_many(site: Site, alignment: str, legs: list[tuple[float, float, int, int]]) -> Iterator[Fault]:
    # Where a leg ends and another begins only one of them counts: ends come first.
    changes = [(end, 0, i, k) for _, end, i, k in legs] + [(begin, 1, i, k) for begin, _, i, k in legs]
    there: set[tuple[int, int]] = set()
    conductors = 0
    for station, begins, i, k in sorted(changes):
        count = sum(c.count for c in site.lines[i].conductors)
        if not begins:
            there.discard((i, k))
            conductors -= count
            continue
        there.add((i, k))
        conductors += count
        lines = len({line for line, _ in there})
        for many, most, what in ((lines, MOST_LINES, "lines"), (conductors, MOST_CONDUCTORS, "conductors")):
            if many > most:
                place = f"{alignment} {format_station(station)}"
                text = f"More {what} run side by side at {place} than one trench holds."
                yield Fault("site.too-many", ("lines", i, "route", k), text, f"{many} {what}", f"at most {most}")
                return
