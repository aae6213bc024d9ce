"""How everything lies, from a site: for each line and reach what an inspector sees of it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable

from scheduler.network.lying import TRENCH, Lying, as_text
from scheduler.network.setting import Setting
from scheduler.site.ground import Line, Reach, Structure
from scheduler.trench.section_records import PlacedLine, Section
from scheduler.units import TOUCH_FT

_OF_LINE = {
    "kind", "material", "size_in", "count", "use", "voltage_v", "gfci_20a", "conductors", "stub", "pull_string",
    "tracer_wire_awg", "warning_ribbon", "shelf", "protected_crossing", "test",
}  # fmt: skip
_OF_STRUCTURE = {
    "kind", "size_in", "exposed", "riser_material", "riser_height_ft", "slip_joint", "exposed_run_ft", "wrap_mil",
    "gravel_pocket", "conduit_gap_in",
}  # fmt: skip


def build_lying(setting: Setting) -> tuple[Lying, ...]:
    """Return how everything lies, in the order of the reaches and lines of the site file."""
    site = setting.site
    boxes: dict[str, list[Structure]] = defaultdict(list)
    for structure in site.structures:
        for id_ in structure.lines:
            boxes[id_].append(structure)
    out = []
    for reach in site.reaches:
        section = setting.sections[reach.id]
        out.append(_trench(setting, reach, section))
        placed = {p.line: p for p in section.placed}
        for id_, spans in setting.ground.spans[reach.id].items():
            line = setting.ground.lines[id_]
            points = _points(line, boxes[id_], reach.alignment)
            for lo, hi in spans:
                here = tuple(p for p in points if lo - TOUCH_FT <= p[0] <= hi + TOUCH_FT)
                layer = placed[id_].layer if id_ in placed else None
                out.append(Lying(reach.alignment, lo, hi, id_, layer, _design(line, placed.get(id_)), here))
    return tuple(out)


def _design(line: Line, placed: PlacedLine | None) -> str:
    said = line.model_dump(mode="json", include=_OF_LINE)
    if placed is not None:
        said |= {"x": round(placed.x_in, 2), "top": round(placed.top_in, 2), "bottom": round(placed.bottom_in, 2)}
    return as_text(said)


def _points(line: Line, boxes: Iterable[Structure], alignment: str) -> list[tuple[float, str]]:
    """Return bends, boxes and the two ends of a line on one alignment."""
    out = [
        (b.station, as_text(b.model_dump(mode="json", exclude={"alignment", "station"})))
        for b in line.bends
        if b.alignment == alignment
    ]
    out += [(s.station, _box(s)) for s in boxes if s.alignment == alignment]
    ends = [(line.route[0].alignment, line.route[0].from_), (line.route[-1].alignment, line.route[-1].to)]
    out += [(station, as_text("end")) for on, station in ends if on == alignment]
    return sorted(out)


def _box(structure: Structure) -> str:
    return as_text(structure.model_dump(mode="json", include=_OF_STRUCTURE))


def _trench(setting: Setting, reach: Reach, section: Section) -> Lying:
    said = {
        "depth": round(section.depth_in, 2),
        "width": round(section.bottom_width_in, 2),
        "slope": round(section.slope, 3),
        "protection": section.protection,
        "soil": section.soil,
        "bedding": round(section.bedding_in, 2),
        "groundwater": reach.groundwater,
    }
    lo, hi = sorted((reach.from_, reach.to))
    crossed = [
        (e.station, as_text([e.kind, e.depth_in, e.size_in]))
        for e in setting.site.existing
        if e.alignment == reach.alignment and lo <= e.station <= hi
    ]
    return Lying(reach.alignment, lo, hi, TRENCH, None, as_text(said), tuple(sorted(crossed)))
