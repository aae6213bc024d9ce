"""Random cases in slices: some with every run of the suite, the rest when long measurements are asked for by name."""

from __future__ import annotations

from typing import Any

import pytest


def slices(start: int, stop: int, step: int, *, kept: int) -> list[Any]:
    """Return the first seed of each slice, as parameters of a test; all but the first `kept` need `-m benchmark`."""
    firsts = range(start, stop, step)
    return [n if i < kept else pytest.param(n, marks=pytest.mark.benchmark) for i, n in enumerate(firsts)]
