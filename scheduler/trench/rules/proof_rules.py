"""What is done before people dig or cover: the locate ticket; how long pipe is held under test, and make-up water."""

from __future__ import annotations

import math

from scheduler.findings import Severity
from scheduler.site.ground import Line
from scheduler.trench.rule import LayoutRule
from scheduler.units import format_amount, format_gallons

MAKE_UP_DIVISOR = 148_000.0
"""AWWA C600 (2010 and later), verified on a specification reprint; an older edition divides by 133,200."""
MAIN_TEST_PSI = 150.0
"""AWWA C600 section 5: at least this at the highest point."""

STRETCHES = ("pe", "hdpe", "pex")
"""Pipe that stretches under pressure, for which that allowance was not made."""
STRETCHED = "polyethylene stretches under test, so its make-up water goes by the maker's table (ASTM F2164)."


def _held(rule_id: str, sentence: str, source: str, edition: str, hours: float) -> LayoutRule:
    return LayoutRule(
        id=rule_id,
        sentence=sentence,
        source=source,
        edition=edition,
        basis="verified",
        default=hours,
        unit="h",
        severity=Severity.FIX,
        remedy="Raise `hold_hours` of the line's test.",
    )


RULES: tuple[LayoutRule, ...] = (
    _held("test-hold-main", "A new main is held under pressure this long.", "AWWA C600 section 5", "2010-2017", 2),
    _held("test-hold-water", "Water pipe is held under pressure this long.", "IPC 312.5", "2021", 0.25),
    _held("test-hold-sewer", "A sewer is held under water or air this long.", "IPC 312.6", "2021", 0.25),
    _held(
        "test-hold-gas",
        "House gas pipe under 10 cu ft, or of a single dwelling, is held under pressure this long.",
        "IFGC 406.4.2",
        "2021",
        1 / 6,
    ),
    LayoutRule(
        "locate-ticket",
        "Nobody digs where no locate ticket has been called.",
        "29 CFR 1926.651(b)(1) and (2); the state's one-call law",
        "",
        "verified",
        sense="is",
        form="yes",
        severity=Severity.STOP,
        local=False,
        remedy="Call before you dig, and write the ticket under `locate_tickets` with the alignments it covers; or say "
        "in the alignment's `locate_not_needed` why none is asked for.",
    ),
)


def make_up_gph(*, length_ft: float, diameter_in: float, pressure_psi: float) -> float:
    """Return the make-up water a main under test may take [US gallons an hour]: L D sqrt(P) / 148,000.

    AWWA C600 for ductile iron; C605-05 for PVC, seen with its table on a specification page.
    """
    return length_ft * diameter_in * math.sqrt(pressure_psi) / MAKE_UP_DIVISOR


def make_up_said(line: Line, feet: float) -> str:
    """Say what make-up water the test of a main may take, where the site file gives its pressure; '' elsewhere."""
    test = line.test
    if line.kind not in ("water", "reclaimed") or line.use != "main" or test is None or test.pressure_psi is None:
        return ""
    if line.material in STRETCHES:
        return f" P{STRETCHED[1:]}"
    rate = make_up_gph(length_ft=feet, diameter_in=line.size_in, pressure_psi=test.pressure_psi)
    water, pressure = format_gallons(rate * test.hold_hours), format_amount(test.pressure_psi, "psi")
    return f" At {pressure} it may take {water} of make-up water in {test.hold_hours:g} h."
