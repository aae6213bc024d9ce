"""The journal as JSON Lines, for people without this program, with what it takes to check it.

One JSON object a line: first whose journal it is, then the attached content (base64), then every entry in
order with its hash and signature, last an end with the number of entries and the SHA-256 of all lines
before it. The hash of an entry is the SHA-256 of {"at","body","by","number","previous","site"}, written as
JSON with its keys in this order, no spaces, UTF-8; `body` is the event written the same way, as text, just
as it is kept: with how its writer was known (`known_by`) where that was said.
"""

from __future__ import annotations

import base64
import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from sqlalchemy import select

from scheduler.findings import Finding
from scheduler.ledger.connecting import unusable
from scheduler.ledger.content import named_content
from scheduler.ledger.entry_body import canonical, chained
from scheduler.ledger.heads import Head, code_of, head_of
from scheduler.ledger.identity import JobName
from scheduler.ledger.journal_tables import ENTRIES, SIGNATURES
from scheduler.ledger.signing import is_signed
from scheduler.ledger.store import FIRST, Journal
from scheduler.ledger.verify import missed, missing_heads
from scheduler.whole_files import write_whole

FORMAT = "jointtrench-journal"


def export_lines(journal: Journal, job: JobName, to: Path) -> int:
    """Write a journal as JSON Lines; returns the number of entries. Raises BadInput when it cannot be read."""
    entries = journal.entries()
    with journal.reading() as connection:
        chosen = select(SIGNATURES).where(SIGNATURES.c.site == journal.site)
        kept_as = select(ENTRIES.c.number, ENTRIES.c.body).where(ENTRIES.c.site == journal.site)
        bodies = {r.number: json.loads(r.body) for r in connection.execute(kept_as)}
        signed = {r.number: {"key": r.key, "signature": r.signature} for r in connection.execute(chosen)}
    about = {"id": job.id, "name": job.name, "first_day": job.first_day.isoformat()}
    rows: list[Mapping[str, Any]] = [{"format": FORMAT, "version": 1, "job": about, "chain": journal.site}]
    for digest in dict.fromkeys(filter(None, (named_content(e.event) for e in entries))):
        kept = journal.attachment(digest)
        if kept is not None:
            rows.append({"content": digest, "media": kept.media, "base64": base64.b64encode(kept.content).decode()})
    for entry in entries:
        said = {"entry": entry.number, "at": entry.at.isoformat(), "by": entry.by, "previous": entry.previous}
        rows.append({**said, "event": bodies[entry.number], "hash": entry.hash, **signed.get(entry.number, {})})
    text = "".join(canonical(row) + "\n" for row in rows)
    end = {
        "end": len(entries),
        "head": str(head_of(entries) or ""),
        "sha256": hashlib.sha256(text.encode()).hexdigest(),
    }
    write_whole(to, text + canonical(end) + "\n")
    return len(entries)


def check_lines(path: Path, *, heads: Sequence[Head | str] = (), keys: Sequence[str] = ()) -> list[Finding]:
    """Return everything that is wrong with an exported journal, each with its line; see `verify` for the two lists."""
    try:
        return list(_faults(path, heads, keys))
    except (OSError, UnicodeDecodeError) as error:
        raise unusable("lines/file", str(path), f"cannot be read: {error}") from None


def _faults(path: Path, heads: Sequence[Head | str], keys: Sequence[str]) -> Iterator[Finding]:
    lines = path.read_bytes().decode("utf-8").splitlines(keepends=True)
    rows = []
    for number, line in enumerate(lines, 1):
        try:
            row = json.loads(line)
            if not isinstance(row, dict):
                raise ValueError(line)
        except ValueError:
            yield _at(path, number, "is no JSON object")
            row = {}
        rows.append(row)
    if not rows or rows[0].get("format") != FORMAT or rows[0].get("version") != 1:
        yield _at(path, 1, "does not begin a journal of version 1 as JSON Lines")
        return
    end = rows[-1]
    digest = hashlib.sha256("".join(lines[:-1]).encode()).hexdigest()
    if "end" not in end:
        yield _at(path, len(rows), "is no end: the file was cut off")
    elif end.get("sha256") != digest:
        yield _at(path, len(rows), "gives another SHA-256 than the lines before it have")
    hashes: dict[int, str] = {}
    yield from _entries(path, str(rows[0].get("chain", "")), rows, hashes, keys)
    if "end" in end and end["end"] != len(hashes):
        yield _at(path, len(rows), f"counts {end['end']} entries; there are {len(hashes)}")
    elif "end" in end and end.get("head") != _head(hashes):
        yield _at(path, len(rows), "gives another head than the last entry has")
    yield from (missed(head, hashes) for head in missing_heads(heads, hashes))


def _entries(
    path: Path, chain: str, rows: Sequence[Mapping[str, Any]], hashes: dict[int, str], keys: Sequence[str]
) -> Iterator[Finding]:
    previous, due, vouched = FIRST, 1, 0
    for line, row in enumerate(rows, 1):
        if "content" in row:
            yield from _content(path, line, row)
        if "entry" not in row:
            continue
        said = {"site": chain, "number": row["entry"], "at": row.get("at"), "by": row.get("by")}
        said |= {"body": canonical(row.get("event")), "previous": row.get("previous")}
        if row["entry"] != due:
            yield _at(path, line, f"is entry {row['entry']}; entry {due} is due here")
        elif chained(said) != row.get("hash"):
            yield _at(path, line, f"is not what was written as entry {due}")
        elif row.get("previous") != previous:
            yield _at(path, line, f"does not follow from entry {due - 1}")
        if "signature" in row:
            if not is_signed(str(row.get("key")), str(row["signature"]), chain, due, str(row.get("hash"))):
                yield _at(path, line, f"is not what was signed as entry {due}")
            elif row.get("key") in keys:
                vouched = due
        previous = str(row.get("hash"))
        hashes[due] = previous
        due += 1
    if keys and vouched < due - 1:
        yield _at(path, len(rows), f"entries after {vouched} carry no signature by a key that you named")


def _head(hashes: dict[int, str]) -> str:
    last = max(hashes, default=0)
    try:
        return str(Head(last, code_of(hashes[last]))) if last else ""
    except ValueError:  # what stands there is no hash
        return ""


def _content(path: Path, line: int, row: Mapping[str, Any]) -> Iterator[Finding]:
    try:
        content = base64.b64decode(str(row.get("base64")), validate=True)
    except ValueError:
        content = b""
    if hashlib.sha256(content).hexdigest() != row["content"]:
        yield _at(path, line, "is not the content that was attached")


def _at(path: Path, line: int, words: str) -> Finding:
    (finding,) = unusable("lines/fault", f"{path.name}:{line}", words).findings
    return finding
