"""Clearances to what stands beside the trench or hangs over it."""

from __future__ import annotations

from typing import Any, get_args

from scheduler.findings import Severity
from scheduler.site.surroundings import SurroundingKind
from scheduler.trench.rule import LayoutRule

NOUNS: dict[SurroundingKind, str] = {
    "building": "a building",
    "meter": "a meter and its working space",
    "lot_line": "a lot line",
    "septic": "a septic tank or field",
    "well": "a well",
    "tree": "a tree",
    "pole": "a pole",
    "trench": "another open trench",
}
"""What lines and trench edges keep clear of, and how that is said."""

WELL_SEWER_FT = 10.0
"""Between a sewer and a private well: IPC Table 608.17.1, from memory."""
_TABLE_A = ((50_000, 10.0), (200_000, 15.0), (350_000, 20.0), (500_000, 25.0), (750_000, 35.0), (1_000_000, 45.0))
"""29 CFR 1926.1408 Table A: volts up to which, and feet from the wire to any part of the machine or its load."""
FARTHEST_WIRE_FT = 50.0
"""29 CFR 1926.1409 takes this where a line of more than 350 kV has no other value; here for more than 1,000 kV."""

_LOCAL: dict[str, Any] = {"source": "local sheet", "edition": "", "basis": "local"}
_WELL: dict[str, Any] = {
    "source": "IPC Table 608.17.1 for a sewer, 10 ft; local sheet for other lines",
    "edition": "2021",
    "basis": "from memory",
}


def wire_clearance_ft(voltage_v: float | None) -> float:
    """Return the least distance from a machine to a wire of a voltage between phases [ft]; None: at most 50 kV."""
    volts = voltage_v or 0.0
    return next((feet for upto, feet in _TABLE_A if volts <= upto), FARTHEST_WIRE_FT)


def clear_id(what: SurroundingKind) -> str:
    """Name the rule by which lines keep clear of a thing."""
    return f"clear-{what.replace('_', '-')}"


def edge_id(what: SurroundingKind) -> str:
    """Name the rule by which the edge of the trench keeps clear of a thing."""
    return "trenches-apart" if what == "trench" else f"edge-{what.replace('_', '-')}"


RULES: tuple[LayoutRule, ...] = (
    *(
        LayoutRule(
            clear_id(what),
            f"A line lies at least this far from {NOUNS[what]}.",
            unit="ft",
            remedy="Move the line, or agree the distance with whoever set it.",
            field="offset_in",
            **(_WELL if what == "well" else _LOCAL),
        )
        for what in get_args(SurroundingKind)
        if what in NOUNS
    ),
    *(
        LayoutRule(
            edge_id(what),
            f"The edge of the trench stays at least this far from {NOUNS[what]}.",
            unit="ft",
            remedy="Move the trench, hold its side steeper with a shield, or agree the distance with whoever set it.",
            **_LOCAL,
        )
        for what in get_args(SurroundingKind)
        if what in NOUNS and what != "trench"
    ),
    LayoutRule(
        "footing-below",
        "Beside a building the trench does not reach below its footing where the footing's load spreads, unless the "
        "ground is stable rock, the footing is supported, or an engineer found that it does no harm.",
        "29 CFR 1926.651(i)(2)",
        "",
        "verified",
        sense="is",
        form="yes",
        severity=Severity.STOP,
        local=False,
        remedy="Have an engineer design the support or settle that none is needed, and write that in `settled`; or dig "
        "farther away or less deep.",
    ),
    LayoutRule(
        "footing-spread",
        "The load of a footing spreads this far sideways for each foot below its base.",
        "common practice (45 degrees); the engineer decides",
        "",
        "common practice",
        default=1.0,
        unit="ft",
        remedy="Have the engineer settle it.",
    ),
    LayoutRule(
        "overhead-clear",
        "No part of a machine, with its boom up and swung, comes nearer than this to a wire overhead.",
        "29 CFR 1926.1408 Table A; 1926.600(a)(6) asks the same of excavators to 50 kV",
        "",
        "verified",
        unit="ft",
        by_size=True,
        severity=Severity.STOP,
        remedy="Have the line's owner make it dead and grounded, move it, or say how the work goes on, and write that "
        "in `settled`; or dig there with a lower machine.",
    ),
    LayoutRule(
        "overhead-spoil",
        "No spoil lies under a wire overhead.",
        sense="is",
        form="yes",
        remedy="Write `spoil: haul` for the reach, or put the spoil on the other side.",
        field="spoil",
        **_LOCAL,
    ),
)
