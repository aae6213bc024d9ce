"""Every paper, tag and calendar says how the record stood, so that one kept in a drawer can prove the journal."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from scheduler.export.audiences import EVERYBODY
from scheduler.export.calendar_files import calendar
from scheduler.export.lookahead import Period, look_ahead
from scheduler.export.paper_facts import PaperFacts
from scheduler.export.tags import hold_tags
from scheduler.ledger.heads import Head, read_heads
from scheduler.situation import PlanInForce, situation_at
from tests.papers import facts_of, read_pdf

HEAD = Head(57, "7F3K-9QXD-M2TA")
MADE = datetime(2027, 2, 26, 12, tzinfo=UTC)


def at_head(head: str) -> PaperFacts:
    """Return the papers of the small site with nothing on record but a head."""
    facts = facts_of("orchard-lane")
    force = PlanInForce(facts.plan, facts.network, None)
    now = situation_at(facts.site, facts.network, (), MADE, force)
    return replace(facts, situation=replace(now, head=head))


@pytest.mark.parametrize("head", ["none kept", "", str(HEAD)])
def test_the_head_stands_on_all_that_leaves_the_office(head: str) -> None:
    facts = facts_of("orchard-lane") if head == "none kept" else at_head(head)
    wanted = (HEAD,) if head == str(HEAD) else ()
    pages = read_pdf(look_ahead(facts, EVERYBODY, Period(facts.plan.data_date.date(), 2))).pages
    tags = read_pdf(hold_tags(facts, facts.plan.holds[:2])).pages
    for page in tags:
        assert read_heads(page) == wanted
    # The first page says it twice: in its running head, and after the data date.
    for number, page in enumerate(pages):
        assert read_heads(page) == wanted * (1 if number else 2)
    text = calendar(facts, EVERYBODY, made=MADE).decode()
    assert read_heads(text) == wanted


def test_the_moment_of_the_record_stands_beside_its_head() -> None:
    (first, *_) = read_pdf(look_ahead(at_head(str(HEAD)), EVERYBODY, Period(MADE.date(), 1))).pages
    assert f"Record at entry {HEAD}, Fri 26 Feb 05:00: what happened later is not in it." in first
    (first, *_) = read_pdf(look_ahead(at_head(""), EVERYBODY, Period(MADE.date(), 1))).pages
    assert "Nothing on record, Fri 26 Feb 05:00" in first


def test_a_new_entry_alone_moves_no_event_of_a_calendar() -> None:
    one, two = (at_head(h) for h in ("1:0000-0000-0000", str(HEAD)))
    first = calendar(one, EVERYBODY, made=MADE).decode()
    second = calendar(two, EVERYBODY, made=MADE, before=first).decode()
    assert second.replace(str(HEAD), "1:0000-0000-0000") == first
