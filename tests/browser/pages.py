"""Browser pages in which one test after another opens the dashboard."""

from __future__ import annotations

from typing import Any

from playwright.sync_api import Browser, Error, Page

from tests.browser import in_page

TOUCH_PX = 500
"""Narrower screens are phones, worked by touch."""
FORGET = "() => { localStorage.clear(); sessionStorage.clear(); }"


class Pages:
    """Lends pages, each to one user of the dashboard at a time.

    The dashboard loads into a new browser context with two to three times the work of opening it again where it
    has been, so pages are lent again. Whoever opens it anew is somebody new to the server; what the page itself
    could remember is forgotten.
    """

    def __init__(self, browser: Browser) -> None:
        self._browser = browser
        self._free: dict[bool, list[Page]] = {True: [], False: []}
        self._lent: dict[Page, bool] = {}

    def lend(self, *, width: int, scheme: Any) -> Page:
        """Return an empty page of a width, in light or dark."""
        touch = width < TOUCH_PX
        page = self._free[touch].pop() if self._free[touch] else self._new(touch)
        page.set_viewport_size({"width": width, "height": 900})
        page.emulate_media(color_scheme=scheme)
        self._lent[page] = touch
        return page

    def _new(self, touch: bool) -> Page:
        page = self._browser.new_context(has_touch=touch).new_page()
        page.add_init_script(in_page.COUNT_RUNS)
        return page

    def take_back(self, page: Page) -> None:
        """Empty a page for the next user; close one that cannot be emptied."""
        touch = self._lent.pop(page)
        try:
            page.evaluate(FORGET)
            page.goto("about:blank")
            page.context.clear_cookies()
        except Error:
            page.context.close()
        else:
            self._free[touch].append(page)
