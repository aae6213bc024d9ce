"""Writing a site file: it reads back equal, and a person's comments and order stay."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from itertools import takewhile
from pathlib import Path
from typing import Any

from scheduler.site.yamlwriting import whole


def written_anew(data: Mapping[str, Any], original: str) -> str:
    """Return plain data as the text of a new file, under the comments at the head of the original."""
    head = takewhile(lambda line: line.lstrip().startswith("#"), original.splitlines(keepends=True))
    return "".join(head) + whole(data)


def write_whole(path: Path, text: str) -> None:
    """Write a text file so that no reader ever sees half of it."""
    mode = path.stat().st_mode & 0o777 if path.exists() else 0o644
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(text.encode("utf-8"))
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, mode)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
