"""Separation side by side and at crossings, for every pair of line kinds."""

from __future__ import annotations

from itertools import combinations_with_replacement
from typing import Any, get_args

from scheduler.findings import Severity
from scheduler.site.ground import LineKind
from scheduler.trench.rule import LayoutRule

KINDS: tuple[LineKind, ...] = get_args(LineKind)

_PRACTICE: dict[str, Any] = {"source": "common practice", "edition": "", "basis": "common practice"}
_NESC_COMMS = {"source": "IEEE C2 320B2 (12 in of well-tamped earth)", "edition": "", "basis": "verified"}
_GO128 = {"source": "California GO 128 rule 41.4-A, as a published figure", "edition": "", "basis": "verified"}
_NESC_GAS = {"source": "IEEE C2 353 and 354", "edition": "", "basis": "from memory"}
_IPC = {"source": "IPC 603.2", "edition": "2012 and later", "basis": "verified"}
_UPC = {"source": "UPC 1503 (alternate water beside potable water)", "edition": "", "basis": "from memory"}
_FEDERAL_GAS = {
    "source": "the gas utility's standard, 12 in by common practice; 49 CFR 192.325 gives mains no number",
    "edition": "",
    "basis": "common practice",
}

_APART: dict[frozenset[str], tuple[float, dict[str, str]]] = {
    frozenset({"power", "lighting"}): (3.0, _PRACTICE),
    frozenset({"power", "communications"}): (12.0, _NESC_COMMS),
    frozenset({"lighting", "communications"}): (12.0, _NESC_COMMS),
    frozenset({"power", "gas"}): (12.0, _NESC_GAS),
    frozenset({"lighting", "gas"}): (12.0, _NESC_GAS),
    frozenset({"communications", "gas"}): (12.0, _GO128),
    frozenset({"communications", "water"}): (12.0, _GO128),
    frozenset({"water", "sewer"}): (60.0, _IPC),
    frozenset({"water", "reclaimed"}): (12.0, _UPC),
    frozenset({"reclaimed", "irrigation"}): (3.0, _PRACTICE),
    frozenset({"water", "irrigation"}): (6.0, _PRACTICE),
    frozenset({"sewer", "storm"}): (6.0, _PRACTICE),
}
"""Clear distances that differ from 12 in by practice, or have a published source."""

_CROSS: dict[frozenset[str], tuple[float, dict[str, str]]] = {
    frozenset({"power", "lighting"}): (1.0, _PRACTICE),
    frozenset({"power", "communications"}): (2.0, _PRACTICE),
    frozenset({"lighting", "communications"}): (2.0, _PRACTICE),
    frozenset({"communications", "gas"}): (6.0, _GO128),
    frozenset({"communications", "water"}): (6.0, _GO128),
    frozenset({"water", "sewer"}): (
        12.0,
        {"source": "IPC 603.2 exception 3", "edition": "2012 and later", "basis": "from memory"},
    ),
}
"""Clear distances where one line passes over another that differ from 6 in, or have a published source."""


def pair_id(first: str, second: str) -> str:
    """Name a pair of kinds in one fixed order: `power-gas`, never `gas-power`."""
    order = sorted((first, second), key=KINDS.index)
    return f"{order[0]}-{order[1]}"


def _entry(
    table: dict[frozenset[str], tuple[float, dict[str, str]]], pair: frozenset[str], *, usual: float, alike: float
) -> tuple[float, Any]:
    if len(pair) == 1:
        return alike, _PRACTICE
    if "gas" in pair and pair not in table:
        return usual, _FEDERAL_GAS
    return table.get(pair, (usual, _PRACTICE))


def _apart(first: LineKind, second: LineKind) -> LayoutRule:
    inches, cited = _entry(_APART, frozenset({first, second}), usual=12.0, alike=3.0)
    return LayoutRule(
        id=f"apart-{pair_id(first, second)}",
        family="apart",
        kinds=(first, second),
        sentence=f"{first.capitalize()} and {second} side by side stay this far apart, surface to surface.",
        default=inches,
        unit="in",
        severity=Severity.STOP,
        remedy="Move one of them sideways or to another layer, or widen the trench.",
        field="offset_in",
        **cited,
    )


def _cross(first: LineKind, second: LineKind) -> LayoutRule:
    inches, cited = _entry(_CROSS, frozenset({first, second}), usual=6.0, alike=1.0)
    return LayoutRule(
        id=f"cross-{pair_id(first, second)}",
        family="cross",
        kinds=(first, second),
        sentence=f"{first.capitalize()} and {second} cross with this much clear between them.",
        default=inches,
        unit="in",
        severity=Severity.STOP,
        remedy="Lower the deeper one or raise the upper one at the crossing, or sleeve it there.",
        field="cover_in",
        **cited,
    )


PAIRS = tuple(combinations_with_replacement(KINDS, 2))

RULES: tuple[LayoutRule, ...] = (
    *(_apart(a, b) for a, b in PAIRS),
    *(_cross(a, b) for a, b in PAIRS),
    LayoutRule(
        "water-sewer-shelf",
        "In one trench with a sewer, water lies on a solid shelf with its underside this far above the sewer's top.",
        "IPC 603.2 exception 1; UPC 720.1",
        "2012 and later",
        "verified",
        default=12,
        unit="in",
        severity=Severity.STOP,
        remedy="Cut the shelf higher, lower the sewer, or use sewer pipe approved inside a building.",
        field="cover_in",
    ),
    LayoutRule(
        "water-over-sewer",
        "Where they cross, water passes over sewer.",
        "IPC 603.2 exception 3; common practice",
        "2012 and later",
        "from memory",
        sense="is",
        form="yes",
        severity=Severity.STOP,
        local=False,
        remedy="Pass it over, or sleeve the water line 5 ft each side.",
        field="cover_in",
    ),
    LayoutRule(
        "trenches-apart",
        "Two trenches side by side leave this much ground standing between their edges.",
        "common practice; the competent person decides",
        "",
        "common practice",
        default=2,
        unit="ft",
        remedy="Move them apart, dig them as one trench, or have the competent person settle how the ground is held.",
    ),
    LayoutRule(
        "shared-box",
        "Power and communications share no box without a barrier between them.",
        "NFPA 70 800.47(A)",
        "2014 numbering",
        "verified",
        sense="is",
        form="yes",
        severity=Severity.STOP,
        remedy="Give each its own box, or fit a barrier and say so in a local rule.",
    ),
)
