"""What a site file describes of a line in a stretch, gone along foot by foot."""

from __future__ import annotations

from typing import Any

from scheduler.site.site_record import Site
from scheduler.trench.section import sections
from tests.oracle.facts import BOX_FIELDS, LINE_FIELDS

_views: dict[tuple[int, str, str, float, float], Any] = {}
_kept: dict[int, Any] = {}


def view_of(site: Site, seen: Any) -> Any:
    """Return all that is to be seen of a line, or of the trench, in a stretch of a site file."""
    key = (id(site), seen.line, seen.alignment, seen.from_ft, seen.to_ft)
    if key not in _views:
        if id(site) not in _kept:
            _kept[id(site)] = (site, sections(site))
        _views[key] = _looked_over(site, _kept[id(site)][1], seen)
    return _views[key]


def _looked_over(site: Site, cuts: Any, seen: Any) -> Any:
    """Go along a stretch foot by foot."""
    view: list[Any] = []
    feet = round((seen.to_ft - seen.from_ft) * 2)
    line = next((k for k in site.lines if k.id == seen.line), None)
    for step in range(feet):
        x = seen.from_ft + (step + 0.5) / 2
        reach = next((r for r in site.reaches if r.alignment == seen.alignment and r.from_ < x < r.to), None)
        if reach is None:
            view.append(None)
            continue
        cut = cuts[reach.id]
        if seen.line == "":
            sizes = [round(v, 2) for v in (cut.depth_in, cut.bottom_width_in, cut.bedding_in)]
            view.append((sizes, round(cut.slope, 3), cut.protection, cut.soil, reach.groundwater))
            continue
        on = line is not None and any(
            s.alignment == seen.alignment and min(s.from_, s.to) < x < max(s.from_, s.to) for s in line.route
        )
        placed = next((p for p in cut.placed if p.line == seen.line), None)
        where = [round(v, 2) for v in (placed.x_in, placed.top_in, placed.bottom_in)] if placed else None
        view.append([*(getattr(line, f) for f in LINE_FIELDS), where] if on else None)
    at: list[Any] = []
    if line is None and seen.line == "":
        crossing = [e for e in site.existing if e.alignment == seen.alignment]
        at = [(e.station, e.kind, e.depth_in, e.size_in) for e in crossing if seen.from_ft <= e.station <= seen.to_ft]
    elif line is not None:
        boxes = [s for s in site.structures if line.id in s.lines and s.alignment == seen.alignment]
        at += [[s.station, *(getattr(s, f) for f in BOX_FIELDS)] for s in boxes]
        at += [
            [b.station, b.degrees, b.radius_in, b.vertical, b.factory]
            for b in line.bends
            if b.alignment == seen.alignment
        ]
        at = [row for row in at if seen.from_ft <= row[0] <= seen.to_ft]
        ends = ((line.route[0].alignment, line.route[0].from_), (line.route[-1].alignment, line.route[-1].to))
        at += [[x, "end"] for a, x in ends if a == seen.alignment and seen.from_ft < x < seen.to_ft]
    return view, sorted(at, key=str)
