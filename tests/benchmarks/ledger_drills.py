"""Drills for the journal: writers killed, servers that crash and freeze, a full or read-only disk, a file replaced.

    python -m tests.benchmarks.ledger_drills [DRILL ...] [--kills 500] [--crashes 100] [--writers 4] [--seed 1]

Drills: kills, crashes, frozen (need PostgreSQL's initdb), full, read-only (need root), replaced; all when none is
named. Each prints one line: what was acknowledged, how much of it is lost, and how much was told wrongly. Exit
code 1 when anything acknowledged is lost, or anything that was called not written is there.
"""

from __future__ import annotations

import argparse
import os
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path
from random import Random

from scheduler.errors import BadInput
from scheduler.ledger.store import Journal
from scheduler.ledger.verify import verify
from tests.benchmarks.drill_writers import Told, Writer
from tests.journals import filled, started

NOBODY = 65534


def kills(folder: Path, rng: Random, *, count: int) -> bool:
    """Kill a writer to a file at random moments; look after each."""
    where = folder / "kills.db"
    Journal.open(where).close()
    told, lost, wrong = Told(), 0, 0
    for _ in range(count):
        writer = Writer(str(where), "")
        writer.first_word()
        time.sleep(rng.uniform(0.0, 0.03))
        told.add(writer.end())
        with closing(Journal.open(where)) as journal:
            lost, wrong = told.judged(journal.entries())
            if lost or wrong:
                break
    return _report(f"{count} SIGKILLs, SQLite", told, Journal.open(where))


@contextmanager
def postgresql() -> Iterator[Server]:
    """Give a PostgreSQL server of our own in a temporary folder."""
    tools = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"))
    if not tools:
        raise SystemExit("This drill needs PostgreSQL's initdb under /usr/lib/postgresql.")
    folder = Path(tempfile.mkdtemp(prefix="pg.", dir="/tmp"))  # a socket's path may have 107 letters
    server = Server(folder, tools[-1].parent)
    try:
        server.make()
        yield server
    finally:
        server.stop()
        shutil.rmtree(folder, ignore_errors=True)


class Server:
    """A PostgreSQL server of our own."""

    def __init__(self, folder: Path, tools: Path) -> None:
        self.folder, self.tools = folder, tools
        self.where = f"postgresql+psycopg://tester@/postgres?host={folder}"

    def _run(self, *words: str) -> None:
        as_user = ["runuser", "-u", "postgres", "--"] if os.getuid() == 0 else []
        subprocess.run([*as_user, str(self.tools / words[0]), *words[1:]], check=True, stdout=subprocess.DEVNULL)

    def make(self) -> None:
        if os.getuid() == 0:
            shutil.chown(self.folder, "postgres")
        self._run("initdb", "-D", f"{self.folder}/data", "-U", "tester", "-A", "trust")
        self.start()

    def start(self, tries: int = 1) -> None:
        options = f"-k {self.folder} -c listen_addresses='' -c restart_after_crash=on"
        words = ("-D", f"{self.folder}/data", "-o", options, "-l", f"{self.folder}/log", "-w", "-t", "300", "start")
        while True:
            tries -= 1
            try:
                return self._run("pg_ctl", *words)
            except subprocess.CalledProcessError:  # what was killed may still hold its shared memory
                if not tries:
                    raise
            time.sleep(0.5)

    def stop(self) -> None:
        with suppress(subprocess.CalledProcessError):
            self._run("pg_ctl", "-D", f"{self.folder}/data", "-m", "immediate", "stop")

    def pids(self) -> list[int]:
        """Return its processes, the first one first."""
        main = int((self.folder / "data" / "postmaster.pid").read_text().split()[0])
        asked = ["ps", "-o", "pid=", "--ppid", str(main)]
        children = subprocess.run(asked, capture_output=True, text=True, check=False).stdout
        return [main, *map(int, children.split())]

    def kill(self, rng: Random) -> None:
        """Kill every process of it at once, or one of those that serve, which it takes for a crash of all."""
        pids = self.pids()
        whole = rng.random() < 0.5 or len(pids) < 8
        for pid in pids if whole else [pids[-1]]:
            with suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        if not whole:
            return
        while any(Path(f"/proc/{pid}").exists() and _runs(pid) for pid in pids):
            time.sleep(0.01)
        for left in (self.folder / "data" / "postmaster.pid", *self.folder.glob(".s.PGSQL.*")):
            left.unlink(missing_ok=True)
        self.start(tries=20)

    def freeze(self, how: int) -> None:
        """Stop every process of it, or let them go on."""
        for pid in self.pids():
            with suppress(ProcessLookupError):
                os.kill(pid, how)


