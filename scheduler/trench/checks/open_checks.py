"""Checks of stretches kept open for the utility: long enough, and there at all."""

from __future__ import annotations

from collections.abc import Iterator

from scheduler.site.ground import Structure
from scheduler.site.people import OutsideWork
from scheduler.trench.checks.view import Spot, View
from scheduler.trench.rule import Value
from scheduler.units import format_feet

UTILITY_EQUIPMENT = ("pole", "pad", "vault", "riser", "pedestal")
_CONNECTS = ("tie_in", "pull_service")
_AT_END_FT = 0.5


def kept_open(view: View) -> Iterator[Spot]:
    """At the utility's equipment enough of the trench stays open for the tie-in."""
    by_id = {s.id: s for s in view.site.structures}
    for stretch in view.site.keep_open:
        structure = by_id.get(stretch.structure or "")
        if structure is None or structure.kind not in UTILITY_EQUIPMENT:
            continue
        least = _least(view, structure)
        low, high = min(stretch.from_, stretch.to), max(stretch.from_, stretch.to)
        if high - low < least.value - 1e-6:
            yield Spot(
                rule=least.rule,
                subject=(stretch.id,),
                alignment=stretch.alignment,
                from_ft=low,
                to_ft=high,
                text=f"Too little stays open at {structure.name}.",
                found=format_feet(high - low),
                required=f"at least {least.feet()}",
                source=least.source,
            )


def nothing_open(view: View) -> Iterator[Spot]:
    """Where the utility connects at its equipment, a stretch of the trench is written as kept open."""
    for structure in view.site.structures:
        work = next((w for w in view.site.outside_work if _connects(w, structure)), None)
        if work is None or _is_open(view, structure):
            continue
        least = _least(view, structure)
        if work.lines_state == "covered" and not least.local:
            continue
        yield Spot(
            rule=least.rule,
            subject=(structure.id,),
            alignment=structure.alignment,
            from_ft=structure.station,
            to_ft=structure.station,
            text=f"Nothing stays open at {structure.name} until '{work.name}' is done.",
            found="no stretch kept open there",
            required=f"at least {least.feet()}",
            source=least.source,
            gap=least.value,
            remedy=f"Write the stretch under `keep_open`, until {work.id}; or `lines_state: covered` if "
            f"{work.by} works on covered lines.",
        )


def _least(view: View, structure: Structure) -> Value:
    reach = view.reach_at(structure.alignment, structure.station)
    return view.book.get("keep-open-length", reach=reach, lines=view.lines_of(structure))


def _connects(work: OutsideWork, structure: Structure) -> bool:
    """Tell whether others connect a line at a structure: at the place they give, else at equipment that is no riser."""
    if work.kind not in _CONNECTS or structure.kind not in UTILITY_EQUIPMENT or work.lines_state == "none":
        return False
    if not set(work.lines) & set(structure.lines):
        return False
    if work.at is None:
        return structure.kind != "riser"
    low, high = sorted((work.at.from_, work.at.to))
    there = low - _AT_END_FT <= structure.station <= high + _AT_END_FT
    return work.at.alignment == structure.alignment and there


def _is_open(view: View, structure: Structure) -> bool:
    return any(
        s.alignment == structure.alignment
        and min(s.from_, s.to) - _AT_END_FT <= structure.station <= max(s.from_, s.to) + _AT_END_FT
        for s in view.site.keep_open
    )
