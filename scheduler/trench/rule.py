"""What a layout rule is: a sentence, a source and a value."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from scheduler.findings import Severity
from scheduler.site.ground import LineKind
from scheduler.units import format_amount

Sense = Literal["at least", "at most", "is", "one of"]
Form = Literal[
    "number",
    "yes",
    "materials",
    "kinds",
    "depths",
    "stages",
    "shells",
    "fills",
    "tests",
    "structures",
    "permits",
    "words",
]
"""What a local value looks like: one number, yes or no, a list, or a requirement in words."""
Family = Literal["", "cover", "apart", "cross"]
Basis = Literal["verified", "from memory", "common practice", "local"]
"""Verified: the value was seen on a page that quotes the source. Local: only a sheet gives a value."""


@dataclass(frozen=True, slots=True)
class LayoutRule:
    """One layout rule. `default` None: the value comes from a table, or only from a local sheet."""

    id: str
    sentence: str
    source: str
    """Standard and clause."""
    edition: str
    basis: Basis
    default: float | None = None
    unit: str = ""
    sense: Sense = "at least"
    form: Form = "number"
    severity: Severity = Severity.FIX
    remedy: str = ""
    local: bool = True
    """Whether a site or a sheet may give its own value; not for plain geometry, nor for what only people settle."""
    field: str = ""
    """The field of a site record by which a finding is mended, and beside which an editor shows it; '' for none."""
    family: Family = ""
    """Which of the rules that there are for every kind of line, or pair of kinds, it is one of; '' for none."""
    kinds: tuple[LineKind, ...] = ()
    """The kind of line, or the pair of kinds, that a rule of a family is for."""
    along: bool = False
    """Whether it is asked part by part of a run, so that an entry may speak of ends, crossings and encased parts."""
    by_size: bool = False
    """Whether the code's value goes by the size of a line, or the voltage of a wire: a local value that names no size
    can only ask for more."""
    zoned: bool = False
    """Whether it is asked of each zone of the fill."""
    adds: bool = False
    """Whether what several sheets ask adds up: each of the entries holds beside the others."""

    @property
    def of_pair(self) -> bool:
        """Whether it is asked of a pair of lines, which then stand or fall together."""
        return self.family in ("apart", "cross") or self.id in ("water-sewer-shelf", "shared-box")

    @property
    def cited(self) -> str:
        """The source as printed beside a finding."""
        edition = f", {self.edition}" if self.edition else ""
        usual = self.basis == "common practice" and self.source.lower() != self.basis
        return f"{self.source}{edition}{' (common practice)' if usual else ''}"


@dataclass(frozen=True, slots=True)
class Value:
    """A rule's value where it was asked for, with the source that gives it."""

    rule: str
    value: float
    source: str
    built_in: float | None = None
    """What the built-in rule says, where a local value stands in its place."""
    items: tuple[str, ...] = ()
    """For a rule whose value is a list; `value` is then its length."""
    local: bool = False
    written: str = ""
    """The amount as a sheet writes it, where that is in another unit than the rule's: `900 mm`."""

    def inches(self, amount: float | None = None) -> str:
        """Write the value, or another amount beside it [in], in the unit the value was written in and in inches."""
        return format_amount(self.value if amount is None else amount, "in", like=self.written)

    def feet(self, amount: float | None = None) -> str:
        """The same for a value and amounts in feet."""
        return format_amount(self.value if amount is None else amount, "ft", like=self.written)

    def weaker(self, rule: LayoutRule) -> bool:
        """Tell whether a local value asks for less than the built-in one."""
        if not self.local or self.built_in is None:
            return False
        if rule.sense == "at most":
            return self.value > self.built_in
        return self.value < self.built_in