def _runs(pid: int) -> bool:
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def _reachable(where: str, site: str, seconds: float = 90.0) -> Journal:
    end = time.monotonic() + seconds
    while True:
        try:
            return Journal.open(where, site=site)
        except BadInput:
            if time.monotonic() > end:
                raise
            time.sleep(0.1)


def crashes(rng: Random, *, count: int, writers: int, settle: float = 20.0) -> bool:
    """Crash a database server again and again under several writers."""
    with postgresql() as server:
        Journal.open(server.where, site="drill").close()
        told = Told()
        running = [Writer(server.where, "drill") for _ in range(writers)]
        for _ in range(count):
            time.sleep(rng.uniform(0.05, 0.4))
            server.kill(rng)
            _reachable(server.where, "drill").close()
        time.sleep(settle)  # whoever still looks may come to its end
        for writer in running:
            told.add(writer.end(signal.SIGTERM))
        what = f"{count} server crashes, {writers} writers, PostgreSQL"
        return _report(what, told, _reachable(server.where, "drill"))


def frozen(rng: Random, *, count: int, writers: int) -> bool:
    """Freeze a database server for longer than anybody waits; every writer must come back, with the truth."""
    with postgresql() as server:
        Journal.open(server.where, site="drill").close()
        told, slowest, silent = Told(), 0.0, 0
        for _ in range(count):
            running = [Writer(server.where, "drill") for _ in range(writers)]
            for writer in running:
                writer.first_word()
            time.sleep(rng.uniform(0.0, 0.2))
            server.freeze(signal.SIGSTOP)
            before = [len(w.heard()) for w in running]
            begun = time.monotonic()
            waiting = set(range(writers))
            while waiting and time.monotonic() - begun < 120:
                time.sleep(0.1)
                waiting -= {k for k in waiting if len(running[k].heard()) > before[k]}
            slowest, silent = max(slowest, time.monotonic() - begun), silent + len(waiting)
            server.freeze(signal.SIGCONT)
            time.sleep(1.0)
            for writer in running:
                told.add(writer.end(signal.SIGTERM))
        print(f"Frozen: the last writer was told after {slowest:.0f} s at most; {silent} never were")
        good = _report(f"{count} freezes, {writers} writers, PostgreSQL", told, _reachable(server.where, "drill"))
        return good and not silent


@contextmanager
def small_disk(kilobytes: int) -> Iterator[Path]:
    """Give a file system of its own of so many kilobytes."""
    folder = Path(tempfile.mkdtemp(prefix="disk."))
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", folder], check=True)
    try:
        yield folder
    finally:
        subprocess.run(["umount", "-l", folder], check=False)
        folder.rmdir()


def full(rng: Random, *, count: int) -> bool:
    """Fill the disk under a writer, and make room again."""
    told, good = Told(), True
    for _ in range(count):
        with small_disk(rng.randrange(400, 900)) as disk:
            where = disk / "full.db"
            filled(Journal.open(where), 2).close()
            writer = Writer(str(where), "")
            end = time.monotonic() + 60
            while writer.heard().count("\nrefused") + writer.heard().count("\nno ") < 3 and time.monotonic() < end:
                time.sleep(0.02)
            told = Told()
            told.add(writer.end(signal.SIGTERM))
            subprocess.run(["mount", "-o", "remount,size=20m", disk], check=True)
            journal = Journal.open(where)
            journal.append(started(1), by="afterwards")
            good &= _report("Full disk, SQLite", told, journal)
            journal.close()
    return good


