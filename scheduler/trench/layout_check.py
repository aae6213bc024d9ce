"""The layout check: every rule against every place, one finding for each rule, thing it concerns and number."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from scheduler.findings import Finding, Severity
from scheduler.site.faults import Path
from scheduler.site.fields import retold_fields
from scheduler.site.ground import Reach
from scheduler.site.site_record import Site
from scheduler.trench.checks import (
    apart_checks,
    asked_checks,
    bend_checks,
    beside_checks,
    conduit_checks,
    cover_checks,
    crossing_checks,
    ground_checks,
    local_value_checks,
    neighbour_checks,
    open_checks,
    proof_checks,
    ribbon_checks,
    sheet_checks,
    structure_checks,
    surround_checks,
)
from scheduler.trench.checks.view import Spot, View
from scheduler.trench.register import RULES
from scheduler.units import format_station, retold

CHECKS: tuple[Callable[[View], Iterator[Spot]], ...] = (
    proof_checks.tickets,
    neighbour_checks.permits,
    cover_checks.cover,
    cover_checks.frost,
    cover_checks.under_buildings,
    cover_checks.lies_high,
    apart_checks.separations,
    apart_checks.shelves,
    apart_checks.orders,
    beside_checks.side_by_side,
    surround_checks.surroundings,
    neighbour_checks.neighbours,
    crossing_checks.crossings,
    ground_checks.sizes,
    ground_checks.between_walls,
    ground_checks.bedding,
    ground_checks.protection,
    ground_checks.spoil,
    ribbon_checks.ribbons,
    ground_checks.tracers,
    conduit_checks.pulls,
    conduit_checks.bends,
    conduit_checks.fills,
    conduit_checks.materials,
    conduit_checks.forces,
    conduit_checks.pull_lines,
    structure_checks.risers,
    structure_checks.movement,
    structure_checks.boxes,
    structure_checks.hydrants,
    open_checks.kept_open,
    open_checks.nothing_open,
    proof_checks.holds,
    asked_checks.lines_as_asked,
    asked_checks.fills_as_asked,
    bend_checks.elbows,
    bend_checks.bends_between,
    bend_checks.along,
    local_value_checks.unknown_rules,
    local_value_checks.weakened,
    sheet_checks.never_bites,
    sheet_checks.disagreements,
    sheet_checks.contradictions,
    local_value_checks.inspections,
)
"""Every layout check, in the order of the findings."""

_ORDER = (Severity.STOP, Severity.FIX, Severity.NOTE)
_JOINED_FT = 0.01


def check_layout(site: Site, *, reach: str = "") -> list[Finding]:
    """Return what the layout of a site, or of one reach by its id, breaks, the gravest first; empty when all is well.

    A rule broken for the same thing with the same numbers in several reaches is one finding that names
    all its stations; places with other numbers are findings of their own. Raises BadInput when a rule
    sheet cannot be read.
    """
    return [placed.finding for placed in placed_findings(site, reach=reach)]


@dataclass(frozen=True, slots=True)
class PlacedFinding:
    """A layout finding with what it concerns, for whoever shows it beside the line or reach."""

    finding: Finding
    subject: tuple[str, ...]
    """Ids of lines, structures or stretches it is about, among other words."""
    reaches: tuple[str, ...]
    """Ids of the reaches in which it was found."""
    path: Path = ()
    """The value of the site file to look at, where there is one."""


def placed_findings(site: Site, *, reach: str = "") -> list[PlacedFinding]:
    """Return the findings of `check_layout`, each with what it concerns."""
    view = View.of(site)
    within = next((r for r in site.reaches if r.id == reach), None)
    groups: dict[tuple[object, ...], list[Spot]] = {}
    for check in CHECKS:
        for spot in check(view):
            if within is None or _lies_in(spot, within):
                groups.setdefault(_alike(spot), []).append(spot)
    names = {a.id: a.name for a in site.alignments}
    findings = [
        PlacedFinding(_finding(spots, names), spots[0].subject, _reaches(spots, site.reaches), spots[0].path)
        for spots in groups.values()
    ]
    return sorted(findings, key=lambda p: _ORDER.index(p.finding.severity))


def _alike(spot: Spot) -> tuple[object, ...]:
    """What spots of one finding have in common: one rule, one thing, and the same numbers."""
    return spot.rule, spot.subject, spot.text, spot.found, spot.required, spot.source


def _reaches(spots: list[Spot], reaches: Iterable[Reach]) -> tuple[str, ...]:
    return tuple(r.id for r in reaches if any(_lies_in(spot, r) for spot in spots))


def _lies_in(spot: Spot, reach: Reach) -> bool:
    """Whether any of a stretch, or a point, lies in a reach; a thing at its very end does."""
    low, high = min(reach.from_, reach.to), max(reach.from_, reach.to)
    shared = min(spot.to_ft, high) - max(spot.from_ft, low)
    point = spot.to_ft - spot.from_ft <= _JOINED_FT
    return spot.alignment == reach.alignment and (shared >= 0 if point else shared > _JOINED_FT)


def _finding(spots: list[Spot], names: dict[str, str]) -> Finding:
    worst = max(spots, key=lambda s: s.gap)
    rule = RULES.get(worst.rule)
    return Finding(
        rule=worst.rule,
        severity=worst.severity or (rule.severity if rule else Severity.FIX),
        where=_where(spots, names),
        text=worst.text,
        found=worst.found,
        required=worst.required,
        source=retold(worst.source) if rule and worst.source == rule.cited else worst.source,
        remedy=retold_fields(worst.remedy or (rule.remedy if rule else "")),
        file=worst.entry.file if worst.entry else "",
        line=worst.entry.line if worst.entry else None,
    )


def _where(spots: Iterable[Spot], names: dict[str, str]) -> str:
    """Say where: alignments with their stations, touching stretches run together."""
    said: list[str] = []
    spans: dict[str, list[tuple[float, float]]] = {}
    for spot in spots:
        if spot.place:
            said.append(spot.place)
        else:
            spans.setdefault(spot.alignment, []).append((spot.from_ft, spot.to_ft))
    for alignment, parts in spans.items():
        words = [
            format_station(a) if b - a <= _JOINED_FT else f"{format_station(a)} to {format_station(b)}"
            for a, b in joined(parts)
        ]
        said.append(f"{names.get(alignment, alignment)}, {' and '.join(words)}")
    return "; ".join(dict.fromkeys(said))


def joined(spans: Iterable[tuple[float, float]]) -> list[tuple[float, float]]:
    """Run touching spans together, in order of station."""
    whole: list[tuple[float, float]] = []
    for start, end in sorted(spans):
        if whole and start <= whole[-1][1] + _JOINED_FT:
            whole[-1] = (whole[-1][0], max(whole[-1][1], end))
        else:
            whole.append((start, end))
    return whole
