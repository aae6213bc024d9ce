"""The cross-section of every reach: what lies where, how wide and deep, how the sides are held."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

from scheduler.site.ground import Reach
from scheduler.site.site_record import Site
from scheduler.trench.book import Book
from scheduler.trench.earth import EARTH, bank_to_loose, spoil_bank_ft
from scheduler.trench.levels import Levels, Run, layers_of, levels_of
from scheduler.trench.ribbon import ribbon_depths
from scheduler.trench.section_records import PlacedLine, Section, Shelf
from scheduler.trench.soil import ladders_needed, working_soil
from scheduler.trench.suggest import Suggestion, layouts, stands_on_shelf
from scheduler.units import format_inches, inches_to_feet


def sections(site: Site) -> dict[str, Section]:
    """Return the section of every reach, by reach id, in the order of the site file."""
    return sections_by(site, Book(site))


def sections_by(site: Site, book: Book) -> dict[str, Section]:
    """Return the section of every reach under the rules of a book."""
    levels = {reach.id: levels_of(site, book, reach) for reach in site.reaches}
    placed = layouts(book, levels)
    return {key: _section_of(site, book, one, placed[key]) for key, one in levels.items()}


def _section_of(site: Site, book: Book, levels: Levels, layout: Suggestion) -> Section:
    """Return the cross-section of one reach.

    Lines without an offset are placed with the least width; a width or depth that the site
    gives is kept even where it is too small, which is for the check to say.
    """
    reach = levels.reach
    width = reach.bottom_width_in or layout.width_in
    layers = layers_of(levels.runs, shading_in=site.backfill.shading_in)
    layer_of = {line: layer.index for layer in layers for line in layer.lines}
    shelves = tuple(
        _shelf(book, levels, run, x_in=layout.x_in[run.line.id]) for run in levels.runs if stands_on_shelf(levels, run)
    )
    length = abs(reach.to - reach.from_)
    top_ft = inches_to_feet(width + 2 * levels.slope * levels.depth_in)
    because = layout.governed_by
    if reach.bottom_width_in is not None:
        because = f"given by the site; needed {format_inches(layout.width_in)}: {because}"
    section = Section(
        reach=reach.id,
        length_ft=length,
        depth_in=levels.depth_in,
        bottom_width_in=width,
        top_width_ft=top_ft,
        slope=levels.slope,
        protection=levels.protection,
        bedding_in=levels.bedding_in,
        layers=layers,
        placed=tuple(_placed(r, layout.x_in[r.line.id], layer_of[r.line.id]) for r in levels.runs),
        ribbons_in=ribbon_depths(site, book, reach, levels.runs),
        ladders=ladders_needed(depth_ft=inches_to_feet(levels.depth_in), length_ft=length),
        spoil_base_ft=0.0,
        width_governed_by=because,
        depth_governed_by=levels.depth_governed_by,
        width_needed_in=layout.width_in,
        depth_needed_in=levels.depth_needed_in,
        soil=working_soil(reach),
        wall_in=levels.room_beside_in,
        shelves=shelves,
        suggested=layout.suggested,
    )
    return with_spoil(section, reach, setback_ft=book.get("spoil-setback", reach=reach).value)


def _placed(run: Run, x_in: float, layer: int) -> PlacedLine:
    return PlacedLine(
        line=run.line.id,
        x_in=x_in,
        width_in=run.width_in,
        outside_in=run.outside_in,
        top_in=run.top_in,
        bottom_in=run.bottom_in,
        layer=layer,
    )


def _shelf(book: Book, levels: Levels, run: Run, *, x_in: float) -> Shelf:
    """Return the ledge a run lies on: on the side where nothing lies lower, or the run's own."""
    shoulder = book.get("shelf-shoulder", reach=levels.reach, lines=[run.line]).value
    return Shelf(
        line=run.line.id,
        side="left" if x_in < 0 else "right",
        inner_in=abs(x_in) - run.width_in / 2.0 - shoulder,
        depth_in=run.bottom_in + levels.bed_in,
    )


def half_widths_in(section: Section, depth_in: float) -> tuple[float, float]:
    """Return how far the trench is open left and right of the centreline at a depth [in]."""
    open_in = section.bottom_width_in / 2.0 + section.slope * (section.depth_in - depth_in)
    ledges = {
        side: min((s.inner_in for s in section.shelves if s.side == side and s.depth_in < depth_in), default=open_in)
        for side in ("left", "right")
    }
    return min(open_in, ledges["left"]), min(open_in, ledges["right"])


def width_at_in(section: Section, depth_in: float) -> float:
    """Return the open width at a depth below grade [in]."""
    return sum(half_widths_in(section, depth_in))


def area_between_sf(section: Section, upper_in: float, lower_in: float) -> float:
    """Return the area of the section between two depths below grade [sq ft]."""
    low, high = min(section.depth_in, lower_in), max(0.0, upper_in)
    if low <= high:
        return 0.0
    steps = sorted({high, low, *(s.depth_in for s in section.shelves if high < s.depth_in < low)})
    return sum(width_at_in(section, (a + b) / 2.0) * (b - a) for a, b in pairwise(steps)) / 144.0


def with_spoil(section: Section, reach: Reach, *, setback_ft: float) -> Section:
    """Return the section with the base of its spoil bank, and whether that fits beside it."""
    if reach.spoil == "haul":
        return section
    loose = bank_to_loose(area_between_sf(section, 0.0, section.depth_in), reach.earth)
    base = spoil_bank_ft(loose_cf_per_ft=loose, repose_deg=EARTH[reach.earth].repose_deg)
    fits = reach.spoil_room_ft is None or setback_ft + base <= reach.spoil_room_ft + 1e-9
    return replace(section, spoil_base_ft=base, spoil_fits=fits)
