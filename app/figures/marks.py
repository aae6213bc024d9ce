"""How work is drawn on every figure: a colour, a hatch and a word for each sort of work.

Work on a line takes the line's colour from the published code (`palette`); everything else has
earth or slate tones, told apart by hatch. Critical work is underlined in ink, never recoloured.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from app.figures.palette import MARKS
from scheduler.plan import Kind
from scheduler.site import LineKind


@dataclass(frozen=True, slots=True)
class Look:
    """The drawing of one sort of work."""

    name: str
    colour: str
    hatch: str
    ink: str
    letters: str


EARTH = {
    Kind.SURFACE_CUT: Look("Cut surface", "#8b8378", "-", "#ffffff", "CUT"),
    Kind.POTHOLE: Look("Pothole", "#a98a5b", "x", "#000000", "POT"),
    Kind.DIG: Look("Dig", "#a0714a", "", "#ffffff", "DIG"),
    Kind.PROTECT: Look("Protective system", "#6f5b45", "|", "#ffffff", "SHORE"),
    Kind.BED: Look("Bed", "#cdb88a", "", "#000000", "BED"),
    Kind.SHADE: Look("Shade", "#cdb88a", ".", "#000000", "SHADE"),
    Kind.RIBBON: Look("Ribbon", "#cdb88a", "|", "#000000", "RIB"),
    Kind.FILL: Look("Fill", "#a0714a", "/", "#ffffff", "FILL"),
    Kind.RESTORE: Look("Restore surface", "#8b8378", "+", "#ffffff", "TOP"),
}
OTHER = {
    Kind.INSPECT: Look("Inspection", "#7f858e", "", "#000000", "LOOK"),
    Kind.TEST: Look("Test", "#9db4bd", "x", "#000000", "TEST"),
    Kind.COMPACTION_TEST: Look("Compaction test", "#9db4bd", "+", "#000000", "COMP"),
    Kind.OUTSIDE: Look("Others' work", "#5f6f86", "\\", "#ffffff", "OTHERS"),
    Kind.CUTOVER: Look("Cutover", "#5f6f86", "x", "#ffffff", "CUT-OVER"),
    Kind.SITE: Look("Site work", "#7d828a", ".", "#ffffff", "SITE"),
    Kind.CHECK: Look("Check before work goes on", "#9db4bd", "|", "#000000", "CHECK"),
    Kind.REMOVE: Look("Removal", "#5f6f86", "-", "#ffffff", "REMOVE"),
}
PLAIN = Look("Other work", "#7d828a", ".", "#ffffff", "")


def look_of(kind: Kind, lines: list[str], kind_of_line: Mapping[str, LineKind]) -> Look:
    """Return how an activity of a kind on given lines is drawn."""
    if kind in EARTH:
        return EARTH[kind]
    if kind in OTHER:
        return OTHER[kind]
    kinds = {kind_of_line[line] for line in lines if line in kind_of_line}
    if len(kinds) == 1:
        mark = MARKS[kinds.pop()]
        hatch = "" if kind is Kind.LAY else "."
        verb = "Lay" if kind is Kind.LAY else "Fit and pull"
        return Look(f"{verb}: {mark.name.lower()}", mark.colour, hatch, mark.ink, mark.label)
    return PLAIN
