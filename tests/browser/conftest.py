"""The real dashboard in the system's Chromium: one server a session, a page of its own a test."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.browser.dashboard import Dashboard
from tests.browser.serving import SWITCHES, find_chromium, serve

SCREENSHOTS = Path(__file__).parent / "screenshots"
SHORT_LIVES = "--js-flags=--no-opt"
"""Pages here are left before optimised code pays for its compiling, which took up to half of their work (measured)."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark everything here, so that it can be left out."""
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def chromium() -> str:
    """Return the path of the browser; without one, skip here and fail in CI."""
    found = find_chromium()
    if not found:
        say = pytest.fail if os.environ.get("CI") else pytest.skip
        say("No Chromium on this machine: install Debian's `chromium`, or name one in CHROMIUM.")
    return found


@pytest.fixture(scope="session")
def served(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder in which the server keeps its journals and its log."""
    return tmp_path_factory.mktemp("served")


@pytest.fixture(scope="session")
def journals(served: Path) -> Path:
    """Return the folder in which the server keeps every journal."""
    return served / "journals"


@pytest.fixture(scope="session")
def address(chromium: str, served: Path) -> Iterator[str]:
    """Start `jointtrench app` as a user does, and return its address."""
    with serve(served) as base:
        yield base


@pytest.fixture(scope="session")
def browser(chromium: str) -> Iterator[object]:
    """Return one browser for all tests."""
    sync_api = pytest.importorskip("playwright.sync_api")
    with sync_api.sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=chromium, args=[*SWITCHES, SHORT_LIVES])
        yield running
        running.close()


@pytest.fixture(scope="session")
def pages(browser: object) -> object:
    """Return the pages in which one test after another opens the dashboard."""
    from tests.browser.pages import Pages

    return Pages(browser)


@pytest.fixture
def visit(pages: Any, address: str, request: pytest.FixtureRequest) -> Iterator[Callable[..., Dashboard]]:
    """Return a way to open the dashboard as somebody new, at a width and in light or dark."""
    visits = []
    screenshots = SCREENSHOTS if request.config.getoption("--photographs") else None

    def opened(*, width: int = 1440, scheme: str = "light") -> Dashboard:
        visits.append(Dashboard(pages.lend(width=width, scheme=scheme), address, screenshots))
        return visits[-1]

    yield opened
    for dashboard in visits:
        dashboard.leave()
        pages.take_back(dashboard.page)


@pytest.fixture
def dashboard(visit: Callable[..., Dashboard]) -> Dashboard:
    """Return the dashboard on a desktop, nothing opened yet."""
    return visit()


@pytest.fixture
def phone(browser: object, site: Any) -> Iterator[Callable[..., Any]]:
    """Return a way to take out a phone that nobody has used, for the served `site` of the tests that ask."""
    from tests.browser.served_phones import Phone

    taken: list[Phone] = []

    def take(**how: int) -> Phone:
        taken.append(Phone(browser, site, **how))
        return taken[-1]

    yield take
    for one in taken:
        one.close()
