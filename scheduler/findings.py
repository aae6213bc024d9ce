"""What a check reports: one frozen record per thing found, never only the first."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from scheduler.spoken import found_and_expected


class Severity(StrEnum):
    """How much a finding matters: work stops, it must be mended, or it is worth knowing."""

    STOP = "stop"
    FIX = "fix"
    NOTE = "note"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing a check found.

    `rule` is the id of the rule broken, `where` a place a person can walk to or a field in
    a file, `file`/`line` the source position when the finding comes from a file.
    """

    rule: str
    severity: Severity
    where: str
    text: str
    found: str = ""
    required: str = ""
    source: str = ""
    remedy: str = ""
    file: str = ""
    line: int | None = None

    def __str__(self) -> str:
        line = "" if self.line is None else f":{self.line}"
        place = f"{self.file}{line}: " if self.file else ""
        return f"{place}{self.where}: {self.text} {found_and_expected(self.found, self.required)}".strip()


def worst(findings: Iterable[Finding]) -> Severity | None:
    """Return the gravest severity present, or None when there is no finding."""
    order = (Severity.STOP, Severity.FIX, Severity.NOTE)
    present = {f.severity for f in findings}
    return next((s for s in order if s in present), None)
