"""What of an unfinished site can be drawn: the records that can be read and that lie where there is ground for them."""

from __future__ import annotations

from pydantic import ValidationError

from scheduler.site.draft_paths import Data
from scheduler.site.files import readable_part, units_said
from scheduler.site.ground import Alignment, Line
from scheduler.site.site_record import Site
from scheduler.units import told_in


def drawable(data: Data) -> Site | None:
    """Return a site with the records of a draft that can be drawn, or None where no reach can.

    It is for drawing only: nothing between its records was checked but that stations lie on known alignments, and it
    may hold no lines and no trades.
    """
    with told_in(units_said(data)):
        try:
            site = Site.model_validate(data)
        except ValidationError as error:
            site = readable_part(data, error)
    alignments = _placed(site.alignments)
    lengths = {a.id: a.length_ft for a in alignments}

    def on(alignment: str, *stations: float) -> bool:
        return alignment in lengths and all(0.0 <= s <= lengths[alignment] for s in stations)

    def runs(line: Line) -> bool:
        return all(on(s.alignment, s.from_, s.to) and s.from_ != s.to for s in line.route)

    reaches = [r for r in site.reaches if on(r.alignment, r.from_, r.to) and r.from_ != r.to]
    if not reaches or len({r.id for r in reaches}) < len(reaches):
        return None
    lines = list({line.id: line for line in site.lines if runs(line)}.values())
    return site.model_copy(
        update={
            "alignments": alignments,
            "reaches": reaches,
            "lines": [line.model_copy(update={"joins": None}) for line in lines],
            "structures": [s for s in site.structures if on(s.alignment, s.station)],
            "existing": [e for e in site.existing if on(e.alignment, e.station)],
            "surroundings": [s for s in site.surroundings if on(s.alignment, *s.span)],
            "keep_open": [k for k in site.keep_open if on(k.alignment, k.from_, k.to)],
        }
    )


def _placed(alignments: list[Alignment]) -> list[Alignment]:
    """Return the alignments that lie somewhere: those that leave none, or one that lies somewhere itself."""
    found: dict[str, Alignment] = {}
    for _ in alignments:
        for one in alignments:
            branch = one.leaves
            if branch is None or (branch.alignment in found and branch.station <= found[branch.alignment].length_ft):
                found.setdefault(one.id, one)
    return [a for a in alignments if found.get(a.id) is a]
