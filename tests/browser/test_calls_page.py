"""The calls on Today, as a foreman ticks them off on a phone and at a desk."""

from __future__ import annotations

from contextlib import closing

import pytest

from scheduler.ledger.day_events import NoteKept
from tests.browser.test_live import be, best_plan, clean, entries, journal, opened

__all__ = ["journal"]


@pytest.mark.parametrize("width", [390, 1440])
def test_calls_are_ticked_off_with_their_answer(visit, journal, width):
    start = best_plan().data_date
    tuesday = start.replace(day=start.day + 1, hour=12)
    with closing(opened(journal)) as record:  # the practice clock stands at the last entry
        record.append(NoteKept(words="Fair weather.", when=tuesday), at=tuesday, by="Ruth Amsel")
    page = visit(width=width)
    page.open("Today").planned()
    page.unfold("To call, book or order")
    be(page, "Ruth Amsel")
    page.reads("At once, due since Mon 1 Mar 15:30: Tom Bell, Plumber (555-0112)")
    card = page.page.locator("[class*=st-key-call-]", has_text="Tom Bell").first
    card.get_by_role("button", name="No answer").first.click()
    page.shown()
    page.reads("No answer Tue 2 Mar 12:00")
    assert entries(journal)[-1].event.answer == "no_answer"
    clean(page)
