"""Tables for spreadsheets: activities, visits and hold points as CSV, no cell a formula, read back as they were."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import datetime

from scheduler.cells import safe
from scheduler.export.audiences import EVERYBODY, Audience, visits_of, work_of
from scheduler.export.paper_facts import PaperFacts

ACTIVITIES = (
    "activity", "name", "kind", "who", "where", "start", "finish", "working hours",
    "may slip, working hours", "no slack", "waits for hold points",
)  # fmt: skip
VISITS = ("visit", "name", "authority", "start", "finish", "hold points", "where")
HOLDS = ("hold point", "kind", "name", "where", "lines", "released by", "planned release", "looked for", "waits for it")
SEPARATOR = "; "


def activities_csv(facts: PaperFacts, party: Audience = EVERYBODY) -> str:
    """Return a party's work, a row an activity."""
    return _written(
        ACTIVITIES,
        (
            (
                a.id,
                a.name,
                a.kind,
                facts.who(a),
                facts.place(a),
                _when(facts, a.start),
                _when(facts, a.finish),
                _hours(a.work_minutes),
                _hours(a.total_float_minutes),
                "yes" if a.total_float_minutes == 0 else "",
                SEPARATOR.join(h.id for h in facts.waits_for.get(a.id, ())),
            )
            for a in work_of(facts, party)
        ),
    )


def visits_csv(facts: PaperFacts, party: Audience = EVERYBODY) -> str:
    """Return the visits a party makes, or that look at its work, a row a visit."""
    return _written(
        VISITS,
        (
            (
                v.id,
                v.name,
                v.authority,
                _when(facts, v.start),
                _when(facts, v.finish),
                SEPARATOR.join(v.covers),
                SEPARATOR.join(dict.fromkeys(facts.hold_place(facts.holds[h]) for h in v.covers if h in facts.holds)),
            )
            for v in visits_of(facts, party)
        ),
    )


def holds_csv(facts: PaperFacts, party: Audience = EVERYBODY) -> str:
    """Return the hold points that gate a party's work or look at it, a row a hold point."""
    mine = {a.id for a in work_of(facts, party)} | {h for v in visits_of(facts, party) for h in v.covers}
    return _written(
        HOLDS,
        (
            (
                h.id,
                h.kind,
                facts.hold_name(h),
                facts.hold_place(h),
                SEPARATOR.join(facts.hold_lines(h)),
                facts.releases(h),
                _when(facts, h.planned_release),
                facts.criteria(h),
                SEPARATOR.join(h.gates),
            )
            for h in facts.plan.holds
            if party == EVERYBODY or h.id in mine or mine.intersection(h.gates)
        ),
    )


def _written(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")  # RFC 4180 section 2
    writer.writerow(head)
    writer.writerows([safe(cell) for cell in row] for row in rows)
    return out.getvalue()


def _when(facts: PaperFacts, when: datetime | None) -> str:
    return facts.local(when).isoformat(timespec="minutes") if when else ""


def _hours(minutes: int | None) -> str:
    return "" if minutes is None else f"{minutes / 60:g}"
