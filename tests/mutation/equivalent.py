"""Faults that change nothing anybody can see, each with the reason; they are left out of the score."""

from __future__ import annotations

EQUIVALENT: dict[tuple[str, str, str], str] = {}
"""By source file, changed line and what it was changed to."""
