"""Re-plans in a worker thread of their own, so that a delay does not wait for the search of a first plan."""

from __future__ import annotations

import threading
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path

import scheduler
from app.answer import Answer
from app.jobs import Job
from scheduler import Case, Options
from scheduler.ledger import Entry, Event
from scheduler.plan import Plan
from scheduler.replan import Replanning

KEPT = 16
ASKED = "replan asked"
"""Where a session keeps which re-plan it looks at."""
Key = tuple[Path, str, str, datetime, tuple[Event, ...]]
"""The site file, its content, the last entry of its journal, the moment, and what is only supposed."""


@dataclass
class Replan(Job):
    """One re-plan on its way: what the journal said, at which moment, and what came of it."""

    before: Answer | None = None
    entries: tuple[Entry, ...] = ()
    as_of: datetime | None = None
    supposing: tuple[Event, ...] = ()
    result: Replanning | None = None
    pictures: dict[int, Answer] = field(default_factory=dict)
    """Each alternative as a plan to look at, by its place; made when it is first looked at."""


class Replans:
    """Every re-plan of this server; the same question is worked out once."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="replan")
        self._asked: dict[Key, Replan] = {}
        self._lock = threading.Lock()

    def asked(self, key: Key) -> Replan | None:
        """Return the re-plan of a question, if it was asked."""
        return self._asked.get(key)

    def ask(self, key: Key, case: Case, entries: tuple[Entry, ...], before: Answer) -> Replan:
        """Start a re-plan, once more if an earlier one was stopped or failed.

        The same asked again a minute later, while it is worked out, is the same question.
        """
        with self._lock:
            known = self._asked.get(key) or next((j for k, j in self._asked.items() if _goes_on(k, j, key)), None)
            if known is not None and not (known.stopped or known.failure):
                self._asked[key] = known
                return known
            job = Replan(case, Options(), before=before, entries=entries, as_of=key[3], supposing=key[4])
            job.future = self._pool.submit(_work, job, before.plan)
            self._asked[key] = job
            while len(self._asked) > KEPT:
                self._asked.pop(next(iter(self._asked))).stop.set()
            return job


def _goes_on(key: Key, job: Replan, asked: Key) -> bool:
    same = (key[:3], key[4]) == (asked[:3], asked[4]) and timedelta(0) <= asked[3] - key[3] <= timedelta(minutes=1)
    return same and job.result is None and not (job.stopped or job.failure)


def _work(job: Replan, before: Plan) -> None:
    assert job.as_of is not None
    job.begun = time.monotonic()
    job.result = scheduler.replan(
        job.case,
        job.entries,
        job.as_of,
        before=before,
        supposing=job.supposing,
        progress=job.progress.append,
        stop=job.stop,
    )
    job.settled = True


@cache
def replans() -> Replans:
    """The one registry of this server."""
    return Replans()
