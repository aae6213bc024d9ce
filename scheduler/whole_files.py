"""Writing whole files: whoever reads one sees the old file or the new one, never half of it."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path


def write_new(path: Path, content: str | bytes) -> None:
    """Write a file that is not there yet, text as UTF-8; raises FileExistsError when there is one."""
    path.touch(exist_ok=False)
    try:
        write_whole(path, content)
    except BaseException:
        path.unlink(missing_ok=True)
        raise


def write_whole(path: Path, content: str | bytes) -> None:
    """Write a file aside and move it into its place; text is written as UTF-8."""
    mode = path.stat().st_mode & 0o777 if path.exists() else 0o644
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as stream:
            stream.write(content.encode("utf-8") if isinstance(content, str) else content)
            stream.flush()
            os.fsync(stream.fileno())
        os.chmod(name, mode)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
