"""The errors a user may meet; everything else is a defect of ours."""

from __future__ import annotations

from collections.abc import Sequence

from scheduler.findings import Finding


class BadInput(Exception):  # noqa: N818 - reads as the sentence it is
    """Input that cannot be used; carries every fault found in it, each with its place."""

    def __init__(self, findings: Sequence[Finding]) -> None:
        self.findings = tuple(findings)
        super().__init__("\n".join(str(f) for f in self.findings))
