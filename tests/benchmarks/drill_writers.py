"""Writers for drills: processes that append to a journal and say what they were told of every entry."""

from __future__ import annotations

import os
import signal
import time
from contextlib import suppress
from dataclasses import dataclass, field

from scheduler.errors import BadInput
from scheduler.ledger.heads import code_of
from scheduler.ledger.store import Entry, Journal
from tests.journals import started


@dataclass
class Told:
    """What writers were told: acknowledged entries, those called not written, and those called unknown."""

    acknowledged: set[tuple[int, str]] = field(default_factory=set)
    denied: set[tuple[int, str]] = field(default_factory=set)
    unknown: set[tuple[int, str]] = field(default_factory=set)
    refused: int = 0
    """Refusals before anything was tried: no connection, no turn, no disk."""

    def add(self, lines: str) -> None:
        """Add what whole lines say; one cut short by a kill was told to nobody."""
        for line in lines.splitlines(keepends=True):
            if not line.endswith("\n"):
                continue
            what, number, code = line.split()
            if what == "refused":
                self.refused += 1
            else:
                {"yes": self.acknowledged, "no": self.denied, "unknown": self.unknown}[what].add((int(number), code))

    def judged(self, entries: tuple[Entry, ...]) -> tuple[int, int]:
        """Return how many acknowledged entries a journal has lost, and how many it holds that were denied."""
        there = {(e.number, code_of(e.hash)) for e in entries}
        return len(self.acknowledged - there), len(self.denied & there)


class Writer:
    """A forked process that appends until it is stopped."""

    def __init__(self, where: str, site: str, *, pause: float = 0.0, user: int = 0) -> None:
        self._read, write = os.pipe()
        self.pid = os.fork()
        if self.pid == 0:
            try:
                os.close(self._read)
                if user:
                    os.setuid(user)
                _append(where, site, write, pause)
            finally:  # whatever happens, it never goes on as its parent
                os._exit(0)
        os.close(write)
        os.set_blocking(self._read, False)
        self._text = ""

    def heard(self) -> str:
        """Return all that it has said until now."""
        with suppress(BlockingIOError):
            while piece := os.read(self._read, 65536):
                self._text += piece.decode()
        return self._text

    def first_word(self, seconds: float = 60.0) -> bool:
        """Wait until it has said something; False when it does not in time."""
        end = time.monotonic() + seconds
        while not self.heard():
            if time.monotonic() > end:
                return False
            time.sleep(0.002)
        return True

    def end(self, how: int = signal.SIGKILL) -> str:
        """End it and return all that it said."""
        with suppress(ProcessLookupError):
            os.kill(self.pid, how)
        os.waitpid(self.pid, 0)
        os.set_blocking(self._read, True)
        text = self.heard()
        os.close(self._read)
        return text


def _append(where: str, site: str, out: int, pause: float) -> None:
    signal.signal(signal.SIGTERM, lambda *_: os._exit(0))
    journal: Journal | None = None
    while True:
        try:
            journal = journal or Journal.open(where, site=site, make=False)
            entry = journal.append(started(os.getpid()), by=f"writer {os.getpid()}")
            line = f"yes {entry.number} {code_of(entry.hash)}"
        except BadInput as bad:
            line = _said(bad)
            time.sleep(0.05)
        os.write(out, f"{line}\n".encode())
        if pause:
            time.sleep(pause)


def _said(bad: BadInput) -> str:
    """Return a refusal in one line; `Entry 57 (7F3K-9QXD-M2TA)` names the entry that it is about."""
    finding = bad.findings[0]
    what = {"journal/not-written": "no", "journal/unknown": "unknown"}.get(finding.rule)
    if what is None:
        return "refused 0 -"
    _, number, code = finding.where.split()
    return f"{what} {number} {code.strip('()')}"
