"""Damage and tampering by the thousand: what `verify` finds with nothing at hand, with a head, and with a public key.

    python -m tests.benchmarks.ledger_tampering [--cases 3000] [--entries 40] [--seed 1]

Each case spoils a fresh copy of one signed journal: a bit flipped, the file cut, a row edited or removed, rows
added, an entry rewritten with every later hash and seal made anew (and signed by another key), the end cut off with
its seals. A case whose journal still says every word of what was written is harmless. Exit code 1 when a case that
is not harmless stays hidden from somebody with a head of the end and the key, or ends in a traceback.
"""

from __future__ import annotations

import argparse
import os
import shutil
import sqlite3
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from random import Random

from scheduler.errors import BadInput
from scheduler.findings import Finding
from scheduler.ledger.heads import Head, head_of
from scheduler.ledger.signing import Key, own_signer
from scheduler.ledger.store import Entry, Journal
from scheduler.ledger.verify import verify
from tests.journals import filled, guarded_again, photo, rewritten, unguarded

TABLES = ("journal_entries", "journal_seals", "journal_signatures")
COLUMNS = ("site", "number", "at", "by", "body", "previous", "hash")


class Spoiling:
    """One signed journal, and ways to spoil a copy of it."""

    def __init__(self, folder: Path, entries: int) -> None:
        os.environ["JOINTTRENCH_HOME"] = str(folder / "forger")
        self.forger = own_signer()
        os.environ["JOINTTRENCH_HOME"] = str(folder / "home")
        self.key: Key = own_signer()
        self.sound, self.copy = folder / "sound.db", folder / "copy.db"
        with closing(Journal.open(self.sound)) as journal:
            journal.signer = self.key
            journal.attach(photo())
            filled(journal, entries)
            self.entries: tuple[Entry, ...] = journal.entries()
        self.content = self.sound.read_bytes()
        self.ways: dict[str, Callable[[Random], None]] = {
            "bit flipped": self._flip,
            "file cut": self._cut_file,
            "row edited": self._edit,
            "row removed": self._remove,
            "row added": self._add,
            "rewritten, chained anew": lambda rng: self._rewrite(rng, None),
            "rewritten, signed by another": lambda rng: self._rewrite(rng, self.forger),
            "end cut off with its seals": self._cut_end,
        }

    def spoil(self, way: str, rng: Random) -> None:
        """Make a fresh copy and spoil it."""
        for tail in ("-wal", "-shm"):
            Path(f"{self.copy}{tail}").unlink(missing_ok=True)
        shutil.copyfile(self.sound, self.copy)
        self.ways[way](rng)

    def found(self, heads: list[Head], keys: list[str]) -> list[Finding]:
        """Return what is found in the copy."""
        try:
            with closing(Journal.open(self.copy, make=False)) as journal:
                return verify(journal, heads=heads, keys=keys)
        except BadInput as bad:
            return list(bad.findings)

    def harmless(self) -> bool:
        """Tell whether the copy still says every word of what was written, and keeps its photo."""
        try:
            with closing(Journal.open(self.copy, make=False)) as journal, journal.reading() as connection:
                photos = connection.exec_driver_sql("SELECT content FROM journal_attachments").scalars().all()
                return journal.entries() == self.entries and photos == [photo()]
        except (BadInput, sqlite3.Error):
            return False

    def _flip(self, rng: Random) -> None:
        content = bytearray(self.content)
        content[rng.randrange(len(content))] ^= 1 << rng.randrange(8)
        self.copy.write_bytes(content)

    def _cut_file(self, rng: Random) -> None:
        self.copy.write_bytes(self.content[: rng.randrange(len(self.content))])

    def _changed(self, change: Callable[[sqlite3.Connection], object]) -> None:
        raw = unguarded(self.copy)
        raw.execute("PRAGMA ignore_check_constraints = 1")
        change(raw)
        guarded_again(raw)
        raw.close()

    def _edit(self, rng: Random) -> None:
        number, column = rng.randrange(1, len(self.entries) + 1), rng.choice(COLUMNS)
        value = 900 if column == "number" else "somebody else"
        sql = f'UPDATE journal_entries SET "{column}" = ? WHERE number = ?'
        self._changed(lambda raw: raw.execute(sql, (value, number)))

    def _remove(self, rng: Random) -> None:
        table, number = rng.choice(TABLES), rng.randrange(1, len(self.entries) + 1)
        self._changed(lambda raw: raw.execute(f"DELETE FROM {table} WHERE number = {number}"))

    def _add(self, rng: Random) -> None:
        number = rng.choice([len(self.entries) + 1, 500])
        site = rng.choice(["", "another"])
        row = (site, number, "2027-03-09T00:00:00+00:00", "me", "{}", "0" * 64, "1" * 64)
        self._changed(lambda raw: raw.execute("INSERT INTO journal_entries VALUES (?,?,?,?,?,?,?)", row))

    def _rewrite(self, rng: Random, signer: Key | None) -> None:
        number = rng.randrange(1, len(self.entries) + 1)
        self._changed(lambda raw: rewritten(raw, "", number, signer))

    def _cut_end(self, rng: Random) -> None:
        last = rng.randrange(0, len(self.entries))
        self._changed(lambda raw: [raw.execute(f"DELETE FROM {t} WHERE number > {last}") for t in TABLES])


def tampering(folder: Path, *, cases: int, entries: int, seed: int) -> bool:
    """Spoil a journal again and again; print what is found with what at hand; returns whether all was, with both."""
    rng, spoiling = Random(seed), Spoiling(folder, entries)
    head = head_of(spoiling.entries)
    assert head is not None
    hands = {"nothing": ([], []), "a head": ([head], []), "a key": ([], [spoiling.key.public])}
    hands["both"] = ([head], [spoiling.key.public])
    counts: dict[str, Counter[str]] = {way: Counter() for way in spoiling.ways}
    for case in range(cases):
        way = list(spoiling.ways)[case % len(spoiling.ways)]
        spoiling.spoil(way, rng)
        count = counts[way]
        count["cases"] += 1
        seen = {name: spoiling.found(list(h), list(k)) for name, (h, k) in hands.items()}
        for name, found in seen.items():
            count[name] += bool(found)
        if not seen["both"]:
            count["harmless" if spoiling.harmless() else "hidden"] += 1
        elif any(not f.where for f in seen["both"]):
            count["without a place"] += 1
    names = ["cases", *hands, "harmless", "hidden", "without a place"]
    print(f"{'':32}" + "".join(f"{name:>16}" for name in names))
    for way, count in counts.items():
        print(f"{way:32}" + "".join(f"{count[name]:16}" for name in names))
    return not any(c["hidden"] or c["without a place"] for c in counts.values())


def main() -> int:
    """Run it."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--cases", type=int, default=3000)
    parser.add_argument("--entries", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        return 0 if tampering(Path(folder), cases=asked.cases, entries=asked.entries, seed=asked.seed) else 1


if __name__ == "__main__":
    sys.exit(main())
