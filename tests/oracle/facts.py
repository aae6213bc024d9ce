"""Entries as the oracle reads them: which count, and when each was certainly written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from scheduler.ledger.store import Entry
from scheduler.site.site_record import Site

SLACK = timedelta(minutes=5)
HIDES = {"lay", "set structure", "shade", "ribbon", "fill"}
FILLS = {"ribbon", "fill"}
BURIES = {"shade", *FILLS}
IN_OPEN_TRENCH = {"lay", "set structure", "join", "prove", "test", "check"}
COVERING = {"shade", "ribbon", "fill", "restore surface", "compaction test", "milestone"}
AUTHORITY = {
    "inspection_passed", "inspection_passed_with_conditions", "inspection_failed", "pass_stands", "hold_released",
    "stop_work", "stop_work_lifted", "trench_inspected", "line_struck", "refused",
}  # fmt: skip
WORK = ("started", "finished", "remaining_reported", "test_failed", "not_done")
PASSED = ("inspection_passed", "inspection_passed_with_conditions")
LINE_FIELDS = (
    "kind", "material", "size_in", "count", "use", "voltage_v", "gfci_20a", "conductors", "stub", "pull_string",
    "tracer_wire_awg", "warning_ribbon", "shelf", "protected_crossing", "test",
)  # fmt: skip
BOX_FIELDS = (
    "kind", "size_in", "exposed", "riser_material", "riser_height_ft", "slip_joint", "exposed_run_ft", "wrap_mil",
    "gravel_pocket", "conduit_gap_in",
)  # fmt: skip
Spot = tuple[str, str, float]
"""A line (empty: the trench), an alignment, a station."""


@dataclass(frozen=True)
class Question:
    """What is to be covered, and when."""

    alignment: str
    from_ft: float
    to_ft: float
    only_shading: bool
    layer: int | None
    moment: datetime
    now: datetime


@dataclass
class Fact:
    """One entry that counts."""

    number: int
    event: Any
    by_then: datetime
    then: Site
    contested: bool = False

    @property
    def when(self) -> datetime:
        return self.event.start if self.event.name == "rained" else getattr(self.event, "when", self.by_then)

    @property
    def ahead(self) -> bool:
        return self.when > self.by_then + SLACK

    def against(self, moment: datetime) -> datetime | None:
        """Return since when it stands against covering at a moment; None when it does not yet."""
        since = self.by_then if self.ahead and self.when > moment else self.when
        return since if since <= moment else None

    def approves(self, moment: datetime) -> bool:
        return self.when <= moment and not self.ahead


def counting(past: Sequence[tuple[Entry, Site]], now: datetime) -> list[Fact]:
    """Return the entries that count, each with the moment by which it was written."""
    rows = {e.number: e for e, _ in past}

    def of_authority(entry: Entry) -> bool:
        while (
            entry.event.name == "corrected" and entry.event.supersedes in rows and entry.event.supersedes < entry.number
        ):
            entry = rows[entry.event.supersedes]
        return entry.event.name in AUTHORITY or entry.event.name == "corrected"

    gone, contested = set(), set()
    for entry, _ in reversed(past):
        if entry.event.name != "corrected" or entry.number in gone:
            continue
        wrong = rows[entry.event.supersedes]
        mine = wrong.by.strip().lower() == entry.by.strip().lower()
        if mine or (entry.event.right == "contractor" and not of_authority(wrong)):
            gone.add(wrong.number)
        else:
            contested.add(wrong.number)
    facts, latest = [], now
    for entry, site in reversed(past):
        latest = min(latest, entry.at)
        if entry.number not in gone:
            facts.append(Fact(entry.number, entry.event, latest, site, entry.number in contested))
    return facts[::-1]
