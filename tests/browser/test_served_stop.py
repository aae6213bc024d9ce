"""The server stopped and started again in the middle of things: nothing that was told as written is lost."""

from __future__ import annotations

import os
import random
import signal
from collections import Counter
from collections.abc import Iterator
from contextlib import closing, suppress
from dataclasses import dataclass, field

import pytest
from playwright.sync_api import Error

from scheduler import bundled_sites, load, put_in_force
from scheduler.ledger import HoldReleased, NoteKept
from scheduler.ledger.place import place_of
from scheduler.plan import Plan
from tests.browser.served_phones import CODE, Phone, ServedSite, serve_to_phones
from tests.browser.serving import SWITCHES
from tests.browser.test_served_phones import SITE, STAKE, entries, release, write_elsewhere
from tests.unit.test_situation import planned

NOTES = 10
MOMENTS_MS = (0, 60, 250, 800, 1600)
"""How long after a tap the server goes: before the tap has come, while it is written, or while the page is drawn."""
RELEASES_MS = (60, 150, 400, 1000)
SEEN = "Tied in, phases checked."
SOLVING = "Finding the best sequence"
TOLD = NoteKept | HoldReleased
HEARD, UNHEARD = "On record since: ", "Not written down: “"
KNOWS_RECORD = "window.heardOf && document.querySelector('.on-record')"
BACK_MS = 60_000
ALL_KEPT = """async () => {
  const cache = await caches.open('kept');
  return Promise.all((await cache.keys()).map(async key => (await cache.match(key)).text()));
}"""
NOTHING_TYPED = "async () => !(await (await caches.open('kept')).keys()).some(k => k.url.includes('/kept-words/'))"


@pytest.fixture
def site(tmp_path) -> Iterator[ServedSite]:
    sites = {"lane": SITE, "street": bundled_sites()["lantern-street"]}
    with serve_to_phones(tmp_path, sites, own_plans=True) as served:
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


def work_by(site: ServedSite, plan: Plan) -> None:
    """Put a plan in force, so that a server started anew has one to show at once."""
    late = max([plan.data_date, *(e.at for e in entries(site))])
    with closing(place_of(load(SITE).site, SITE, str(site.folder / "journals")).open()) as journal:
        put_in_force(journal, plan, by="Ruth Amsel", at=late)


@dataclass
class Drill:
    """Somebody who writes notes and another who releases, while the server is stopped or killed under them."""

    site: ServedSite
    writer: Phone
    told: list[str] = field(default_factory=list)
    """What the page showed as written, by its words."""
    chance: random.Random = field(default_factory=lambda: random.Random(16))
    stops: Counter[str] = field(default_factory=Counter)

    def on_record(self) -> list[str]:
        """Return the words of the notes and releases on record, in order."""
        happened = [e.event for e in entries(self.site)]
        return [e.words if isinstance(e, NoteKept) else e.evidence for e in happened if isinstance(e, TOLD)]

    def restart(self, phone: Phone) -> None:
        """Stop or kill the server, start it again, and wait until the page that was open all along is back."""
        how = self.chance.choice((signal.SIGTERM, signal.SIGKILL))
        self.site.stop(how)
        self.stops[how.name] += 1
        self.site.start()
        phone.page.locator("[data-test-connection-state=CONNECTED]").wait_for(timeout=BACK_MS)

    def check(self, words: str, phone: Phone) -> None:
        """Nothing told is lost or there twice, and the page says of what it had not told whether it was written."""
        self.restart(phone)
        kept = self.on_record()
        assert set(self.told) <= set(kept), (self.told, kept)
        assert len(kept) == len(set(kept)), kept
        if words not in self.told:
            said = phone.page.locator("#kept-words").filter(has_text=HEARD if words in kept else UNHEARD)
            said.wait_for(timeout=BACK_MS)

    def write(self, n: int) -> None:
        """Write a note; every second time the server goes only when the page has told it as written."""
        phone, words = self.writer, f"Note {n}."
        phone.page.goto(f"{self.site.address}/record")
        phone.board.shown()
        phone.page.get_by_role("combobox", name="What happened?").wait_for(timeout=BACK_MS)
        phone.board.pick("What happened?", "A note or a photo")
        phone.page.wait_for_function(KNOWS_RECORD)
        phone.page.get_by_label("Words").fill(words)
        phone.page.get_by_test_id("stForm").get_by_role("button", name="Write it down").first.click()
        told = phone.page.locator(".st-key-told").filter(has_text=words)
        if n % 2 == 0:
            told.wait_for(timeout=BACK_MS)
        else:
            phone.page.wait_for_timeout(self.chance.choice(MOMENTS_MS))
        if told.count():
            self.told.append(words)
        self.check(words, phone)

    def release(self, phone: Phone, after_ms: int) -> None:
        """Release a hold point, unless that is on record, and take the server away while it is written."""
        if SEEN in self.on_record():
            return
        phone.page.goto(f"{self.site.address}/{STAKE}")
        phone.page.wait_for_function(KNOWS_RECORD)
        phone.page.get_by_label("What was seen").fill(SEEN, timeout=BACK_MS)
        phone.page.get_by_label("Your own code").fill(CODE)
        phone.page.get_by_role("button", name="Release this hold point").click()
        phone.page.wait_for_timeout(after_ms)
        if phone.page.get_by_text("Released by Sam Wirth").count():
            self.told.append(SEEN)
        self.check(SEEN, phone)
        self.stops["in a release"] += 1


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
    write_elsewhere(site)
    work_by(site, planned().plan)
    drill, liaison = Drill(site, Phone(browser, site, width=1280)), Phone(browser, site)
    drill.writer.sign_in(site.link("lane", "r-amsel", "general_contractor"))
    liaison.sign_in(site.link("lane", "s-wirth", "utility"))
    for after_ms in RELEASES_MS:
        drill.release(liaison, after_ms)
    for n in range(NOTES):
        drill.write(n)
        print(f"{dict(drill.stops)}: {len(drill.told)} told, {len(drill.on_record())} on record", flush=True)
    street = Phone(browser, site)
    street.sign_in(site.link("street", "o-brandt", "general_contractor"))
    street.page.get_by_text(SOLVING).first.wait_for(timeout=BACK_MS)
    drill.restart(street)
    street.page.get_by_text(SOLVING).first.wait_for(timeout=BACK_MS)
    street.page.get_by_text("Would finish").first.wait_for(timeout=2 * BACK_MS)
    assert set(drill.told) <= set(drill.on_record())
    print(f"stops: {dict(drill.stops)}, and one while the first plan was looked for", flush=True)
    assert 3 * len(drill.told) >= NOTES
    assert {"in a release", "SIGTERM", "SIGKILL"} <= set(drill.stops)
    for phone in (drill.writer, liaison, street):
        phone.close()
