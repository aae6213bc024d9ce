"""The served dashboard as a phone installs it: its first page is readable without a connection, and marked as old."""

from __future__ import annotations

import pytest
from playwright.sync_api import Error

from scheduler import bundled_sites
from tests.browser.served_phones import Phone, serve_to_phones
from tests.browser.serving import SWITCHES

KEPT = """async () => {
  const kept = async () => (await caches.open('kept')).match('/kept-page');
  while (!(await kept())) await new Promise(again => setTimeout(again, 100));
}"""
TYPE = """async () => {
  const typed = { text: 'Seen <b>', full: 'Seen <b>', key: 'x', where: '/record', head: 0, who: 'lane/d-okoro' };
  const value = { ...typed, at: Date.now() };
  await (await caches.open('kept')).put('/kept-words/x', new Response(JSON.stringify(value)));
}"""
SWITCH = "--ignore-certificate-errors"
"""A worker is registered only where the browser itself, not a page of it, takes the throw-away certificate."""


def test_the_first_page_is_kept_marked_as_old_and_forgotten_by_whoever_is_signed_out(browser, chromium, tmp_path):
    own = browser.browser_type.launch(executable_path=chromium, args=[*SWITCHES, SWITCH])
    with serve_to_phones(tmp_path, {"lane": bundled_sites()["orchard-lane"]}) as site:
        phone = Phone(own, site)
        phone.sign_in(site.link("lane", "d-okoro", "competent_person"))
        phone.page.evaluate(KEPT)
        phone.page.evaluate(TYPE)
        faults = phone.context.new_cdp_session(phone.page).send("Page.getInstallabilityErrors")
        assert [f["errorId"] for f in faults["installabilityErrors"] if f["errorId"] != "in-incognito"] == []
        before = phone.board.text()
        phone.context.set_offline(True)
        phone.page.reload()
        alert = phone.page.get_by_role("alert")
        assert "This is old: how the site stood 0 minutes ago" in alert.inner_text()
        assert "Do not cover anything by it." in alert.inner_text()
        assert "Orchard Lane workshop" in phone.page.inner_text("pre")
        assert before.split()[0] in phone.page.inner_text("pre")
        assert "and not known to be written down: “Seen <b>”" in phone.page.inner_text("p")
        assert phone.page.locator("script").count() == 0
        phone.context.set_offline(False)
        site.sign_ins.revoke("lane", "d-okoro")
        phone.page.reload()
        assert "Nobody is signed in here" in phone.page.inner_text("body")
        assert phone.page.evaluate("caches.keys()") == []
        phone.context.set_offline(True)
        with pytest.raises(Error):
            phone.page.reload()
        assert "Orchard Lane" not in phone.page.inner_text("body")
    own.close()
