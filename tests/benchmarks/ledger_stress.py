"""Stress the journal: writers and readers at once for a while, and writers killed in the middle of writes.

    python -m tests.benchmarks.ledger_stress [--seconds 60] [--writers 12] [--readers 2] [--kills 200] [--database URL]

Without `--database` it uses a SQLite file in a temporary folder. It prints one line for each part and ends
with exit code 1 if anything acknowledged is missing or the chain does not verify.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import statistics
import subprocess
import sys
import tempfile
import time
import uuid
from pathlib import Path

from scheduler.ledger.store import Journal
from scheduler.ledger.verify import verify
from tests.journals import started

ROOT = Path(__file__).parents[2]


def write(where: str, site: str, seconds: float) -> None:
    """Append until the time is up; say each entry's number, hash and latency once it is acknowledged."""
    journal = Journal.open(where, site=site)
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        before = time.monotonic()
        entry = journal.append(started(os.getpid()), by=f"writer {os.getpid()}")
        print(entry.number, entry.hash, f"{time.monotonic() - before:.4f}", flush=True)


def read(where: str, site: str, seconds: float) -> None:
    """Read the whole journal over and over; say how long each reading of an entry count took."""
    journal = Journal.open(where, site=site)
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        before = time.monotonic()
        entries = journal.entries()
        numbers = [e.number for e in entries]
        if numbers != list(range(1, len(numbers) + 1)):
            raise SystemExit("a reader saw a gap")
        print(len(entries), "-", f"{time.monotonic() - before:.4f}", flush=True)
        time.sleep(0.5)


def run(role: str, where: str, site: str, seconds: float) -> subprocess.Popen[str]:
    """Start a writer or reader as a process of its own."""
    command = [sys.executable, "-m", "tests.benchmarks.ledger_stress", "--as", role, "--database", where]
    return subprocess.Popen(
        [*command, "--site", site, "--seconds", str(seconds)], stdout=subprocess.PIPE, text=True, cwd=ROOT
    )


def rows(out: str) -> list[tuple[int, str, float]]:
    """Return what whole lines of a process say; a line cut short by a kill was acknowledged to nobody."""
    whole = [line.split() for line in out.splitlines(keepends=True) if line.endswith("\n")]
    return [(int(n), digest, float(took)) for n, digest, took in whole]


def missing(journal: Journal, said: set[tuple[int, str]]) -> int:
    """Return how many acknowledged entries the journal does not hold."""
    return len(said - {(e.number, e.hash) for e in journal.entries()})


def together(where: str, *, writers: int, readers: int, seconds: float) -> bool:
    """Many writers and readers at once; returns whether all is well."""
    site = f"stress-{uuid.uuid4().hex}" if "://" in where else ""
    journal = Journal.open(where, site=site)
    running = [run("write", where, site, seconds) for _ in range(writers)]
    looking = [run("read", where, site, seconds) for _ in range(readers)]
    outs = [rows(p.communicate()[0]) for p in running]
    reads = [row for p in looking for row in rows(p.communicate()[0])]
    fine = all(p.returncode == 0 for p in [*running, *looking])
    said = {(n, digest) for out in outs for n, digest, _ in out}
    count, lost, found = sum(map(len, outs)), missing(journal, said), verify(journal)
    waits = sorted(took for out in outs for *_, took in out)
    print(
        f"{writers} writers, {readers} readers, {seconds:g} s: {count} acknowledged, {count - len(said)} twice, "
        f"{lost} lost, {len(found)} findings, processes fine: {fine}; an append took "
        f"{1000 * statistics.median(waits):.1f} ms median, {1000 * waits[-1]:.0f} ms at most; fewest by one writer "
        f"{min(map(len, outs))}; slowest of {len(reads)} readings {max((r[2] for r in reads), default=0):.2f} s"
    )
    return fine and count > 0 and not lost and not found and count == len(said)


def killed(where: str, *, kills: int) -> bool:
    """Writers killed at random moments; returns whether all that was acknowledged is there after each."""
    site = f"kill-{uuid.uuid4().hex}" if "://" in where else ""
    journal, rng = Journal.open(where, site=site), random.Random(7)
    said: set[tuple[int, str]] = set()
    lost = 0
    for _ in range(kills):
        writer = run("write", where, site, 60.0)
        assert writer.stdout is not None
        first = writer.stdout.readline()
        time.sleep(rng.uniform(0.0, 0.06))
        os.kill(writer.pid, signal.SIGKILL)
        said |= {(n, digest) for n, digest, _ in rows(first + writer.stdout.read())}
        writer.wait()
        opened = Journal.open(where, site=site)
        lost += missing(opened, said)
        opened.close()
    found = verify(journal)
    total = len(journal.entries())
    print(f"{kills} kills: {len(said)} acknowledged of {total} written, {lost} lost, {len(found)} findings")
    return not lost and not found and len(said) >= kills


def main() -> int:
    """Run both parts, or be one of their processes."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--writers", type=int, default=12)
    parser.add_argument("--readers", type=int, default=2)
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--database", default="")
    parser.add_argument("--site", default="")
    parser.add_argument("--as", dest="role", choices=("write", "read"))
    asked = parser.parse_args()
    if asked.role:
        (write if asked.role == "write" else read)(asked.database, asked.site, asked.seconds)
        return 0
    with tempfile.TemporaryDirectory() as folder:
        many = asked.database or str(Path(folder) / "many.journal.db")
        well = together(many, writers=asked.writers, readers=asked.readers, seconds=asked.seconds)
        well &= killed(asked.database or str(Path(folder) / "kill.journal.db"), kills=asked.kills)
    return 0 if well else 1


if __name__ == "__main__":
    sys.exit(main())
