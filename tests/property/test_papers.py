"""Random journals: no paper sends anybody to cover what is not released or not passed, and no two outputs disagree."""

from __future__ import annotations

from datetime import datetime, timedelta
from random import Random

import pytest

from scheduler import Situation
from scheduler.errors import BadInput
from scheduler.export import EVERYBODY, PaperFacts, Period, day_sheets, look_ahead
from scheduler.ledger.store import Entry
from scheduler.situation import before_it
from tests.happenings import Chance, as_planned
from tests.outputs import by_the_record, calendar_says, look_ahead_says, table_says, work_rows
from tests.papers import read_pdf, squeezed
from tests.records import Record
from tests.slices import slices
from tests.unit.test_situation import case, march, planned, stands

JOURNALS, AT_ONCE = 120, 10
PRINTED = 6
"""Every so many journals the look-ahead is printed and read back."""


def journal(seed: int) -> tuple[list[Entry], datetime]:
    """Return a record that goes by the plan for a while, and then by chance; some of it no program would write."""
    rng = Random(seed)
    until = march(rng.randint(1, 22), rng.choice((6, 9, 11, 13, 16)))
    record = Record(case().site, case().network)
    for at, happened in as_planned(case(), planned().plan, until):
        if rng.random() > 0.03:
            _write(record, happened, at, raw=True)
    said = Chance(case(), seed, until, 10).draw(rng.randint(0, 30))
    for at, happened in said:
        _write(record, happened, at, raw=rng.random() < 0.3)
    last = said[-1][0] if said else until
    return record.entries, last + timedelta(minutes=rng.randint(0, 2000))


def _write(record: Record, happened: object, at: datetime, *, raw: bool) -> None:
    try:
        record.write(happened, at)  # type: ignore[arg-type]
    except BadInput:
        if raw:
            record.add(happened, at)  # type: ignore[arg-type]


@pytest.mark.property
@pytest.mark.parametrize("first", slices(0, JOURNALS, AT_ONCE, kept=4))
def test_papers_of_random_journals_agree_and_stop_whoever_would_cover_too_early(first: int) -> None:
    covering = stopped = 0
    for seed in range(first, first + AT_ONCE):
        entries, at = journal(seed)
        now = stands(entries, at)
        facts = PaperFacts(planned().plan, case().site, case().network, now)
        _agree(facts, now)
        for row in work_rows(facts):
            work = now.work[row.about[0]]
            if row.over or not work.kind.covers:
                continue
            covering += 1
            if before_it(work):
                stopped += 1
                assert row.blocked or row.stops, (seed, work.name)
        if seed % PRINTED == 0:
            _printed(facts, now)
    assert covering > stopped / 2 > 0


def _agree(facts: PaperFacts, now: Situation) -> None:
    wanted = by_the_record(now)
    work = {a.id for a in facts.plan.activities if not a.kind.is_look}
    assert look_ahead_says(facts) == calendar_says(facts) == {k: v for k, v in wanted.items() if k in work}
    table = table_says(facts)
    assert table == {k: wanted[k] for k in table}


def _printed(facts: PaperFacts, now: Situation) -> None:
    """Check on the printed paper that each row begins with what stops it."""
    stretch = Period(now.moment.date(), 2)
    text = squeezed(read_pdf(look_ahead(facts, EVERYBODY, stretch)).text)
    for sheet in day_sheets(facts, EVERYBODY, stretch.first, stretch.last):
        for row in sheet.rows:
            assert all(squeezed(w) in text for w in (*row.blocked, *row.stops, *row.notes))