def read_only(rng: Random, *, count: int) -> bool:
    """Make the disk read-only under a writer, and writable again; then a folder in which nobody may write."""
    good = True
    for _ in range(count):
        with small_disk(20_000) as disk:
            where = disk / "ro.db"
            Journal.open(where).close()
            writer = Writer(str(where), "")
            writer.first_word()
            time.sleep(rng.uniform(0.0, 0.1))
            told = Told()
            # A file that is open for writing keeps a disk writable, so the writer is gone for that moment.
            told.add(writer.end())
            subprocess.run(["mount", "-o", "remount,ro", disk], check=True)
            second = Writer(str(where), "")
            second.first_word()
            time.sleep(0.3)
            told.add(second.end(signal.SIGTERM))
            subprocess.run(["mount", "-o", "remount,rw", disk], check=True)
            good &= _report("Read-only disk, SQLite", told, Journal.open(where))
    folder = Path(tempfile.mkdtemp(prefix="closed."))
    filled(Journal.open(folder / "x.db"), 3).close()
    folder.chmod(0o555)
    (folder / "x.db").chmod(0o444)
    writer, told = Writer(str(folder / "x.db"), "", user=NOBODY), Told()
    writer.first_word()
    told.add(writer.end(signal.SIGTERM))
    good &= _report("A folder nobody may write in, SQLite", told, Journal.open(folder / "x.db"))
    shutil.rmtree(folder)
    return good and not told.acknowledged


def replaced(folder: Path, rng: Random, *, count: int) -> bool:
    """Replace the file under a writer by an older copy, with what SQLite keeps beside it or without.

    Nothing is acknowledged from then on that does not stand in the new file.
    """
    lost = wrong = refused = went_on = 0
    for n in range(count):
        where, copy = folder / f"replaced{n}.db", folder / f"copy{n}.db"
        filled(Journal.open(where), 3).close()
        shutil.copy(where, copy)
        writer = Writer(str(where), "")
        writer.first_word()
        time.sleep(rng.uniform(0.0, 0.1))
        os.kill(writer.pid, signal.SIGSTOP)
        before = _all_heard(writer)
        os.replace(copy, where)
        if rng.random() < 0.7:
            for tail in ("-wal", "-shm"):
                Path(f"{where}{tail}").unlink(missing_ok=True)
        os.kill(writer.pid, signal.SIGCONT)
        time.sleep(0.3)
        told = Told()
        told.add(writer.end(signal.SIGTERM)[before:])
        with closing(Journal.open(where)) as journal:
            one, two = told.judged(journal.entries())
        lost, wrong = lost + one, wrong + two
        refused, went_on = refused + bool(told.refused or told.denied), went_on + bool(told.acknowledged)
    print(
        f"{count} files replaced in use, SQLite: {lost} lost, {wrong} told wrongly; {refused} writers were refused, "
        f"{went_on} went on in the new file",
        flush=True,
    )
    return not lost and not wrong


def _all_heard(writer: Writer) -> int:
    """Wait until nothing more comes from a stopped writer, and return how much it said."""
    heard, more = -1, len(writer.heard())
    while heard != more:
        time.sleep(0.1)
        heard, more = more, len(writer.heard())
    return more


def _report(what: str, told: Told, journal: Journal) -> bool:
    with closing(journal):
        entries, found = journal.entries(), verify(journal)
    lost, wrong = told.judged(entries)
    print(
        f"{what}: {len(told.acknowledged)} acknowledged of {len(entries)} written, {lost} lost; "
        f"{len(told.denied)} called not written, {wrong} of them there; {len(told.unknown)} called unknown; "
        f"{told.refused} refused; {len(found)} findings",
        flush=True,
    )
    return not lost and not wrong and not found


def main() -> int:
    """Run the drills that are named."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("drill", nargs="*")
    parser.add_argument("--kills", type=int, default=500)
    parser.add_argument("--crashes", type=int, default=100)
    parser.add_argument("--count", type=int, default=20, help="of every other drill")
    parser.add_argument("--writers", type=int, default=4)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    rng = Random(asked.seed)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        drills: dict[str, Callable[[], bool]] = {
            "kills": lambda: kills(folder, rng, count=asked.kills),
            "crashes": lambda: crashes(rng, count=asked.crashes, writers=asked.writers),
            "frozen": lambda: frozen(rng, count=max(1, asked.count // 10), writers=asked.writers),
            "full": lambda: full(rng, count=asked.count),
            "read-only": lambda: read_only(rng, count=asked.count),
            "replaced": lambda: replaced(folder, rng, count=asked.count),
        }
        well = [drills[drill]() for drill in asked.drill or drills]
    return 0 if all(well) else 1


if __name__ == "__main__":
    sys.exit(main())
