"""The order in which files of tests are handed out when several processes share them."""

from __future__ import annotations

from itertools import count

import pytest

LONGEST_FIRST = {folder: place for place, folder in enumerate(("browser", "property", "known_results"))}

_homes = count(1)


@pytest.fixture(autouse=True)
def _home(tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch) -> None:
    """Give every test a folder of its own in place of the user's; it is made when something is kept in it."""
    monkeypatch.setenv("JOINTTRENCH_HOME", str(tmp_path_factory.getbasetemp() / f"home-{next(_homes)}"))


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the switch for pictures, which are a fifth of the work of the pages photographed, and which no test reads."""
    parser.addoption("--photographs", action="store_true", help="keep pictures of pages in tests/browser/screenshots/")


def pytest_configure(config: pytest.Config) -> None:
    """Hand files out in the order below instead of by how many tests they hold, so that no core idles at the end."""
    if hasattr(config.option, "loadscopereorder"):
        config.option.loadscopereorder = False


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the folders whose files take longest."""
    items.sort(key=lambda item: LONGEST_FIRST.get(item.path.parent.name, len(LONGEST_FIRST)))
