"""The dashboard with its record in PostgreSQL: away, frozen and back again, every page says what it does not know."""

from __future__ import annotations

import signal
import time
from collections.abc import Iterator
from contextlib import ExitStack

import pytest

import scheduler
from app.components.fresh import STALE_S
from tests.benchmarks.ledger_drills import Server, postgresql
from tests.browser.dashboard import PATHS, Dashboard
from tests.browser.serving import serve
from tests.browser.test_live import SMALL, clean, clear_for_cover
from tests.browser.test_record_watch import COVER, GREY, NO_YES, NOT_KNOWN, UNREADABLE

YES = "Yes. Nothing on record stands against covering Pole branch 0+00 to 0+28"
SEEN_S = 5.0
"""Within which a server that is gone is noticed on a page."""


@pytest.fixture
def server() -> Iterator[Server]:
    with ExitStack() as stack:
        try:
            running = stack.enter_context(postgresql())
        except SystemExit as missing:
            pytest.skip(str(missing))
        yield running


def test_a_database_that_is_away_or_frozen_is_a_no_on_every_page_until_it_is_back(server, tmp_path, pages):
    clear_for_cover(server.where, scheduler.load(SMALL))
    with serve(tmp_path, str(SMALL), journal=server.where) as base:
        board = Dashboard(pages.lend(width=1440, scheme="light"), base, None)
        board.open("Visits and holds", **COVER).planned()
        board.reads(YES)

        server.stop()
        gone = time.monotonic()
        board.page.wait_for_function(NO_YES)
        assert time.monotonic() - gone <= SEEN_S
        for page in PATHS:
            board.go(page)
            board.reads(UNREADABLE)
            said = board.text()
            assert "cannot be used just now" in said, page
            assert NOT_KNOWN in said, page
            assert "Will finish" not in said, page
            assert "Would finish" not in said, page
            assert "Yes." not in said, page
            clean(board)

        server.start(tries=20)
        board.page.get_by_text(UNREADABLE).first.wait_for(state="detached")
        board.open("Visits and holds", **COVER).planned()
        board.reads(YES)

        server.freeze(signal.SIGSTOP)
        try:
            board.page.wait_for_function(GREY, timeout=3000 * STALE_S)
        finally:
            server.freeze(signal.SIGCONT)
        board.page.wait_for_function(f"() => !({GREY})()", timeout=6000 * STALE_S)
        board.reads(YES)
        board.leave()
        pages.take_back(board.page)
