"""What requirement sheets ask beyond the codes: sizes, shells, bends, fill, neighbours, tests, what must be there.

None of them has a built-in value: they apply where a sheet, or for a number the site file, asks for them.
"""

from __future__ import annotations

from typing import Any

from scheduler.findings import Severity
from scheduler.trench.rule import LayoutRule


def _asked(rule_id: str, sentence: str, remedy: str, **more: Any) -> LayoutRule:
    said: dict[str, Any] = {"source": "local sheet", "edition": "", "basis": "local", **more}
    return LayoutRule(id=rule_id, sentence=sentence, remedy=remedy, **said)


def _along(rule_id: str, sentence: str, remedy: str, **more: Any) -> LayoutRule:
    return _asked(rule_id, sentence, remedy, along=True, **more)


def _adds(rule_id: str, sentence: str, remedy: str, **more: Any) -> LayoutRule:
    return _asked(rule_id, sentence, remedy, sense="is", adds=True, **more)


def _fill(rule_id: str, sentence: str, remedy: str, **more: Any) -> LayoutRule:
    return _asked(rule_id, sentence, remedy, zoned=True, **more)


LINES: tuple[LayoutRule, ...] = (
    _along("size-least", "A line is at least this size.", "Use a larger size.", unit="in", field="size_in"),
    _along("size-most", "A line is at most this size.", "Use a smaller size.", unit="in", sense="at most",
           field="size_in"),
    _along("count-least", "At least so many conduits or pipes lie in the run.", "Lay the further ones.",
           field="count"),
    _along("spare-least", "At least so many spare conduits of its kind lie with it.",
           "Lay a spare: a line of the same kind with `use: spare`.", field="use"),
    _along("pipe-material", "A line is of a material allowed here.", "Change the material.", sense="one of",
           form="materials", field="material"),
    _along("shell-must", "A line lies in one of these shells: concrete, slurry, a cap, plate, sleeve or casing.",
           "Put it in one, and write the stretch under the line's `encased`.", sense="one of", form="shells",
           field="encased"),
    _along("shell-thickness", "The concrete, cap or plate is at least this thick.", "Make it thicker.", unit="in",
           field="encased"),
    _along("test-must", "A test of one of these kinds is made of the line.", "Write the line's `test`.",
           sense="one of", form="tests", field="test"),
    _along("test-psi", "A pressure test is held at this pressure at least.", "Raise `pressure_psi` of the test.",
           unit="psi", field="test"),
    _along("test-psi-most", "A pressure test is held at this pressure at most.", "Lower `pressure_psi` of the test.",
           unit="psi", sense="at most", field="test"),
    _along("test-hold", "A test of the line is held at least this long.", "Raise `hold_hours` of the test.",
           unit="h", field="test"),
)  # fmt: skip

BENDS: tuple[LayoutRule, ...] = (
    _along("elbow-material", "An elbow is of one of these materials.", "Use an elbow of such a material.",
           sense="one of", form="materials", field="bends"),
    _along("radius-times", "A bend is at least this many times as wide as the line's size, to its centre.",
           "Use a wider sweep.", unit="times", field="bends"),
    _along("bend-degrees", "One bend turns by at most this much.", "Use several bends, or another route.",
           unit="degrees", sense="at most", field="bends"),
    _asked("bends-number", "At most so many bends lie between two pull points.",
           "Set a pull box between, or run straighter.", sense="at most", field="bends"),
    _asked("bend-straight", "Between two bends the line runs straight for at least this far.",
           "Move the bends apart.", unit="ft", field="bends"),
    _along("marker-at-bends", "A marker stands where the line changes direction.",
           "Set a marker there: a structure of kind `marker` that names the line.", sense="is", form="yes",
           field="bends"),
    _asked("marker-every", "Markers along the line stand no farther apart than this.",
           "Set a marker between: a structure of kind `marker` that names the line.", unit="ft", sense="at most"),
    _asked("structure-at-ends", "One of these stands at each end of the line.",
           "Write the structure, with the line among its `lines`.", sense="one of", form="structures"),
)  # fmt: skip

NEIGHBOURS: tuple[LayoutRule, ...] = (
    _adds("never-beside", "Lines of these kinds do not lie in one trench with it.",
           "Give one of them a trench of its own.", form="kinds"),
    _adds("never-over", "Lines of these kinds lie to one side of it, never straight over or under it.",
           "Move one of them to the side.", form="kinds", field="offset_in"),
    _adds("lies-above", "It lies higher than lines of these kinds.", "Lay it higher, or the other deeper.",
           form="kinds", field="cover_in"),
)  # fmt: skip

FILLS: tuple[LayoutRule, ...] = (
    _fill("fill-material", "This zone of the fill is of one of these materials.", "Use such a material.",
          sense="one of", form="fills"),
    _fill("fill-stone", "The largest stone in this zone of the fill is at most this big.", "Screen it.", unit="in",
          sense="at most"),
    _fill("fill-lift", "A lift of this zone of the fill is at most this thick, loose.", "Fill in thinner lifts.",
          unit="in", sense="at most"),
    _fill("fill-density", "This zone of the fill is compacted to at least this share of its greatest dry density.",
          "Compact it further.", unit="%"),
    _fill("fill-strength", "Slurry in this zone of the fill is at least this strong.", "Use a stronger mix.",
          unit="psi"),
    _fill("fill-strength-most", "Slurry in this zone of the fill is at most this strong, so that it can be dug again.",
          "Use a weaker mix.", unit="psi", sense="at most"),
)  # fmt: skip

RIBBONS: tuple[LayoutRule, ...] = (
    _asked("ribbon-height-most", "The lowest warning ribbon lies at most this far above the line.",
           "Lay the ribbon lower: raise `ribbon_below_grade_in` under `backfill`.", unit="in", sense="at most",
           field="warning_ribbon"),
    _asked("ribbon-heights", "Warning ribbons lie at these heights above the line.",
           "Lay the ribbons at the heights the sheet gives.", unit="in", sense="is", form="depths",
           field="warning_ribbon"),
    _asked("ribbon-below-least", "Warning ribbons lie at least this far below grade.", "Lay the ribbon deeper.",
           unit="in", field="warning_ribbon"),
    _asked("ribbon-below-most", "Warning ribbons lie at most this far below grade.", "Lay the ribbon higher.",
           unit="in", sense="at most", field="warning_ribbon"),
)  # fmt: skip

DIG: tuple[LayoutRule, ...] = (
    _adds("before-dig", "These are granted before anybody digs here.",
           "Write each under `permits`; where it is not granted yet, with the gate of `own_work` before the dig.",
          form="permits",
           severity=Severity.STOP),
    _adds("by-hand", "A requirement in words, which nobody but people can check.", "Have somebody check it on site.",
           form="words"),
)  # fmt: skip

RULES = (*LINES, *BENDS, *NEIGHBOURS, *FILLS, *RIBBONS, *DIG)
