"""What a layout rule is: a sentence, a source, a value, and how a site overrides it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from scheduler.findings import Severity

Sense = Literal["at least", "at most", "is", "one of"]
Basis = Literal["verified", "from memory", "common practice", "local"]
"""Verified: the value was seen on a page that quotes the source. Local: only a sheet gives a value."""


@dataclass(frozen=True, slots=True)
class Rule:
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
    severity: Severity = Severity.FIX
    override: str = "`rules:` in the site file, or a rule sheet"
    remedy: str = ""

    @property
    def cited(self) -> str:
        """The source as printed beside a finding."""
        edition = f", {self.edition}" if self.edition else ""
        basis = "" if self.basis in ("verified", "local") or self.source.lower() == self.basis else f" ({self.basis})"
        return f"{self.source}{edition}{basis}"


@dataclass(frozen=True, slots=True)
class Value:
    """A rule's value where it was asked for, with the source that gives it."""

    rule: str
    value: float
    source: str
    built_in: float | None = None
    """What the built-in rule says, where a local value stands in its place."""
    local: bool = False
