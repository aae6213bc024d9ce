"""The server stopped and started again in the middle of things: nothing that was told as written is lost."""

from __future__ import annotations

import random
import signal
from collections.abc import Iterator

import pytest

from scheduler import bundled_sites
from scheduler.ledger import NoteKept
from tests.browser.served_phones import CODE, Phone, ServedSite, serve_to_phones
from tests.browser.test_served_phones import SITE, STAKE, entries, release, write_elsewhere

STOPS = 6
BACK_MS = 60_000


@pytest.fixture
def site(tmp_path) -> Iterator[ServedSite]:
    with serve_to_phones(tmp_path, {"lane": SITE, "street": bundled_sites()["lantern-street"]}) as served:
        yield served


@pytest.mark.benchmark
def test_what_is_typed_outlives_a_stop_and_a_search_under_way_keeps_nobody_waiting(site, browser):
    write_elsewhere(site)
    phone = Phone(browser, site)
    phone.sign_in(site.link("lane", "s-wirth", "utility"))
    phone.page.goto(f"{site.address}/{STAKE}")
    phone.page.get_by_label("What was seen").fill("Tied in, phases checked.")
    assert site.stop() == 0, "while the plan is still looked for"
    assert "Stopped in order." in site.log()
    before = phone.page.get_by_text("Looked up at").inner_text()
    site.start()
    phone.page.get_by_text("Looked up at").filter(has_not_text=before).wait_for(timeout=BACK_MS)
    assert phone.page.get_by_label("What was seen").input_value() == "Tied in, phases checked."
    release(phone, CODE)
    phone.page.get_by_text("Released by Sam Wirth").first.wait_for()
    assert [e.event.name for e in entries(site)] == ["finished", "hold_released"]
    phone.close()


@pytest.mark.benchmark
def test_a_drill_of_stops_and_kills_loses_nothing_that_was_told_as_written(site, browser):
    phone, told, chance = Phone(browser, site, width=1280), [], random.Random(16)
    phone.sign_in(site.link("lane", "r-amsel", "general_contractor"))
    for n in range(STOPS):
        phone.page.goto(f"{site.address}/record")
        phone.board.shown()
        phone.page.get_by_role("combobox", name="What happened?").wait_for()
        phone.board.pick("What happened?", "A note or a photo")
        phone.page.get_by_label("Words").fill(f"Note {n}.")
        phone.page.get_by_test_id("stMain").get_by_role("button", name="Write it down").first.click()
        phone.page.wait_for_timeout(chance.choice((0, 20, 60, 120, 250, 800)))
        if phone.page.get_by_text("Note, ").filter(has_text=f"Note {n}.").count():
            told.append(f"Note {n}.")
        site.stop(chance.choice((signal.SIGTERM, signal.SIGKILL)))
        site.start()
        kept = [e.event.words for e in entries(site) if isinstance(e.event, NoteKept)]
        assert set(told) <= set(kept), n
        assert len(kept) == len(set(kept)), n
        print(f"{n + 1} stops: {len(told)} told as written, {len(kept)} in the record", flush=True)
    phone.close()
