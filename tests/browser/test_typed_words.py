"""The script that keeps what is typed, in a page of its own that stands for the dashboard: nothing is served."""

from __future__ import annotations

import json
from collections.abc import Iterator
from typing import Any

import pytest

from app.components.typed_words import script_words
from app.served.installed import FILES

ADDRESS = "http://localhost:9/inspections?stake=pole"
PAGE = """<!doctype html><body><div data-testid="stApp" data-test-script-state="notRunning"
  data-test-connection-state="CONNECTED"><div data-testid="stMain"><div data-testid="stForm">
  <div class="stElementContainer st-key-seen-pole"><div data-testid="stTextArea"><textarea></textarea></div></div>
  <div class="stElementContainer st-key-station"><div data-testid="stTextInput"><input type="text"></div></div>
  <div class="stElementContainer st-key-code-pole"><div data-testid="stTextInput">
    <input type="password" autocomplete="new-password"></div></div>
  <div class="stElementContainer st-key-secret"><div data-testid="stTextInput">
    <input type="text" autocomplete="new-password" id="eye"></div></div>
  <div class="stElementContainer"><div data-testid="stFormSubmitButton"><button><p>Release</p></button></div></div>
</div></div><span class="on-record"></span></div><script src="/typed.js"></script>"""
KEPT = "async () => (await (await caches.open('kept')).keys()).map(k => decodeURIComponent(new URL(k.url).pathname))"
HEAR = """said => {
  document.querySelector('.on-record').dataset.said = said;
  window.heardOf = { page: Date.now() };
}"""
WORDS = "Tied in, phases checked."
SEEN = "/kept-words//inspections?stake=pole/seen-pole"


class Stand:
    """A page with the fields of a release, and its script, at a clock that the test turns."""

    def __init__(self, page: Any) -> None:
        self.page, self.status = page, 200
        page.route("**/*", self._answer)
        page.clock.install()
        page.goto(ADDRESS)
        self.area = page.locator("textarea")

    def _answer(self, route: Any) -> None:
        path = "/" + route.request.url.split("/", 3)[3].split("?")[0]
        kind, body = FILES.get(path, (b"text/html; charset=utf-8", PAGE.encode()))
        route.fulfill(status=self.status, body=body, content_type=kind.decode())

    def hear(self, *own: tuple[int, str, str], who: str = "lane/s-wirth", times: int = 2) -> None:
        """Let the server say what is on record, as often as it does in some seconds."""
        texts = [[number, said, [[len(typed), typed[:60]]]] for number, said, typed in own]
        head = max([1, *(number for number, _, _ in own)])
        said = {"who": who, "head": head, "own": texts, "writes": ["started-"], "words": script_words()}
        for _ in range(times):
            self.page.evaluate(HEAR, json.dumps(said))
            self.pass_by(2000)

    def load_again(self) -> None:
        """Load the page again, and let its script read what is kept, which takes real time, before it looks."""
        self.page.reload()
        self.page.wait_for_timeout(500)

    def pass_by(self, ms: int) -> None:
        """Let time pass, and what is kept be kept."""
        self.page.clock.run_for(ms)
        self.page.evaluate(KEPT)

    def connected(self, *, yes: bool) -> None:
        state = "CONNECTED" if yes else "DISCONNECTED"
        self.page.evaluate("s => document.querySelector('[data-testid=stApp]').dataset.testConnectionState = s", state)
        self.page.evaluate("no => document.querySelectorAll('textarea, button').forEach(e => e.disabled = no)", not yes)

    @property
    def kept(self) -> list[str]:
        """The addresses under which something is kept."""
        return list(self.page.evaluate(KEPT))

    @property
    def said(self) -> str:
        """The words of the bar."""
        bar = self.page.locator("#kept-words")
        return str(bar.inner_text()) if bar.count() else ""


@pytest.fixture
def stand(browser: Any) -> Iterator[Stand]:
    context = browser.new_context()
    yield Stand(context.new_page())
    context.close()


def test_words_are_kept_and_offered_again_until_the_record_has_them(stand):
    stand.hear()
    stand.area.fill(WORDS)
    stand.page.locator("input").nth(0).fill("0+40")
    stand.page.locator("input").nth(1).fill("green 42 pipe")
    stand.page.locator("#eye").fill("green 42 pipe")
    stand.pass_by(1000)
    assert stand.kept == [SEEN], "words alone: no station, and no code, not even while it is shown"
    assert stand.said == "", "the page has them still"
    stand.load_again()
    stand.hear()
    stand.hear((1, "A note.", WORDS))
    assert WORDS in stand.said, "what was written before is not what was typed now"
    stand.page.get_by_role("button", name="Put it back").click()
    assert stand.area.input_value() == WORDS
    stand.pass_by(1000)
    assert stand.said == ""
    stand.hear((2, "Released.", WORDS))
    assert (stand.kept, stand.said) == ([], "")


def test_words_are_kept_while_there_is_no_connection_and_thrown_away_when_asked(stand):
    stand.hear()
    stand.connected(yes=False)
    assert stand.area.is_enabled()
    assert stand.page.get_by_role("button", name="Release").is_disabled()
    stand.area.fill(WORDS)
    stand.pass_by(1000)
    assert stand.said == "No connection. What is typed is kept on this phone, and nothing is sent."
    stand.load_again()
    stand.hear()
    stand.page.get_by_role("button", name="Throw it away").click()
    stand.pass_by(1000)
    assert (stand.kept, stand.said) == ([], "")


def test_a_press_without_an_answer_is_looked_up_and_one_with_an_answer_is_not_spoken_of(stand):
    stand.hear()
    button = stand.page.get_by_role("button", name="Release")
    button.click()
    stand.hear()
    assert (stand.kept, stand.said) == ([], "")
    button.click()
    stand.pass_by(12_000)
    assert "Not known whether “Release” was heard" in stand.said
    stand.hear(times=1)
    assert "Release" not in stand.said, "one look may be older than the loss"
    stand.hear(times=1)
    assert "Not written down: “Release”" in stand.said
    stand.hear((2, "Sam Wirth released it.", ""))
    assert "On record since: Sam Wirth released it." in stand.said
    stand.page.get_by_role("button", name="I have read this").click()
    stand.pass_by(7000)
    assert (stand.kept, stand.said) == ([], "")
    button.click()
    stand.load_again()
    stand.hear((2, "Sam Wirth released it.", ""), (3, "Sam Wirth wrote a note.", ""))
    assert "On record since: Sam Wirth wrote a note." in stand.said, "the page was left before it was answered"


def test_nothing_is_kept_of_somebody_else_or_of_who_is_signed_out(stand):
    stand.hear()
    stand.area.fill(WORDS)
    stand.pass_by(1000)
    stand.load_again()
    stand.hear(who="lane/r-amsel")
    assert (stand.kept, stand.said) == ([], "")
    stand.area.fill(WORDS)
    stand.pass_by(1000)
    assert stand.kept == [SEEN]
    stand.status = 401
    stand.connected(yes=False)
    stand.pass_by(1000)
    stand.page.get_by_text("Nobody is signed in here any more").wait_for()
    stand.area.fill("More words of mine.")
    stand.pass_by(1000)
    assert stand.kept == []
