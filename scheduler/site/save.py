"""Writing a site file: it reads back equal, and a person's comments and order stay."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Mapping
from itertools import takewhile
from pathlib import Path
from typing import Any

from scheduler.errors import BadInput
from scheduler.site.files import read_site
from scheduler.site.model import Site
from scheduler.site.patching import patched
from scheduler.site.yamlwriting import whole


def save_site(site: Site, path: Path, *, original: str | None = None) -> None:
    """Write a site file in one step: whoever reads it sees the old file or the new one.

    `original` is the text the site was read from: what did not change stays as it stands
    there. Raises BadInput when the site would be refused on reading, and writes nothing.
    """
    write_whole(path, site_text(site, file=str(path), original=original))


def site_text(site: Site, *, file: str, original: str | None = None) -> str:
    """Return the text of a site file that reads back as `site`; see `save_site`."""
    changed = _changed(site, original, file) if original is not None else None
    if changed is not None:
        return changed
    text = written_anew({"format": site.format} | _data(site, brief=True), original or "")
    if read_site(text, file=file) != site:
        raise AssertionError("a written site does not read back equal")  # a defect of ours, never of the input
    return text


def written_anew(data: Mapping[str, Any], original: str) -> str:
    """Return plain data as the text of a new file, under the comments at the head of the original."""
    head = takewhile(lambda line: line.lstrip().startswith("#"), original.splitlines(keepends=True))
    return "".join(head) + whole(data)


def _changed(site: Site, original: str, file: str) -> str | None:
    """Return the original changed to say `site`, or None where that cannot be done."""
    try:
        before = read_site(original, file=file)
    except BadInput:
        return None
    if before == site:
        return original
    text = original.removeprefix("\ufeff")
    text = patched(text, old=_data(before), new=_data(site), brief=_data(site, brief=True))
    try:
        return text if read_site(text, file=file) == site else None
    except BadInput:
        return None  # values shared by reference cannot be changed one by one; or the site itself is at fault


def _data(site: Site, *, brief: bool = False) -> dict[str, Any]:
    """Return a site as written: stations as text, keys as in the file; `brief` leaves defaults out."""
    return site.model_dump(mode="json", by_alias=True, exclude_defaults=brief)


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
