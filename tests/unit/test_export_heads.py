"""Every paper, tag and calendar says how the record stood, so that one kept in a drawer can prove the journal."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from scheduler.export.audiences import EVERYBODY
from scheduler.export.calendar_files import calendar
from scheduler.export.lookahead import Period, look_ahead
from scheduler.export.tags import hold_tags
from scheduler.ledger.heads import Head, read_heads
from tests.papers import facts_of, read_pdf

HEAD = Head(57, "7F3K-9QXD-M2TA")
MADE = datetime(2027, 2, 26, 12, tzinfo=UTC)


@pytest.mark.parametrize("head", ["", str(HEAD)])
def test_the_head_stands_on_all_that_leaves_the_office(head: str) -> None:
    facts = replace(facts_of("orchard-lane"), head=head)
    wanted = (HEAD,) if head else ()
    pages = read_pdf(look_ahead(facts, EVERYBODY, Period(facts.plan.data_date.date(), 2))).pages
    tags = read_pdf(hold_tags(facts, facts.plan.holds[:2])).pages
    for page in (*pages, *tags):
        assert read_heads(page) == wanted
    text = calendar(facts, EVERYBODY, made=MADE).decode()
    assert read_heads(text) == wanted


def test_a_new_entry_alone_moves_no_event_of_a_calendar() -> None:
    one, two = (replace(facts_of("orchard-lane"), head=h) for h in ("1:0000-0000-0000", str(HEAD)))
    first = calendar(one, EVERYBODY, made=MADE).decode()
    second = calendar(two, EVERYBODY, made=MADE, before=first).decode()
    assert second.replace(str(HEAD), "1:0000-0000-0000") == first
