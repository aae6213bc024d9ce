"""Writing a site file: it reads back equal, and a person's comments and order stay."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import takewhile
from typing import Any

from scheduler.site.yamlwriting import whole


def written_anew(data: Mapping[str, Any], original: str) -> str:
    """Return plain data as the text of a new file, under the comments at the head of the original."""
    head = takewhile(lambda line: line.lstrip().startswith("#"), original.splitlines(keepends=True))
    return "".join(head) + whole(data)
