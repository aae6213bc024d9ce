"""The server stopped and started again in the middle of things: nothing that was told as written is lost."""

from __future__ import annotations

import os
import random
import signal
from collections.abc import Iterator
from contextlib import suppress

import pytest
from playwright.sync_api import Error

from scheduler import bundled_sites
from scheduler.ledger import NoteKept
from tests.browser.served_phones import CODE, Phone, ServedSite, serve_to_phones
from tests.browser.serving import SWITCHES
from tests.browser.test_served_phones import SITE, STAKE, entries, release, write_elsewhere

STOPS = 6
BACK_MS = 60_000
ALL_KEPT = """async () => {
  const cache = await caches.open('kept');
  return Promise.all((await cache.keys()).map(async key => (await cache.match(key)).text()));
}"""
NOTHING_TYPED = "async () => !(await (await caches.open('kept')).keys()).some(k => k.url.includes('/kept-words/'))"


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
def test_a_press_that_the_connection_swallowed_is_spoken_of_and_the_words_are_offered_again(site, browser, chromium):
    own = browser.browser_type.launch(executable_path=chromium, args=[*SWITCHES, "--ignore-certificate-errors"])
    write_elsewhere(site)
    phone = Phone(own, site)
    phone.sign_in(site.link("lane", "s-wirth", "utility"))
    phone.page.goto(f"{site.address}/{STAKE}")
    words = phone.page.get_by_label("What was seen")
    phone.page.wait_for_function("window.heardOf && document.querySelector('.on-record')")
    words.fill("Tied in, phases checked.")
    phone.page.wait_for_function(f"async () => !(await ({NOTHING_TYPED})())")
    phone.page.get_by_label("Your own code").fill(CODE)
    os.killpg(site.server.pid, signal.SIGSTOP)
    try:
        phone.page.get_by_role("button", name="Release this hold point").click()
        phone.page.get_by_text("Not known whether “Release this hold point” was heard").wait_for()
    finally:
        site.stop(signal.SIGKILL)
    phone.page.locator("[data-test-connection-state=CONNECTED]").wait_for(state="detached")
    words.fill("Tied in, phases checked twice.")
    site.start()
    phone.page.get_by_text("Not written down: “Release this hold point”").wait_for(timeout=BACK_MS)
    assert words.input_value() == "Tied in, phases checked twice."
    assert [e.event.name for e in entries(site)] == ["finished"]
    phone.page.get_by_role("button", name="I have read this").click()
    phone.context.set_offline(True)
    with suppress(Error):  # a page that was never kept has nothing to show but what was typed
        phone.page.reload()
    phone.page.get_by_text("not known to be written down: “Tied in, phases checked twice.”").wait_for()
    phone.context.set_offline(False)
    phone.page.goto(f"{site.address}/{STAKE}")
    phone.page.get_by_role("button", name="Put it back").click()
    assert words.input_value() == "Tied in, phases checked twice."
    assert CODE not in str(phone.page.evaluate(ALL_KEPT))
    release(phone, CODE)
    phone.page.get_by_text("Released by Sam Wirth").first.wait_for()
    phone.page.wait_for_function(NOTHING_TYPED)
    words.wait_for(state="detached")
    assert [e.event.name for e in entries(site)] == ["finished", "hold_released"]
    phone.page.goto(f"{site.address}/record")
    phone.board.shown()
    site.sign_ins.revoke("lane", "s-wirth")
    phone.page.get_by_text("Nobody is signed in here any more").wait_for()
    assert phone.page.evaluate("caches.keys()") == []
    own.close()


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
