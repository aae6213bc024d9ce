"""What a user does at the dashboard, in the words on its screen."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from playwright.sync_api import TimeoutError

from tests.browser import in_page

PATHS = {
    "Today": "",
    "Record": "record",
    "Delays": "delays",
    "Schedule": "schedule",
    "Critical path": "critical-path",
    "Visits and holds": "inspections",
    "Trench": "trench",
    "Conflicts": "conflicts",
    "Paper and calendars": "paper",
}
SENT_MS = 500
"""Within which the page has begun to answer what was done, also on a machine that does other things."""
PATIENCE_MS = 120_000
"""Far above what any step takes; a machine that does other things must not fail a test of content."""
LOST_MS = 20_000
"""After which a tap on a link counts as lost."""
LOOK_MS = 50
"""How often the page is asked whether it is at rest; at every frame, as usual, a large page is busy with the asking."""
TALLEST_PX = 6000
NARROW_PX = 768
"""Narrower screens have the pages as links on the page itself."""


class Dashboard:
    """One browser page with the dashboard on it."""

    def __init__(self, page: Any, address: str, screenshots: Path | None = None) -> None:
        self.page, self.address, self._screenshots = page, address, screenshots
        self.faults: list[str] = []
        self.asked: list[str] = []
        page.set_default_timeout(PATIENCE_MS)
        page.on("pageerror", self._failed)
        page.on("request", self._requested)

    def leave(self) -> None:
        """Listen to the page no more."""
        self.page.remove_listener("pageerror", self._failed)
        self.page.remove_listener("request", self._requested)

    def _failed(self, error: object) -> None:
        self.faults.append(str(error))

    def _requested(self, request: Any) -> None:
        self.asked.append(request.url)

    def open(self, name: str = "Today", **query: str) -> Dashboard:
        """Open a page by its address and wait until it shows."""
        tail = f"?{urlencode(query)}" if query else ""
        self.page.goto(f"{self.address}/{PATHS[name]}{tail}")
        return self.shown()

    def go(self, name: str) -> float:
        """Go to a page by its link; return the seconds until it shows."""
        narrow = self.page.viewport_size["width"] < NARROW_PX
        links = self.page.get_by_test_id("stMain" if narrow else "stHeader").get_by_role("link", name=name, exact=True)
        began = time.monotonic()
        links.click()
        try:
            self.page.wait_for_function(in_page.ON_PAGE, arg=f"/{PATHS[name]}", timeout=LOST_MS)
        except TimeoutError:  # lost while a plan that was found had the page drawn anew; people tap again
            links.click()
            self.page.wait_for_function(in_page.ON_PAGE, arg=f"/{PATHS[name]}")
        self.shown()
        return time.monotonic() - began

    def shown(self) -> Dashboard:
        """Wait until the page is at rest: script ended, nothing loading, every figure drawn."""
        self.page.wait_for_function(in_page.AT_REST, polling=LOOK_MS)
        return self

    def settled(self) -> Dashboard:
        """Wait until what was done last has been answered and its page drawn anew."""
        with suppress(TimeoutError):  # not everything that is done asks for an answer
            self.page.wait_for_function(in_page.ANSWERING, timeout=SENT_MS, polling=LOOK_MS)
        self.shown()
        self.page.wait_for_function(in_page.NOTHING_STALE, polling=LOOK_MS)
        return self

    def planned(self) -> Dashboard:
        """Wait until all that will be known of the plan is known."""
        for words in ("Still looking", "Being worked out", "Finding the best sequence"):
            self.page.get_by_text(words).first.wait_for(state="detached")
        return self.shown()

    def text(self) -> str:
        """Return the words on the page, without the sidebar."""
        return str(self.page.get_by_test_id("stMain").inner_text())

    def reads(self, words: str | re.Pattern[str]) -> None:
        """Wait until words are on the page."""
        self.page.get_by_test_id("stMain").get_by_text(words).first.wait_for()

    def unfold(self, title: str) -> None:
        """Open what is folded under a title that begins so."""
        self.page.locator("summary", has_text=title).first.click()
        self.settled()

    def pick(self, label: str, value: str) -> None:
        """Choose an entry of a list by typing it."""
        box = self.page.get_by_role("combobox", name=label)
        box.click()
        box.fill(value)
        self.page.get_by_role("option", name=value).first.click()
        self.settled()

    def upload(self, file: Path) -> None:
        """Open a site file from disk."""
        self.page.locator("[data-testid=stFileUploader] input[type=file]").set_input_files(file)

    def overflow_px(self) -> int:
        """Return by how much the page is wider than the screen."""
        return int(self.page.evaluate(in_page.OVERFLOW))

    def exceptions(self) -> int:
        """Return how many tracebacks stand on the page."""
        return int(self.page.get_by_test_id("stException").count())

    def in_light_and_dark(self) -> Iterator[str]:
        """Show what is loaded in one scheme, then in the other, as a reader's screen may turn at any time."""
        dark = bool(self.page.evaluate(in_page.IS_DARK))
        for scheme in ("dark", "light") if dark else ("light", "dark"):
            self.page.emulate_media(color_scheme=scheme)
            self.page.wait_for_function(in_page.SCHEME_IS, arg=scheme)
            self.shown()
            yield scheme

    def photograph(self, name: str) -> None:
        """Keep a picture of the whole page, where pictures are wanted."""
        if self._screenshots is None:
            return
        self._screenshots.mkdir(exist_ok=True)
        size = self.page.viewport_size
        height = min(TALLEST_PX, int(self.page.evaluate(in_page.HEIGHT)) + 20)
        self.page.set_viewport_size({"width": size["width"], "height": height})
        self.page.wait_for_timeout(250)
        self.page.screenshot(path=self._screenshots / f"{name}.png", timeout=PATIENCE_MS)
        self.page.set_viewport_size(size)
