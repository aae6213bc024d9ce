"""The kinds of work of the job's own people, as a site file names them."""

from __future__ import annotations

from typing import Literal

WorkKind = Literal[
    "surface cut",
    "pothole",
    "dig",
    "protect",
    "bed",
    "lay",
    "set structure",
    "join",
    "test",
    "shade",
    "ribbon",
    "fill",
    "compaction test",
    "restore surface",
    "prove",
    "pull",
    "site work",
    "check",
]
"""As plans name them."""
