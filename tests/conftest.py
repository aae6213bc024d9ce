"""The order in which files of tests are handed out when several processes share them."""

from __future__ import annotations

import pytest

LONGEST_FIRST = {folder: place for place, folder in enumerate(("browser", "property", "known_results"))}


def pytest_configure(config: pytest.Config) -> None:
    """Hand files out in the order below instead of by how many tests they hold, so that no core idles at the end."""
    if hasattr(config.option, "loadscopereorder"):
        config.option.loadscopereorder = False


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the folders whose files take longest."""
    items.sort(key=lambda item: LONGEST_FIRST.get(item.path.parent.name, len(LONGEST_FIRST)))
