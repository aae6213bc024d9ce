"""Depth of cover: tables by line kind, place, wiring and voltage, and the rules that carry them."""

from __future__ import annotations

from typing import Literal

from scheduler.findings import Severity
from scheduler.site.ground import LineKind, Place
from scheduler.trench.rule import LayoutRule

Column = Literal["direct", "metal", "plastic", "dwelling_branch", "low_voltage"]

NEC_COVER_IN: dict[Place, dict[Column, float]] = {
    "yard": {"direct": 24, "metal": 6, "plastic": 18, "dwelling_branch": 12, "low_voltage": 6},
    "under_building": {"direct": 0, "metal": 0, "plastic": 0, "dwelling_branch": 0, "low_voltage": 0},
    "under_slab": {"direct": 18, "metal": 4, "plastic": 4, "dwelling_branch": 6, "low_voltage": 6},
    "street": {"direct": 24, "metal": 24, "plastic": 24, "dwelling_branch": 24, "low_voltage": 24},
    "residential_drive": {"direct": 18, "metal": 18, "plastic": 18, "dwelling_branch": 12, "low_voltage": 18},
}
"""NFPA 70 Table 300.5(A) (2023; Table 300.5 before), 0 to 1000 V [in], verified: rows of places that a reach has."""

NEC_CITED = "NFPA 70 Table 300.5(A), 2023"

SLAB_RACEWAY_IN = 4.0
"""Same table: columns 4 and 5 under an exterior slab, where in raceway."""

NEC_OVER_1000_V: tuple[tuple[float, dict[Column, float]], ...] = (
    (22_000, {"direct": 30, "plastic": 18, "metal": 6}),
    (40_000, {"direct": 36, "plastic": 24, "metal": 6}),
    (float("inf"), {"direct": 42, "plastic": 30, "metal": 6}),
)
"""NFPA 70 Table 300.50(A) (2023), general row: (up to volts, inches); 18 in for plastic to 22 kV verified, the
rest from memory."""

NEC_OVER_1000_CITED = "NFPA 70 Table 300.50(A), 2023"

NESC_COVER_IN: tuple[tuple[float, float], ...] = ((600, 24), (50_000, 30), (float("inf"), 42))
"""IEEE C2 Table 352-1: supply cable by volts between phases (up to, inches), from memory."""

NESC_CITED = "IEEE C2 Table 352-1"

UTILITY_GAS_IN: dict[str, float] = {"main": 24, "service": 12, "service_in_street": 18}
"""49 CFR 192.327(b) for mains; 192.361(a) for service lines on private land and in streets."""

HOUSE_GAS_IN: dict[str, float] = {"any": 12, "single_appliance": 8}
"""IFGC 404.12 and 404.12.1 (2021): the same under a drive; no greater depth is in the text."""


def _cover(kind: LineKind, sentence: str, source: str, edition: str, basis: str, default: float | None) -> LayoutRule:
    return LayoutRule(
        id=f"cover-{kind}",
        sentence=sentence,
        source=source,
        edition=edition,
        basis=basis,  # type: ignore[arg-type]
        default=default,
        unit="in",
        severity=Severity.STOP,
        remedy="Lay it deeper, or change material or place so that the table asks for less.",
        field="cover_in",
        family="cover",
        kinds=(kind,),
        along=True,
    )


RULES: tuple[LayoutRule, ...] = (
    _cover(
        "power",
        "Power has at least the cover its wiring, place and voltage ask for.",
        "NFPA 70 Table 300.5(A) and 300.50(A); IEEE C2 Table 352-1 for a utility's own lines",
        "2023",
        "verified",
        None,
    ),
    _cover(
        "lighting",
        "Lighting circuits have at least the cover their wiring, place and voltage ask for.",
        "NFPA 70 Table 300.5(A)",
        "2023",
        "verified",
        None,
    ),
    _cover(
        "communications",
        "Communications lie deep enough to be safe from a spade.",
        "common practice",
        "",
        "common practice",
        18,
    ),
    _cover(
        "water",
        "Water pipe lies 6 in below the frost line and at least 12 in below grade.",
        "IPC 305.4",
        "2021",
        "verified",
        12,
    ),
    _cover(
        "reclaimed",
        "Reclaimed water lies as deep as water: 6 in below the frost line, at least 12 in.",
        "IPC 305.4, by likeness",
        "2021",
        "common practice",
        12,
    ),
    _cover(
        "irrigation",
        "Irrigation pipe is drained before frost and lies at least 12 in deep.",
        "common practice",
        "",
        "common practice",
        12,
    ),
    _cover(
        "sewer",
        "A building sewer has the cover the local code fills in.",
        "IPC 305.4.1 leaves the number to the place; 24 in is common practice",
        "2021",
        "common practice",
        24,
    ),
    _cover("storm", "A storm drain has at least 12 in of cover.", "common practice", "", "common practice", 12),
    _cover(
        "gas",
        "Gas pipe has at least the cover of its code: the fuel gas code for a customer, federal for a utility.",
        "IFGC 404.12; 49 CFR 192.327(b) and 192.361(a)",
        "2021",
        "verified",
        None,
    ),
    LayoutRule(
        "cover-most",
        "A line lies no deeper than its owner allows.",
        "local sheet",
        "",
        "local",
        unit="in",
        sense="at most",
        remedy="Lay it higher, or agree the greater depth with its owner in writing.",
        field="cover_in",
        along=True,
    ),
    LayoutRule(
        "frost-known",
        "The frost depth of the place is known before a water line is set.",
        "IRC Table R301.2, filled in locally; IPC 305.4",
        "2021",
        "common practice",
        sense="is",
        form="yes",
        severity=Severity.STOP,
        local=False,
        remedy="Ask the building department and write `frost_depth_in`; 0 is an answer, nothing is not.",
        field="frost_depth_in",
    ),
    LayoutRule(
        "frost-below",
        "Water pipe lies this far below the frost line.",
        "IPC 305.4",
        "2021",
        "verified",
        default=6,
        unit="in",
        severity=Severity.STOP,
        remedy="Lay it deeper.",
        field="frost_depth_in",
    ),
    LayoutRule(
        "building-raceway",
        "Cable under a building lies in a raceway.",
        "NFPA 70 300.5(C) and Table 300.5(A)",
        "2023",
        "verified",
        sense="is",
        form="yes",
        severity=Severity.STOP,
        local=False,
        remedy="Put it in conduit, or route it round the building.",
        field="material",
    ),
    LayoutRule(
        "building-gas",
        "No gas main or service runs under a building.",
        "IFGC 404.6; Wis. PSC 135.325 for mains",
        "2021",
        "verified",
        sense="is",
        form="yes",
        severity=Severity.STOP,
        remedy="Route it round the building.",
        field="material",
    ),
    LayoutRule(
        "bedding-most",
        "Where a line's cover is left out, at most this much bedding lies under the lowest line.",
        "common practice: thicker than one loose lift",
        "",
        "common practice",
        default=8,
        unit="in",
        sense="at most",
        remedy="Write the line's `cover_in`, or leave the reach's `depth_in` out.",
        field="depth_in",
    ),
)
