"""Tables for spreadsheets: activities, visits and hold points as CSV, no cell a formula, read back as they were."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence
from datetime import datetime

from scheduler.cells import safe
from scheduler.export.audiences import EVERYBODY, Audience, visits_of, work_of
from scheduler.export.days import visit_stands
from scheduler.export.on_record import hold_said, late_said, look_said
from scheduler.export.paper_facts import PaperFacts
from scheduler.plan import PlanVisit
from scheduler.situation.verdict import before_it
from scheduler.trench.ordered import materials, tons_said

ACTIVITIES = (
    "activity", "name", "kind", "who", "where", "start", "finish", "working hours",
    "may slip, working hours", "no slack", "waits for hold points",
)  # fmt: skip
VISITS = ("visit", "name", "authority", "start", "finish", "hold points", "where")
HOLDS = ("hold point", "kind", "name", "where", "lines", "released by", "planned release", "looked for", "waits for it")
MATERIALS = ("material", "amount", "unit", "tons", "truck loads", "reckoned by")
"""`tons` are short tons; `tonnes` stand in their place on a site in metres."""
BY_THE_RECORD = ("by the record", "recorded start", "recorded finish", "before it may go on")
"""Columns that are there where a journal is kept."""
SEPARATOR = "; "


def activities_csv(facts: PaperFacts, party: Audience = EVERYBODY) -> str:
    """Return a party's work, a row an activity."""
    return _written(
        _head(facts, ACTIVITIES, BY_THE_RECORD),
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
                *_work_stands(facts, a.id),
            )
            for a in work_of(facts, party)
        ),
    )


def visits_csv(facts: PaperFacts, party: Audience = EVERYBODY) -> str:
    """Return the visits a party makes, or that look at its work, a row a visit."""
    return _written(
        _head(facts, VISITS, BY_THE_RECORD[:1]),
        (
            (
                v.id,
                v.name,
                v.authority,
                _when(facts, v.start),
                _when(facts, v.finish),
                SEPARATOR.join(v.covers),
                SEPARATOR.join(dict.fromkeys(facts.hold_place(facts.holds[h]) for h in v.covers if h in facts.holds)),
                *_looks_stand(facts, v),
            )
            for v in visits_of(facts, party)
        ),
    )


def holds_csv(facts: PaperFacts, party: Audience = EVERYBODY) -> str:
    """Return the hold points that gate a party's work or look at it, a row a hold point."""
    mine = {a.id for a in work_of(facts, party)} | {h for v in visits_of(facts, party) for h in v.covers}
    return _written(
        _head(facts, HOLDS, BY_THE_RECORD[:1]),
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
                *([hold_said(facts, h.id)] if facts.situation is not None else []),
            )
            for h in facts.plan.holds
            if party == EVERYBODY or h.id in mine or mine.intersection(h.gates)
        ),
    )


def materials_csv(facts: PaperFacts) -> str:
    """Return what the whole job hauls away, brings and orders, a row a material."""
    return _written(
        tuple(tons_said() if name == "tons" else name for name in MATERIALS),
        (
            (
                m.name,
                f"{m.amount:.1f}",
                m.unit,
                "" if m.tons is None else f"{m.tons:.1f}",
                "" if m.loads is None else str(m.loads),
                m.by,
            )
            for m in materials(facts.site)
        ),
    )


def _head(facts: PaperFacts, head: Sequence[str], more: Sequence[str]) -> Sequence[str]:
    return head if facts.situation is None else (*head, *more)


def _work_stands(facts: PaperFacts, activity: str) -> list[str]:
    """Return the cells that say how a piece of work stands; none where no journal is kept."""
    if facts.situation is None:
        return []
    stands = facts.stands(activity)
    if stands is None:
        return [""] * len(BY_THE_RECORD)
    late = late_said(stands, facts.now)
    before = [] if stands.over else before_it(stands)
    state = SEPARATOR.join(filter(None, (stands.state.value, late)))
    return [state, _when(facts, stands.started), _when(facts, stands.finished), " ".join(before)]


def _looks_stand(facts: PaperFacts, visit: PlanVisit) -> list[str]:
    if facts.situation is None:
        return []
    return [SEPARATOR.join(f"{s.name}: {look_said(facts, s) or s.state.value}" for s in visit_stands(facts, [visit]))]


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
