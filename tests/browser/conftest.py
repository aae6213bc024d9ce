"""The real dashboard in the system's Chromium: one server a session, a fresh browser context a test."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.browser.dashboard import Dashboard

SCREENSHOTS = Path(__file__).parent / "screenshots"
NAMES = ("chromium", "chromium-browser", "google-chrome")
SWITCHES = ("--no-sandbox", "--disable-gpu", "--disable-background-networking", "--disable-sync", "--no-first-run")
SERVER_UP_S = 60.0


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark everything here, so that it can be left out."""
    for item in items:
        if Path(__file__).parent in item.path.parents:
            item.add_marker(pytest.mark.browser)


@pytest.fixture(scope="session")
def chromium() -> str:
    """Return the path of the browser; without one, skip here and fail in CI."""
    found = os.environ.get("CHROMIUM") or next((p for p in map(shutil.which, NAMES) if p), None)
    if not found:
        say = pytest.fail if os.environ.get("CI") else pytest.skip
        say("No Chromium on this machine: install Debian's `chromium`, or name one in CHROMIUM.")
    return found


@pytest.fixture(scope="session")
def journals(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the folder in which the server keeps every journal."""
    return tmp_path_factory.mktemp("journals")


@pytest.fixture(scope="session")
def address(chromium: str, journals: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Start `jointtrench app` as a user does, and return its address."""
    with socket.socket() as probe:
        probe.bind(("localhost", 0))
        port = probe.getsockname()[1]
    command = [str(Path(sys.executable).with_name("jointtrench")), "app", "--port", str(port), "--no-browser"]
    log = tmp_path_factory.mktemp("server") / "log.txt"
    environment = {**os.environ, "JOINTTRENCH_JOURNAL": str(journals)}
    with log.open("w") as out:
        server = subprocess.Popen(
            command, stdout=out, stderr=subprocess.STDOUT, start_new_session=True, env=environment
        )
    base = f"http://localhost:{port}"
    try:
        _await(base, server, log)
        yield base
    finally:
        os.killpg(server.pid, signal.SIGTERM)
        server.wait(timeout=20)


def _await(base: str, server: subprocess.Popen[bytes], log: Path) -> None:
    end = time.monotonic() + SERVER_UP_S
    while time.monotonic() < end and server.poll() is None:
        try:
            with urllib.request.urlopen(f"{base}/_stcore/health", timeout=2):
                return
        except OSError:
            time.sleep(0.1)
    pytest.fail(f"The server did not come up:\n{log.read_text()}")


@pytest.fixture(scope="session")
def browser(chromium: str) -> Iterator[object]:
    """Return one browser for all tests."""
    sync_api = pytest.importorskip("playwright.sync_api")
    with sync_api.sync_playwright() as playwright:
        running = playwright.chromium.launch(executable_path=chromium, args=list(SWITCHES))
        yield running
        running.close()


@pytest.fixture
def visit(browser: object, address: str) -> Iterator[Callable[..., Dashboard]]:
    """Return a way to open the dashboard as somebody new, at a width and in light or dark."""
    contexts = []

    def opened(*, width: int = 1440, scheme: str = "light") -> Dashboard:
        context = browser.new_context(  # type: ignore[attr-defined]
            viewport={"width": width, "height": 900}, color_scheme=scheme, has_touch=width < 500
        )
        contexts.append(context)
        return Dashboard(context.new_page(), address, SCREENSHOTS)

    yield opened
    for context in contexts:
        context.close()


@pytest.fixture
def dashboard(visit: Callable[..., Dashboard]) -> Dashboard:
    """Return the dashboard on a desktop, nothing opened yet."""
    return visit()
